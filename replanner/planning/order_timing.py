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
    """A day begun: the legs ridden as a mask, and the profile after them."""

    ridden: int
    profile: Profile


def profile_at_start(arrays: DayArrays) -> Profile:
    """Nothing ridden: at the start, leaving is free to choose."""
    profile = np.full((len(arrays.exits), arrays.slots), IMPOSSIBLE)
    profile[0, : arrays.latest + 1] = 0.0
    return profile


def ride_next(arrays: DayArrays, begun: Begun, leg: int) -> Begun:
    """Ride `leg` next; all is impossible if what is ridden already forbids it."""
    after = np.full_like(begun.profile, IMPOSSIBLE)
    ridden = begun.ridden | 1 << leg
    if begun.ridden & arrays.closed_by[leg]:
        return Begun(ridden, after)
    price = _price_of_order(arrays, begun, leg)
    ready = ready_to_go(arrays, begun.profile)
    for way in arrays.ways:
        if way.leg == leg:
            riding = _ready_to_ride(arrays, ready, way.entry) - price
            np.maximum(after[way.exit], arriving(way.ride, riding), out=after[way.exit])
    return Begun(ridden, after)


def _price_of_order(arrays: DayArrays, begun: Begun, leg: int) -> float:
    return arrays.order_cost * (begun.ridden & arrays.own_after[leg]).bit_count()


def close_day(arrays: DayArrays, profile: Profile) -> Closed | None:
    """End the day after what has been ridden; None if the end can't be reached."""
    ready = ready_to_go(arrays, profile)
    closed = [arriving(move, ready[a]) for a, move in enumerate(arrays.closings)]
    value = max(float(one.max()) for one in closed)
    if value == IMPOSSIBLE:
        return None
    finish = min(int(np.argmax(one == value)) for one in closed if value in one)
    going = _latest_leaving(arrays, arrays.closings, ready, finish, value)
    return Closed(value, finish, _latest_arrival(arrays, profile, going))


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
    days = [Begun(0, profile_at_start(arrays))]
    for leg in order:
        days.append(ride_next(arrays, days[-1], leg))
    closed = close_day(arrays, days[-1].profile)
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


def ready_to_go(arrays: DayArrays, profile: Profile) -> Profile:
    """Value of leaving each exit by slot, waits there done."""
    ready = profile.copy()
    for a, waits in enumerate(arrays.exit_waits):
        if waits:
            ready[a] = arrays.waited_since(profile[a])
    return ready


def _arrived(arrays: DayArrays, ready: Profile, entry: int) -> Values:
    """Value of arriving at an entry by slot."""
    each = [arriving(arrays.roads[a][entry], ready[a]) for a in range(len(arrays.exits))]
    return np.asarray(np.max(each, axis=0))


def _ready_to_ride(arrays: DayArrays, ready: Profile, entry: int) -> Values:
    """Value of setting out on a leg at an entry by slot, waits there done."""
    arrived = _arrived(arrays, ready, entry)
    return arrays.waited_since(arrived) if arrays.entry_waits[entry] else arrived


def step_back(
    arrays: DayArrays, before: Begun, leg: int, here: At, value: float
) -> tuple[Visit, At]:
    """Tell how the leg was ridden to be here with this value, and where from."""
    price = _price_of_order(arrays, before, leg)
    ready = ready_to_go(arrays, before.profile)
    best: tuple[int, WayArrays] | None = None
    for way in arrays.ways:
        if way.leg == leg and way.exit == here.exit:
            riding = _ready_to_ride(arrays, ready, way.entry) - price
            start = _latest_source(way.ride, riding, here.slot, value)
            if start is not None and (best is None or start > best[0]):
                best = (start, way)
    if best is None:
        raise AssertionError("a profile holds a value that nothing leads to")
    start, way = best
    arrived = _arrived(arrays, ready, way.entry)
    if arrays.entry_waits[way.entry]:
        came = _latest_before_waiting(arrays, arrived, start)
    else:
        came = start
    roads = tuple(arrays.roads[a][way.entry] for a in range(len(arrays.exits)))
    going = _latest_leaving(arrays, roads, ready, came, float(arrived[came]))
    visit = Visit(leg, way.way, start + arrays.offset)
    return visit, _latest_arrival(arrays, before.profile, going)


def _latest_source(move: Move, values: Values, slot: int, target: float) -> int | None:
    """Latest slot of leaving that arrives in `slot` with the value `target`."""
    found = [
        leaving
        for run in move.runs
        if run.first <= (leaving := slot - run.shift) < run.stop
        and values[leaving] + move.worth[leaving] == target
    ]
    return max(found, default=None)


def _latest_leaving(
    arrays: DayArrays, moves: tuple[Move, ...], ready: Profile, slot: int, target: float
) -> At:
    """Exit and latest slot of leaving it that arrive in `slot` with the value `target`."""
    found = [
        (leaving, -a)
        for a in range(len(arrays.exits))
        if (leaving := _latest_source(moves[a], ready[a], slot, target)) is not None
    ]
    leaving, minus_exit = max(found)
    return At(-minus_exit, leaving)


def _latest_arrival(arrays: DayArrays, profile: Profile, going: At) -> At:
    """When the exit left in `going` was reached, as late as the value allows."""
    if not arrays.exit_waits[going.exit]:
        return going
    return At(going.exit, _latest_before_waiting(arrays, profile[going.exit], going.slot))


def _latest_before_waiting(arrays: DayArrays, arrived: Values, slot: int) -> int:
    """Latest slot of arriving that, waits paid, gives the best value in `slot`."""
    waited = arrived[: slot + 1] - arrays.wait * np.arange(slot, -1, -1)
    return int(np.flatnonzero(waited == waited.max())[-1])
