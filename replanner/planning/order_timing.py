"""The best timing of one order of legs, and the one told when several are as good.

Of plans of equal value with the same order the one told finishes earliest; then, from the end of
the day backwards, every leg, connector and the leaving is as late as that allows: a rider waits at
home, not on the road. Exits and ways that are as good so far are followed back together, so the
hours told do not hang on how places, levels of places and ways are numbered. Of ways with the same
hours the one listed first is ridden, from the first leg on.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from replanner.planning import fast, order_loops
from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays
from replanner.planning.days_begun import (
    Begun,
    DaysBegun,
    Profile,
    arrived_at,
    moves_of,
    price_of_order,
    ready_to_ride,
    ways_met,
)
from replanner.planning.exact_prices import Values
from replanner.planning.problem import DaySolution, Slots, Visit

One = TypeVar("One")


@dataclass(frozen=True, slots=True)
class TimedOrder:
    """An order of legs with its best timing; value in units, slots as in the problem."""

    value: float
    leave_slot: int
    visits: tuple[Visit, ...]
    finish_slot: int

    def plan(self, value: float, bound: float) -> DaySolution:
        """Give it as a plan of this value and bound. [min]."""
        return DaySolution(
            value=value,
            bound=bound,
            proven=value == bound,
            leave_slot=self.leave_slot,
            visits=self.visits,
            finish_slot=self.finish_slot,
        )


@dataclass(frozen=True, slots=True)
class At:
    """Having arrived in a slot at one of some exits, any of them as good."""

    exits: tuple[int, ...]
    slot: int


@dataclass(frozen=True, slots=True)
class Closed:
    """The best end of a day: its value, its slot, and where the last leg ended."""

    value: float
    finish: int
    left: At


@dataclass(frozen=True, slots=True)
class Move:
    """A way of riding a leg, from an exit to an exit."""

    left: int
    way: int
    to: int


@dataclass(frozen=True, slots=True)
class Back:
    """How a leg was ridden: started in a slot, by any of some moves, and where it was left for."""

    start: int
    moves: tuple[Move, ...]
    left: At


def close_day(arrays: DayArrays, begun: Begun) -> Closed | None:
    """End the day after what has been ridden; None if the end can't be reached."""
    exits = begun.exits
    arrival = arrays.closing_arrival[exits]
    values = begun.ready[exits] + arrays.closing_worth[exits]
    value = float(values.max(initial=IMPOSSIBLE))
    if value == IMPOSSIBLE:
        return None
    finish = int(arrival[values == value].min())
    roads = arrays.closing_arrival, arrays.closing_worth
    leaving, found = _latest(_left(roads, begun, finish, value))
    slot, left = _latest((_reached(arrays, begun, exit_, leaving), exit_) for exit_ in found)
    return Closed(value, finish, At(tuple(left), slot))


def time_order(
    arrays: DayArrays, order: Sequence[int], days: DaysBegun | None = None
) -> TimedOrder | None:
    """Time one order of legs; None if it can't be ridden.

    Whether all musts are among them is not asked. `days` are those of the arrays, if at hand.
    """
    if arrays.slots == 0 or arrays.latest < 0:
        return None
    if fast.available():
        return _timed_compiled(arrays, order)
    days, ridden = days or DaysBegun(arrays), tuple(order)
    begun = [days.after(ridden[:count]) for count in range(len(order) + 1)]
    closed = close_day(arrays, begun[-1])
    if closed is None:
        return None
    here, backs = closed.left, list[Back]()
    for before, leg, after in zip(begun[-2::-1], order[::-1], begun[:0:-1], strict=True):
        back = step_back(arrays, before, leg, here, after.profile)
        backs.append(back)
        here = back.left
    return TimedOrder(
        closed.value,
        here.slot + arrays.offset,
        tuple(_visits(arrays, order, backs)),
        closed.finish + arrays.offset,
    )


def _visits(arrays: DayArrays, order: Sequence[int], backs: list[Back]) -> Iterable[Visit]:
    """Ride from the start by what was found going back."""
    exit_ = 0
    for leg, back in zip(order, reversed(backs), strict=True):
        way, exit_ = min((move.way, move.to) for move in back.moves if move.left == exit_)
        yield Visit(leg, int(arrays.way_way[way]), back.start + arrays.offset)


def _timed_compiled(arrays: DayArrays, order: Sequence[int]) -> TimedOrder | None:
    prices = np.zeros(len(order))
    ridden = 0
    for i, leg in enumerate(order):
        if ridden & arrays.closed_by[leg]:
            return None
        prices[i] = arrays.order_cost * (ridden & arrays.own_after[leg]).bit_count()
        ridden |= 1 << leg
    ways, starts = np.empty(len(order), dtype=np.int64), np.empty(len(order), dtype=np.int64)
    value, leave, finish = order_loops.time_legs(
        np.array(order, dtype=np.int64),
        prices,
        (ways, starts),
        arrays.start_worth,
        (arrays.closing_arrival, arrays.closing_worth),
        *moves_of(arrays),
    )
    if value == IMPOSSIBLE:
        return None
    chosen, begun = arrays.way_way[ways].tolist(), (starts + arrays.offset).tolist()
    visits = tuple(map(Visit, order, chosen, begun))
    return TimedOrder(value, leave + arrays.offset, visits, finish + arrays.offset)


def step_back(arrays: DayArrays, before: Begun, leg: int, here: At, after: Profile) -> Back:
    """Tell how the leg was ridden to be here with what it is worth there, and where from.

    Parameters
    ----------
    before : Begun
        The day without the leg.
    here : At
        Exits to which the leg leads with the value of `after`.
    after : ndarray of float, shape (exits, slots)
        The profile of the day with the leg.
    """
    start, rides = _latest(_started(arrays, before, leg, here, after))
    entries = sorted({int(arrays.way_entry[way]) for way in rides})
    came, come_to = _latest((_came(arrays, before, entry, start), entry) for entry in entries)
    roads = [
        (leaving, (exit_, entry))
        for entry in come_to
        for leaving, exit_ in _left(
            (arrays.road_arrival[:, entry], arrays.road_worth[:, entry]),
            before,
            came,
            float(arrived_at(arrays, before, entry)[came]),
        )
    ]
    leaving, ridden = _latest(roads)
    slot, left = _latest(
        (_reached(arrays, before, exit_, leaving), (exit_, entry)) for exit_, entry in ridden
    )
    moves = tuple(
        Move(exit_, way, int(arrays.way_exit[way]))
        for exit_, entry in left
        for way in rides
        if int(arrays.way_entry[way]) == entry
    )
    return Back(start, moves, At(tuple(sorted({exit_ for exit_, _ in left})), slot))


def _started(
    arrays: DayArrays, before: Begun, leg: int, here: At, after: Profile
) -> Iterable[tuple[int, int]]:
    """Give the ways by which a leg leads here, each with the latest slot of starting."""
    price = price_of_order(arrays, before, leg)
    ways = np.flatnonzero(ways_met(arrays, before) & (arrays.way_leg == leg))
    for way, to in zip(ways.tolist(), arrays.way_exit[ways].tolist(), strict=True):
        if to not in here.exits:
            continue
        riding = ready_to_ride(arrays, before, arrays.way_entry[way]) - price
        move = arrays.ride_arrival[way], arrays.ride_worth[way]
        start = _latest_source(*move, riding, here.slot, float(after[to, here.slot]))
        if start is not None:
            yield start, way


def _latest(found: Iterable[tuple[int, One]]) -> tuple[int, list[One]]:
    """Give the latest slot, and all that is found in it."""
    all_found = list(found)
    latest = max(slot for slot, _ in all_found)
    return latest, [one for slot, one in all_found if slot == latest]


def _latest_source(
    arrival: Slots, worth: Values, values: Values, slot: int, target: float
) -> int | None:
    """Latest slot of leaving that arrives in `slot` with the value `target`."""
    found = np.flatnonzero((arrival == slot) & (values + worth == target))
    return int(found[-1]) if found.size else None


def _left(
    roads: tuple[Slots, Values], begun: Begun, slot: int, value: float
) -> Iterable[tuple[int, int]]:
    """Give the exits from which one arrives in `slot` with `value`, each with when it was left."""
    exits = begun.exits
    worth = begun.ready[exits] + roads[1][exits]
    rows, slots = np.nonzero((roads[0][exits] == slot) & (worth == value))
    latest = dict(zip(exits[rows].tolist(), slots.tolist(), strict=True))  # of each the last
    return ((leaving, exit_) for exit_, leaving in latest.items())


def _reached(arrays: DayArrays, begun: Begun, exit_: int, leaving: int) -> int:
    """Latest slot of arriving at an exit that is left in a slot as well as can be."""
    waits = bool(arrays.exit_waits[exit_])
    return _latest_before_waiting(begun.profile[exit_], leaving) if waits else leaving


def _came(arrays: DayArrays, begun: Begun, entry: int, start: int) -> int:
    """Latest slot of arriving at an entry from which riding starts as well as can be."""
    waits = bool(arrays.entry_waits[entry])
    return _latest_before_waiting(arrived_at(arrays, begun, entry), start) if waits else start


def _latest_before_waiting(values: Values, slot: int) -> int:
    """Latest slot from which waiting until `slot` gives the best there."""
    so_far = values[: slot + 1]
    return slot - int(np.argmax(so_far[::-1]))
