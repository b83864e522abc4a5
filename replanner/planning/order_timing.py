"""The best timing of one order of legs, and the one told when several are as good.

Of plans of equal value with the same order the one told finishes earliest; then, from the end of
the day backwards, every leg, connector and the leaving is as late as that allows (a rider waits at
home, not on the road), and the way listed first is taken.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, Move, WayArrays
from replanner.planning.exact_prices import Values
from replanner.planning.problem import Visit

Profile = Values
"""Best value of having ridden what has been, arriving at exit a in slot t; shape (exits, slots)."""


@dataclass(frozen=True, slots=True)
class TimedOrder:
    """An order of legs with its best timing; value in units, slots as in the problem."""

    value: float
    leave_slot: int
    visits: tuple[Visit, ...]
    finish_slot: int


@dataclass(frozen=True, slots=True)
class At:
    """Having arrived at an exit in a slot."""

    exit: int
    slot: int


@dataclass(frozen=True, slots=True)
class Closed:
    """The best end of a day: its value, its slot, and where the last leg ended."""

    value: float
    finish: int
    left: At


@dataclass(frozen=True, slots=True)
class Begun:
    """A day begun.

    Parameters
    ----------
    ridden : int
        The legs ridden, as a mask.
    profile : ndarray of float, shape (exits, slots)
        Best value by slot of arriving at an exit. [units]
    exits : tuple of int
        The exits one can be at.
    ready : ndarray of float, shape (exits, slots)
        Best value by slot of leaving an exit, waits there done. [units]
    """

    ridden: int
    profile: Profile
    exits: tuple[int, ...]
    ready: Values

    @classmethod
    def of(cls, arrays: DayArrays, ridden: int, profile: Profile) -> "Begun":
        """Go on from a profile."""
        exits = tuple(np.flatnonzero(profile.max(axis=1) > IMPOSSIBLE).tolist())
        ready = profile.copy()
        for a in exits:
            if arrays.exit_waits[a]:
                ready[a] = arrays.waited_since(profile[a])
        return cls(ridden, profile, exits, ready)

    @classmethod
    def at_start(cls, arrays: DayArrays) -> "Begun":
        """Nothing ridden yet."""
        return cls.of(arrays, 0, profile_at_start(arrays))


def profile_at_start(arrays: DayArrays) -> Profile:
    """Nothing ridden: at the start, leaving is free to choose."""
    profile = np.full((len(arrays.exits), arrays.slots), IMPOSSIBLE)
    profile[0, : arrays.latest + 1] = 0.0
    return profile


def ride_next(arrays: DayArrays, begun: Begun, leg: int) -> Begun:
    """Ride `leg` next; all is impossible if what is ridden already forbids it."""
    after = np.full_like(begun.profile, IMPOSSIBLE)
    if not begun.ridden & arrays.closed_by[leg]:
        price = _price_of_order(arrays, begun, leg)
        for way in arrays.ways:
            if way.leg == leg:
                riding = _ready_to_ride(arrays, begun, way.entry) - price
                np.maximum(after[way.exit], arriving(way.ride, riding), out=after[way.exit])
    return Begun.of(arrays, begun.ridden | 1 << leg, after)


def _price_of_order(arrays: DayArrays, begun: Begun, leg: int) -> float:
    return arrays.order_cost * (begun.ridden & arrays.own_after[leg]).bit_count()


def close_day(arrays: DayArrays, begun: Begun) -> Closed | None:
    """End the day after what has been ridden; None if the end can't be reached."""
    closed = [arriving(arrays.closings[a], begun.ready[a]) for a in begun.exits]
    value = max((float(one.max()) for one in closed), default=IMPOSSIBLE)
    if value == IMPOSSIBLE:
        return None
    finish = min(int(np.argmax(one == value)) for one in closed if value in one)
    left = _latest_left(arrays, arrays.closings, begun, finish, value)
    return Closed(value, finish, left)


def arriving(move: Move, values: Values) -> Values:
    """Values by slot of leaving (last axis), brought to the slot of arriving, the best of each."""
    result = np.full_like(values, IMPOSSIBLE)
    for run in move.runs:
        part = result[..., run.arriving]
        np.maximum(part, values[..., run.leaving] + move.worth[run.leaving], out=part)
    return result


def time_order(arrays: DayArrays, order: Sequence[int]) -> TimedOrder | None:
    """Time one order of legs; None if it can't be ridden.

    Whether all musts are among them is not asked.
    """
    if arrays.slots == 0 or arrays.latest < 0:
        return None
    days = [Begun.at_start(arrays)]
    for leg in order:
        days.append(ride_next(arrays, days[-1], leg))
    closed = close_day(arrays, days[-1])
    if closed is None:
        return None
    here = closed.left
    visits: list[Visit] = []
    for before, leg, after in zip(days[-2::-1], order[::-1], days[:0:-1], strict=True):
        value = float(after.profile[here.exit, here.slot])
        visit, here = step_back(arrays, before, leg, here, value)
        visits.append(visit)
    return TimedOrder(
        closed.value,
        here.slot + arrays.offset,
        tuple(reversed(visits)),
        closed.finish + arrays.offset,
    )


def _arrived(arrays: DayArrays, begun: Begun, entry: int) -> Values:
    """Value of arriving at an entry by slot."""
    best = np.full(arrays.slots, IMPOSSIBLE)
    for a in begun.exits:
        np.maximum(best, arriving(arrays.roads[a][entry], begun.ready[a]), out=best)
    return best


def _ready_to_ride(arrays: DayArrays, begun: Begun, entry: int) -> Values:
    """Value of setting out on a leg at an entry by slot, waits there done."""
    arrived = _arrived(arrays, begun, entry)
    return arrays.waited_since(arrived) if arrays.entry_waits[entry] else arrived


def step_back(
    arrays: DayArrays, before: Begun, leg: int, here: At, value: float
) -> tuple[Visit, At]:
    """Tell how the leg was ridden to be here with this value, and where from."""
    price = _price_of_order(arrays, before, leg)
    best: tuple[int, WayArrays] | None = None
    for way in arrays.ways:
        if way.leg == leg and way.exit == here.exit:
            riding = _ready_to_ride(arrays, before, way.entry) - price
            start = _latest_source(way.ride, riding, here.slot, value)
            if start is not None and (best is None or start > best[0]):
                best = (start, way)
    if best is None:
        raise AssertionError("a profile holds a value that nothing leads to")
    start, way = best
    arrived = _arrived(arrays, before, way.entry)
    if arrays.entry_waits[way.entry]:
        came = _latest_before_waiting(arrays, arrived, start)
    else:
        came = start
    roads = tuple(arrays.roads[a][way.entry] for a in range(len(arrays.exits)))
    left = _latest_left(arrays, roads, before, came, float(arrived[came]))
    return Visit(leg, way.way, start + arrays.offset), left


def _latest_source(move: Move, values: Values, slot: int, target: float) -> int | None:
    """Latest slot of leaving that arrives in `slot` with the value `target`."""
    found = [
        leaving
        for run in move.runs
        if run.first <= (leaving := slot - run.shift) < run.stop
        and values[leaving] + move.worth[leaving] == target
    ]
    return max(found, default=None)


def _latest_left(
    arrays: DayArrays, moves: tuple[Move, ...], begun: Begun, slot: int, value: float
) -> At:
    """Find the exit left as late as can be to arrive in `slot` with `value`.

    Tells when that exit was reached, again as late as the value allows.
    """
    found = [
        (leaving, -a)
        for a in begun.exits
        if (leaving := _latest_source(moves[a], begun.ready[a], slot, value)) is not None
    ]
    leaving, minus_exit = max(found)
    if not arrays.exit_waits[-minus_exit]:
        return At(-minus_exit, leaving)
    reached = _latest_before_waiting(arrays, begun.profile[-minus_exit], leaving)
    return At(-minus_exit, reached)


def _latest_before_waiting(arrays: DayArrays, arrived: Values, slot: int) -> int:
    """Latest slot of arriving that, waits paid, gives the best value in `slot`."""
    waited = arrived[: slot + 1] - arrays.wait * np.arange(slot, -1, -1)
    return int(np.flatnonzero(waited == waited.max())[-1])
