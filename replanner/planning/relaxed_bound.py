"""An upper bound on the rest of a day that remembers only some of the legs ridden.

The exact table needs every set of legs; with many legs it would not fit. Here only the legs that
matter most are remembered, the others could be ridden again and again, so the value can only be
too high: a bound. Prices of order, exclusions and precedence hold against remembered legs only,
which is too high again. The plan itself is never taken from here.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, Move, SetsOfLegs, Values, WayArrays


@dataclass(frozen=True, slots=True)
class RelaxedBound:
    """Upper bounds by slot, exit and remembered set.

    Parameters
    ----------
    remembered : tuple of int
        Legs, the first being bit 0 of a remembered set.
    to_go : ndarray of float, shape (slots + 1, exits, sets)
        Bound on the value to go. [1e-6 min]
    """

    remembered: tuple[int, ...]
    to_go: Values

    def columns(self, masks: SetsOfLegs) -> SetsOfLegs:
        """Remembered sets of sets of legs."""
        column = np.zeros_like(masks)
        for bit, leg in enumerate(self.remembered):
            column |= (masks >> leg & 1) << bit
        return column

    def after(self, exit_: int, masks: SetsOfLegs) -> Values:
        """Bound on the value to go at an exit by slot, shape (sets, slots)."""
        return np.asarray(self.to_go[:-1, exit_, self.columns(masks)].T)


@dataclass(frozen=True, slots=True)
class _Step:
    """Riding a way in a relaxed table: from which sets, to which, at what price of order."""

    way: WayArrays
    takes: NDArray[np.int64]
    before: SetsOfLegs | slice
    after: SetsOfLegs | slice
    price: Values


def legs_that_matter(arrays: DayArrays, most: int) -> tuple[int, ...]:
    """Legs to remember: those demanded or in exclusions and precedence first, then the dearest.

    Dear is worth for a slot of riding: what a day would gain by riding it again and again.
    """
    bound_legs = arrays.musts
    for group in arrays.exactly:
        bound_legs |= group
    for leg, mask in enumerate(arrays.first_of):
        if mask:
            bound_legs |= mask | 1 << leg
    gain = dict.fromkeys(sorted({way.leg for way in arrays.ways}), 0.0)
    for way in arrays.ways:
        for run in way.ride.runs:
            worth = float(way.ride.worth[run.leaving].max()) / (run.shift + 1)
            gain[way.leg] = max(gain[way.leg], worth)
    ranked = sorted(gain, key=lambda leg: (-(bound_legs >> leg & 1), -gain[leg], leg))
    return tuple(sorted(ranked[:most]))


def relaxed_bytes(arrays: DayArrays, remembered: int) -> int:
    """Memory the relaxed table takes while it is swept."""
    stations = len(arrays.exits) + len(arrays.entries)
    return (1 << remembered) * (arrays.slots + 1) * stations * 8


def relaxed_bound(arrays: DayArrays, remembered: tuple[int, ...]) -> RelaxedBound:
    """Sweep the relaxed table back from the last slot, all remembered sets at once."""
    sets = np.arange(1 << len(remembered), dtype=np.int64)
    table = RelaxedBound(
        remembered, np.full((arrays.slots + 1, len(arrays.exits), len(sets)), IMPOSSIBLE)
    )
    full = np.zeros_like(sets)
    for bit, leg in enumerate(remembered):
        full |= (sets >> bit & 1) << leg
    steps = [_step(arrays, way, remembered, full) for way in arrays.ways]
    closes = _may_close(arrays, remembered, full)
    roads = _Roads(arrays)
    at_entry = np.full((arrays.slots + 1, len(arrays.entries), len(sets)), IMPOSSIBLE)
    waits_out = np.flatnonzero(arrays.exit_waits)
    waits_in = np.flatnonzero(arrays.entry_waits)
    for t in range(arrays.slots - 1, -1, -1):
        here, entries = table.to_go[t], at_entry[t]
        here[waits_out] = table.to_go[t + 1, waits_out] - arrays.wait
        entries[waits_in] = at_entry[t + 1, waits_in] - arrays.wait
        for a, closing in enumerate(arrays.closings):
            here[a, closes] = np.maximum(here[a, closes], closing.worth[t])
        now = [step for step in steps if step.takes[t] >= 0]
        # A ride of no slots ends in this very slot: once more for each leg that could.
        for _ in range(1 + len({step.way.leg for step in now if step.takes[t] == 0})):
            for step in now:
                _ride(table.to_go, entries, step, t)
            roads.travel(here, at_entry, t)
    return table


def _ride(to_go: Values, entries: Values, step: _Step, t: int) -> None:
    way = step.way
    riding = to_go[t + step.takes[t], way.exit, step.after] + (way.ride.worth[t] - step.price)
    row = entries[way.entry]
    row[step.before] = np.maximum(row[step.before], riding)


class _Roads:
    """All connectors by slot of leaving, ready for one look a slot."""

    def __init__(self, arrays: DayArrays) -> None:
        shape = (len(arrays.exits), len(arrays.entries), arrays.slots)
        never = arrays.slots  # the row after the last slot holds nothing possible
        self.arrival = np.full(shape, never, dtype=np.int64)
        self.worth = np.zeros(shape)
        for a, roads in enumerate(arrays.roads):
            for e, road in enumerate(roads):
                for run in road.runs:
                    slots = np.arange(run.first, run.stop)
                    self.arrival[a, e, slots] = slots + run.shift
                    self.worth[a, e, slots] = road.worth[slots]
        self.entries = np.arange(len(arrays.entries))

    def travel(self, here: Values, at_entry: Values, t: int) -> None:
        for a in range(len(here)):
            going = at_entry[self.arrival[a, :, t], self.entries]
            going += self.worth[a, :, t, np.newaxis]
            if len(going):
                np.maximum(here[a], going.max(axis=0), out=here[a])


def _step(
    arrays: DayArrays, way: WayArrays, remembered: tuple[int, ...], full: SetsOfLegs
) -> _Step:
    allowed = full & arrays.closed_by[way.leg] == 0
    before = np.flatnonzero(allowed)
    bit = 1 << remembered.index(way.leg) if way.leg in remembered else 0
    price = arrays.order_cost * np.bitwise_count(full[before] & arrays.own_after[way.leg])
    if bit == 0 and allowed.all():
        return _Step(way, _takes(way.ride, arrays.slots), slice(None), slice(None), price)
    return _Step(way, _takes(way.ride, arrays.slots), before, before | bit, price)


def _takes(move: Move, slots: int) -> NDArray[np.int64]:
    takes = np.full(slots, -1, dtype=np.int64)
    for run in move.runs:
        takes[run.leaving] = run.shift
    return takes


def _may_close(
    arrays: DayArrays, remembered: tuple[int, ...], full: SetsOfLegs
) -> NDArray[np.bool_]:
    """Sets with which the day may end, as far as remembered legs tell."""
    known = sum(1 << leg for leg in remembered)
    rideable = sum({1 << way.leg for way in arrays.ways})
    musts = arrays.musts & known
    closes = full & musts == musts
    for group in arrays.exactly:
        if group & rideable & ~known == 0:
            closes &= np.bitwise_count(full & group) == 1
    return np.asarray(closes)
