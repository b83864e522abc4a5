"""An upper bound on the rest of a day that remembers only some of the legs ridden.

The exact table needs every set of legs; with many legs it would not fit. Here each place remembers
only some legs, mostly those begun nearby: arriving there forgets whether any other was ridden, so
it may be ridden again, and the value can only be too high: a bound. Prices of order, exclusions and
precedence hold against remembered legs only, which is too high again. The plan itself is never
taken from here. (Neighbourhood memory after Baldacci, R., Mingozzi, A. and Roberti, R. (2011), "New
route relaxation and pricing strategies for the vehicle routing problem", Operations Research 59,
1269-1283.)

Each leg and each group of exclusive legs has a multiplier besides: riding it costs that much and
every day that may still ride it is given that much. A day that rides it once gains or loses nothing
by that, a bound that rides it often falls; where one must be ridden the multiplier may be a reward
instead, and a bound that leaves it out falls (Lagrangian relaxation: Geoffrion, A. M. (1974),
Mathematical Programming Study 2, 82-114).
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, SetsOfLegs
from replanner.planning.exact_prices import Values

Indices = NDArray[np.int64]

CELLS_AT_ONCE = 40_000
"""Values of one slot looked up in one go: some exits at a time, to stay in the cache."""


@dataclass(frozen=True, slots=True)
class Memory:
    """Which legs each place remembers; the first of a place is bit 0 of its remembered sets.

    Parameters
    ----------
    exits, entries : tuple of tuple of int
        Legs by exit and by entry.
    bits : int
        The most legs any place remembers.
    """

    exits: tuple[tuple[int, ...], ...]
    entries: tuple[tuple[int, ...], ...]

    @property
    def bits(self) -> int:
        """Bits of a remembered set."""
        return max(map(len, self.exits + self.entries), default=0)


def legs_of(remembered: tuple[int, ...], sets: SetsOfLegs) -> SetsOfLegs:
    """Give the sets of legs of remembered sets."""
    full = np.zeros_like(sets)
    for bit, leg in enumerate(remembered):
        full |= (sets >> bit & 1) << leg
    return full


def remembered_of(remembered: tuple[int, ...], masks: SetsOfLegs) -> SetsOfLegs:
    """Give the remembered sets of sets of legs, the others forgotten."""
    sets = np.zeros_like(masks)
    for bit, leg in enumerate(remembered):
        sets |= (masks >> leg & 1) << bit
    return sets


@dataclass(frozen=True, slots=True)
class RelaxedBound:
    """Upper bounds by slot, place and remembered set.

    Parameters
    ----------
    memory : Memory
    scarce : tuple of int
        Masks of legs of which at most one is ridden, once; single legs among them.
    multipliers : ndarray of float, shape (scarce,)
        Of each of these. [units]
    to_go : ndarray of float, shape (slots + 1, exits, sets)
        Value to go, multipliers paid but not given. [units]
    at_entry : ndarray of float, shape (slots + 1, entries, sets)
        The same when arrived at an entry. [units]
    entry_set : ndarray of int, shape (exits, entries, sets)
        The set remembered at the entry of the one remembered at the exit.
    exit_set : ndarray of int, shape (ways, sets)
        The set remembered after riding a way of the one remembered before.
    paid : ndarray of float, shape (ways, sets)
        What riding it costs there, multiplier and price of order, as a negative number; -inf: not
        allowed.
    """

    memory: Memory
    scarce: tuple[int, ...]
    multipliers: Values
    to_go: Values
    at_entry: Values
    entry_set: Indices
    exit_set: Indices
    paid: Values

    def after(self, exit_: int, masks: SetsOfLegs) -> Values:
        """Bound on the value to go at an exit by slot, shape (sets, slots)."""
        column = remembered_of(self.memory.exits[exit_], masks)
        given = np.zeros(len(masks))
        for group, multiplier in zip(self.scarce, self.multipliers, strict=True):
            given += multiplier * (masks & group == 0)
        return np.asarray(self.to_go[:-1, exit_, column].T + given[:, np.newaxis])

    def of_day(self, latest: int) -> float:
        """Bound on the whole day, in units."""
        return float(self.to_go[: latest + 1, 0, 0].max() + self.multipliers.sum())


@dataclass(frozen=True, slots=True)
class RelaxedDay:
    """All moves of a day by slot, ready for sweeping with any legs remembered.

    A move that may not be left in a slot arrives in row `slots`, which holds nothing possible.

    Parameters
    ----------
    road_arrival, road_worth : ndarrays, shape (slots, exits, entries)
    ride_arrival, ride_worth : ndarrays, shape (slots, ways)
        Ways in the order of `ways`.
    closing_worth : ndarray, shape (slots, exits)
    ways : ndarray of int, shape (ways, 4)
        Leg, entry, exit, and index in `arrays.ways`, sorted by entry.
    entry_starts : ndarray of int
        Where in `ways` those of the next entry start.
    scarce : tuple of int
        Masks of legs of which at most one is ridden, once; single legs among them.
    lowest : ndarray of float, shape (scarce,)
        Lowest multiplier of each: 0, or none where one must be ridden (a reward is fair too).
    uses : ndarray of float, shape (legs, scarce)
        1 where riding the leg uses it up.
    """

    arrays: DayArrays
    road_arrival: Indices
    road_worth: Values
    ride_arrival: Indices
    ride_worth: Values
    closing_worth: Values
    ways: Indices
    entry_starts: Indices = field(init=False)
    scarce: tuple[int, ...] = field(init=False)
    lowest: Values = field(init=False)
    uses: Values = field(init=False)

    def __post_init__(self) -> None:
        starts = np.flatnonzero(np.diff(self.ways[:, 1], prepend=-1))
        object.__setattr__(self, "entry_starts", starts)
        legs = range(self.arrays.legs)
        scarce = tuple(dict.fromkeys((*(1 << leg for leg in legs), *self.arrays.exclusive)))
        demanded = {1 << leg for leg in legs if self.arrays.musts >> leg & 1}
        demanded |= set(self.arrays.exactly)
        lowest = np.array([-np.inf if group in demanded else 0.0 for group in scarce])
        object.__setattr__(self, "lowest", lowest)
        uses = np.array([[float(group >> leg & 1) for group in scarce] for leg in legs])
        object.__setattr__(self, "scarce", scarce)
        object.__setattr__(self, "uses", uses.reshape(self.arrays.legs, len(scarce)))

    @classmethod
    def of(cls, arrays: DayArrays) -> "RelaxedDay":
        """Lay out the moves of a day."""
        ways = np.array(
            sorted((w.entry, w.leg, w.exit, i) for i, w in enumerate(arrays.ways)), dtype=np.int64
        ).reshape(-1, 4)[:, [1, 0, 2, 3]]
        roads = (arrays.slots, len(arrays.exits), len(arrays.entries))
        road_arrival, road_worth = np.full(roads, arrays.slots), np.zeros(roads)
        for a, row in enumerate(arrays.roads):
            for e, road in enumerate(row):
                for run in road.runs:
                    leaving = np.arange(run.first, run.stop)
                    road_arrival[leaving, a, e] = leaving + run.shift
                    road_worth[leaving, a, e] = road.worth[leaving]
        rides = (arrays.slots, len(ways))
        ride_arrival, ride_worth = np.full(rides, arrays.slots), np.zeros(rides)
        for w, index in enumerate(ways[:, 3]):
            ride = arrays.ways[index].ride
            for run in ride.runs:
                leaving = np.arange(run.first, run.stop)
                ride_arrival[leaving, w] = leaving + run.shift
                ride_worth[leaving, w] = ride.worth[leaving]
        closing = np.array([move.worth for move in arrays.closings]).T
        return cls(arrays, road_arrival, road_worth, ride_arrival, ride_worth, closing, ways)

    def bytes_needed(self, bits: int) -> int:
        """Memory of a table remembering so many legs."""
        stations = len(self.arrays.exits) + len(self.arrays.entries) + 1
        return (1 << bits) * (self.arrays.slots + 1) * stations * 8

    def bound(self, memory: Memory, multipliers: Values) -> RelaxedBound:
        """Sweep back from the last slot, all remembered sets at once.

        Parameters
        ----------
        memory : Memory
        multipliers : ndarray of float, shape (scarce,)
            At least `lowest`. [units]
        """
        arrays = self.arrays
        sets = np.arange(1 << memory.bits, dtype=np.int64)
        at_exit = [legs_of(remembered, sets) for remembered in memory.exits]
        at_entry = [legs_of(remembered, sets) for remembered in memory.entries]
        shape = (len(self.ways), len(sets))
        table = RelaxedBound(
            memory,
            self.scarce,
            multipliers,
            np.full((arrays.slots + 1, len(arrays.exits), len(sets)), IMPOSSIBLE),
            np.full((arrays.slots + 1, len(arrays.entries), len(sets)), IMPOSSIBLE),
            np.array(
                [[remembered_of(there, full) for there in memory.entries] for full in at_exit]
            ).reshape(len(arrays.exits), -1, len(sets)),
            np.array(
                [
                    remembered_of(memory.exits[x], at_entry[e] | 1 << leg)
                    for leg, e, x, _ in self.ways.tolist()
                ]
            ).reshape(shape),
            np.array(
                [
                    _paid(arrays, float(multipliers @ self.uses[leg]), at_entry[e], leg)
                    for leg, e, _, _ in self.ways.tolist()
                ]
            ).reshape(shape),
        )
        may_close = np.array(
            [_may_close(arrays, *both) for both in zip(memory.exits, at_exit, strict=True)]
        )
        closing = np.where(may_close, 0.0, IMPOSSIBLE)
        for t in range(arrays.slots - 1, -1, -1):
            self._sweep_slot(table, closing, t)
        return table

    def _sweep_slot(self, table: RelaxedBound, closing: Values, t: int) -> None:
        here, entries = table.to_go[t], table.at_entry[t]
        _wait(here, table.to_go[t + 1], self.arrays.exit_waits, self.arrays.wait)
        _wait(entries, table.at_entry[t + 1], self.arrays.entry_waits, self.arrays.wait)
        np.maximum(here, self.closing_worth[t, :, np.newaxis] + closing, out=here)
        self._ride(table, entries, t)
        self._travel(table, here, t)
        # A ride of no slots ends in this very slot: again, at most once for each leg that has one.
        still = self.ride_arrival[t] == t
        for _ in range(len(set(self.ways[still, 0].tolist()))):
            before = here.copy()
            self._ride(table, entries, t)
            self._travel(table, here, t)
            if np.array_equal(before, here):
                break

    def _ride(self, table: RelaxedBound, entries: Values, t: int) -> None:
        if not len(self.ways):
            return
        _, exits, sets = table.to_go.shape
        row = self.ride_arrival[t] * exits + self.ways[:, 2]
        after = table.to_go.reshape(-1).take(row[:, np.newaxis] * sets + table.exit_set)
        after += self.ride_worth[t, :, np.newaxis]
        after += table.paid
        best = np.maximum.reduceat(after, self.entry_starts, axis=0)
        at = self.ways[self.entry_starts, 1]
        entries[at] = np.maximum(entries[at], best)

    def _travel(self, table: RelaxedBound, here: Values, t: int) -> None:
        _, entries, sets = table.at_entry.shape
        if not entries:
            return
        row = self.road_arrival[t] * entries + np.arange(entries)
        worth = self.road_worth[t, :, :, np.newaxis]
        flat = table.at_entry.reshape(-1)
        at_once = max(1, CELLS_AT_ONCE // (entries * sets))
        for a in range(0, len(here), at_once):
            some = slice(a, a + at_once)
            going = flat.take(row[some, :, np.newaxis] * sets + table.entry_set[some])
            going += worth[some]
            np.maximum(here[some], going.max(axis=1), out=here[some])


def _wait(now: Values, later: Values, waits: tuple[bool, ...], price: float) -> None:
    rows = np.flatnonzero(waits)
    now[rows] = later[rows] - price


def _paid(arrays: DayArrays, multiplier: float, full: SetsOfLegs, leg: int) -> Values:
    price = arrays.order_cost * np.bitwise_count(full & arrays.own_after[leg]) + multiplier
    return np.where(full & arrays.closed_by[leg] == 0, -price, IMPOSSIBLE)


def _may_close(
    arrays: DayArrays, remembered: tuple[int, ...], full: SetsOfLegs
) -> NDArray[np.bool_]:
    """Tell with which sets the day may end, as far as remembered legs tell."""
    known = sum(1 << leg for leg in remembered)
    rideable = sum({1 << way.leg for way in arrays.ways})
    musts = arrays.musts & known
    closes = full & musts == musts
    for group in arrays.exactly:
        if group & rideable & ~known == 0:
            closes &= np.bitwise_count(full & group) == 1
    return np.asarray(closes)
