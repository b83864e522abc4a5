"""The best timing of one order of legs, and the one told when several are as good.

Of plans of equal value with the same order the one told finishes earliest; then, from the end of
the day backwards, every leg, connector and the leaving is as late as that allows (a rider waits at
home, not on the road), and the way listed first is taken.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from replanner.planning import fast, order_loops
from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, Flags, Indices
from replanner.planning.exact_prices import Values
from replanner.planning.problem import DaySolution, Slots, Visit

MOST_KEPT_BYTES = 16_000_000
"""Memory of the days begun that are kept: some hundred of a day split by its tank."""

Profile = Values
"""Best value of having ridden what has been, arriving at exit a in slot t; shape (exits, slots)."""


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
    exits : ndarray of int
        The exits one can be at.
    ready : ndarray of float, shape (exits, slots)
        Best value by slot of leaving an exit, waits there done. [units]
    arrived : dict of ndarray of float, shape (slots,)
        Best value by slot of arriving at an entry, as far as it has been asked for. [units]
    """

    ridden: int
    profile: Profile
    exits: Indices
    ready: Values
    arrived: dict[int, Values] = field(default_factory=dict)

    @property
    def bytes(self) -> int:
        """Memory of the values."""
        return self.profile.nbytes + self.ready.nbytes

    @classmethod
    def of(cls, arrays: DayArrays, ridden: int, profile: Profile) -> "Begun":
        """Go on from a profile."""
        exits = np.flatnonzero(profile.max(axis=1, initial=IMPOSSIBLE) > IMPOSSIBLE)
        ready = profile.copy()
        waits = exits[arrays.exit_waits[exits]]
        ready[waits] = np.maximum.accumulate(profile[waits], axis=1)
        return cls(ridden, profile, exits, ready)

    @classmethod
    def at_start(cls, arrays: DayArrays) -> "Begun":
        """Nothing ridden yet."""
        return cls.of(arrays, 0, profile_at_start(arrays))


def profile_at_start(arrays: DayArrays) -> Profile:
    """Nothing ridden: at the start, leaving is free to choose."""
    profile = np.full((len(arrays.exits), arrays.slots), IMPOSSIBLE)
    profile[0] = arrays.start_worth
    return profile


def ride_next(arrays: DayArrays, begun: Begun, leg: int) -> Begun:
    """Ride `leg` next; all is impossible if what is ridden already forbids it."""
    after = np.full_like(begun.profile, IMPOSSIBLE)
    allowed, price = not begun.ridden & arrays.closed_by[leg], _price_of_order(arrays, begun, leg)
    if allowed and fast.available():
        after = order_loops.ride_leg(leg, price, begun.ready, *moves_of(arrays))
    elif allowed:
        ways = np.flatnonzero(_ways_met(arrays, begun) & (arrays.way_leg == leg))
        entries = arrays.way_entry[ways].tolist()
        riding = [_ready_to_ride(arrays, begun, entry) for entry in entries]
        if riding:
            moves = arrays.ride_arrival[ways], arrays.ride_worth[ways] - price
            np.maximum.at(after, arrays.way_exit[ways], arriving(*moves, np.stack(riding)))
    return Begun.of(arrays, begun.ridden | 1 << leg, after)


class DaysBegun:
    """Days begun by the legs ridden so far: whoever tells of a day asks for the same ones again."""

    def __init__(self, arrays: DayArrays) -> None:
        self.arrays = arrays
        self._days: dict[tuple[int, ...], Begun] = {}
        self._most = max(MOST_KEPT_BYTES // max(Begun.at_start(arrays).bytes, 1), arrays.legs + 1)

    def after(self, order: tuple[int, ...]) -> Begun:
        """Return the day in which these legs have been ridden, in this order."""
        if order not in self._days:
            if len(self._days) >= self._most:
                self._days.clear()
            self._days[order] = (
                ride_next(self.arrays, self.after(order[:-1]), order[-1])
                if order
                else Begun.at_start(self.arrays)
            )
        return self._days[order]


def _price_of_order(arrays: DayArrays, begun: Begun, leg: int) -> float:
    return arrays.order_cost * (begun.ridden & arrays.own_after[leg]).bit_count()


def close_day(arrays: DayArrays, begun: Begun) -> Closed | None:
    """End the day after what has been ridden; None if the end can't be reached."""
    exits = begun.exits
    arrival = arrays.closing_arrival[exits]
    values = begun.ready[exits] + arrays.closing_worth[exits]
    value = float(values.max(initial=IMPOSSIBLE))
    if value == IMPOSSIBLE:
        return None
    finish = int(arrival[values == value].min())
    moves = arrays.closing_arrival, arrays.closing_worth
    return Closed(value, finish, _latest_left(arrays, moves, begun, finish, value))


def arriving(arrival: Slots, worth: Values, values: Values) -> Values:
    """Values by slot of leaving, brought to the slot of arriving; the best of each slot.

    All of shape (slots,), or all of shape (moves, slots).
    """
    rows, width = values.size // max(values.shape[-1], 1), values.shape[-1] + 1
    result = np.full(rows * width, IMPOSSIBLE)
    into = arrival.reshape(rows, width - 1) + np.arange(rows)[:, np.newaxis] * width
    np.maximum.at(result, into.reshape(-1), (values + worth).reshape(-1))
    return result.reshape((*values.shape[:-1], width))[..., :-1]


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
    here = closed.left
    visits: list[Visit] = []
    for before, leg, after in zip(begun[-2::-1], order[::-1], begun[:0:-1], strict=True):
        value = float(after.profile[here.exit, here.slot])
        visit, here = step_back(arrays, before, leg, here, value)
        visits.append(visit)
    return TimedOrder(
        closed.value,
        here.slot + arrays.offset,
        tuple(reversed(visits)),
        closed.finish + arrays.offset,
    )


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


def moves_of(
    arrays: DayArrays,
) -> tuple[order_loops.Moves, order_loops.Ways, order_loops.Waits]:
    """Give a day's moves, ways and waits as the compiled loops take them."""
    return (
        (arrays.road_arrival, arrays.road_worth, arrays.ride_arrival, arrays.ride_worth),
        (arrays.way_leg, arrays.way_entry, arrays.way_exit),
        (arrays.exit_waits, arrays.entry_waits),
    )


def _ways_met(arrays: DayArrays, begun: Begun) -> Flags:
    """Tell which ways are come to; most of those of a split day are not."""
    return np.asarray(arrays.met[begun.exits].any(axis=0))[arrays.way_entry]


def _arrived(arrays: DayArrays, begun: Begun, entry: int) -> Values:
    """Value of arriving at an entry by slot."""
    if entry not in begun.arrived:
        exits = begun.exits[arrays.met[begun.exits, entry]]
        roads = arrays.road_arrival[exits, entry], arrays.road_worth[exits, entry]
        begun.arrived[entry] = arriving(*roads, begun.ready[exits]).max(axis=0, initial=IMPOSSIBLE)
    return begun.arrived[entry]


def _ready_to_ride(arrays: DayArrays, begun: Begun, entry: int) -> Values:
    """Value of setting out on a leg at an entry by slot, waits there done."""
    arrived = _arrived(arrays, begun, entry)
    return np.maximum.accumulate(arrived) if arrays.entry_waits[entry] else arrived


def step_back(
    arrays: DayArrays, before: Begun, leg: int, here: At, value: float
) -> tuple[Visit, At]:
    """Tell how the leg was ridden to be here with this value, and where from."""
    price = _price_of_order(arrays, before, leg)
    best: tuple[int, int] | None = None
    ways = _ways_met(arrays, before) & (arrays.way_leg == leg) & (arrays.way_exit == here.exit)
    for way in np.flatnonzero(ways).tolist():
        riding = _ready_to_ride(arrays, before, arrays.way_entry[way]) - price
        move = arrays.ride_arrival[way], arrays.ride_worth[way]
        start = _latest_source(*move, riding, here.slot, value)
        if start is not None and (best is None or start > best[0]):
            best = (start, way)
    if best is None:
        raise AssertionError("a profile holds a value that nothing leads to")
    start, way = best
    entry = arrays.way_entry[way]
    arrived = _arrived(arrays, before, entry)
    came = _latest_before_waiting(arrived, start) if arrays.entry_waits[entry] else start
    roads = arrays.road_arrival[:, entry], arrays.road_worth[:, entry]
    left = _latest_left(arrays, roads, before, came, float(arrived[came]))
    return Visit(leg, int(arrays.way_way[way]), start + arrays.offset), left


def _latest_source(
    arrival: Slots, worth: Values, values: Values, slot: int, target: float
) -> int | None:
    """Latest slot of leaving that arrives in `slot` with the value `target`."""
    found = np.flatnonzero((arrival == slot) & (values + worth == target))
    return int(found[-1]) if found.size else None


def _latest_left(
    arrays: DayArrays, moves: tuple[Slots, Values], begun: Begun, slot: int, value: float
) -> At:
    """Find the exit left as late as can be to arrive in `slot` with `value`.

    Tells when that exit was reached, again as late as the value allows.
    """
    arrival, worth = moves
    found = [
        (leaving, -a)
        for a in begun.exits.tolist()
        if (leaving := _latest_source(arrival[a], worth[a], begun.ready[a], slot, value))
        is not None
    ]
    leaving, minus_exit = max(found)
    if not arrays.exit_waits[-minus_exit]:
        return At(-minus_exit, leaving)
    return At(-minus_exit, _latest_before_waiting(begun.profile[-minus_exit], leaving))


def _latest_before_waiting(values: Values, slot: int) -> int:
    """Latest slot from which waiting until `slot` gives the best there."""
    so_far = values[: slot + 1]
    return slot - int(np.argmax(so_far[::-1]))
