"""The day problem made ready for the searches: cropped to its usable slots, prices exact.

Prices are whole numbers of the units of `exact_prices`. Slots are counted from `earliest` and end
with the last slot of finishing; whatever would end later is left out here, so no later step checks
it.

Something that takes time (a connector, riding a leg) is kept as `Run`s: stretches of slots of
leaving that take equally long. A day has few of them, and each is one slice in numpy.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from replanner.planning.exact_prices import Units, Values
from replanner.planning.problem import NEVER, DayProblem, LegWay, Slots

IMPOSSIBLE = -np.inf

SetsOfLegs = NDArray[np.int64]
"""Sets of legs as bit masks."""


@dataclass(frozen=True, slots=True)
class Run:
    """Slots of leaving `first` to `stop` - 1 that all arrive `shift` slots later."""

    first: int
    stop: int
    shift: int

    @property
    def leaving(self) -> slice:
        """The slots of leaving."""
        return slice(self.first, self.stop)

    @property
    def arriving(self) -> slice:
        """The slots of arriving."""
        return slice(self.first + self.shift, self.stop + self.shift)


@dataclass(frozen=True, slots=True)
class Move:
    """Something that takes time and is worth something.

    Parameters
    ----------
    runs : tuple of Run
        When it may be left and how long it takes; nothing beyond the last slot.
    worth : ndarray of float, shape (T,)
        Worth by slot of leaving, -inf outside the runs; a price is negative. [units]
    """

    runs: tuple[Run, ...]
    worth: Values


@dataclass(frozen=True, slots=True)
class WayArrays:
    """One way of riding a leg; `entry` and `exit` index `DayArrays.entries` and `.exits`."""

    leg: int
    way: int
    entry: int
    exit: int
    ride: Move


@dataclass(frozen=True, slots=True, kw_only=True)
class DayArrays:
    """What the searches work on.

    Parameters
    ----------
    legs : int
        Number of legs; a set of legs is a bit mask of them.
    offset, slots : int
        First slot of the problem that counts, and how many count (T); no day if there are none.
    units : Units
        What values are counted in.
    latest : int
        Last slot of leaving, from `offset`.
    wait : float
        Price of waiting a slot. [units]
    exits, entries : tuple of int
        Places where a connector can begin (the start first) and where a leg can begin.
    exit_waits, entry_waits : tuple of bool
        Whether one can wait there.
    roads : tuple of tuple of Move
        Connector from exit to entry; nothing to do where they are the same place.
    closings : tuple of Move
        Connector from an exit to the end, late price included.
    ways : tuple of WayArrays
    musts : int
        Mask of the legs that must be ridden.
    exclusive : tuple of int
        Masks of which at most one leg is ridden.
    exactly : tuple of int
        Masks of which exactly one leg is ridden.
    first_of : tuple of int
        For each leg the legs that come before it if both are ridden.
    closed_by : tuple of int
        For each leg the legs after which it can't be ridden: itself, those it excludes, and those
        it should have come before.
    own_before, own_after : tuple of int
        For each leg the legs before and after it in the rider's own order.
    order_cost : float
        Price of each pair against the own order. [units]
    """

    legs: int
    offset: int
    slots: int
    units: Units
    latest: int
    wait: float
    exits: tuple[int, ...]
    entries: tuple[int, ...]
    exit_waits: tuple[bool, ...]
    entry_waits: tuple[bool, ...]
    roads: tuple[tuple[Move, ...], ...]
    closings: tuple[Move, ...]
    ways: tuple[WayArrays, ...]
    musts: int
    exclusive: tuple[int, ...]
    exactly: tuple[int, ...]
    first_of: tuple[int, ...]
    closed_by: tuple[int, ...]
    own_before: tuple[int, ...]
    own_after: tuple[int, ...]
    order_cost: float

    @property
    def possible(self) -> bool:
        """Whether any slot of leaving and of finishing is left."""
        return self.slots > 0 and self.latest >= 0

    @property
    def rideable(self) -> int:
        """How many legs have a way of riding them."""
        return len({way.leg for way in self.ways})

    def waited_until(self, values: Values) -> Values:
        """Allow waiting before leaving: value by slot of being there, first axis slots."""
        price = self._price_of_slots(values.ndim)
        later = np.maximum.accumulate((values - price)[::-1], axis=0)[::-1]
        return np.asarray(later + price)

    def waited_since(self, values: Values) -> Values:
        """Allow waiting after arriving: value by slot of going on, last axis slots."""
        price = self._price_of_slots(1)
        return np.asarray(np.maximum.accumulate(values + price, axis=-1) - price)

    def _price_of_slots(self, dimensions: int) -> Values:
        price = np.arange(self.slots, dtype=np.float64) * self.wait
        return price.reshape((-1,) + (1,) * (dimensions - 1))


def mask_of(legs: tuple[int, ...] | frozenset[int]) -> int:
    """Bit mask of a set of legs."""
    mask = 0
    for leg in legs:
        mask |= 1 << leg
    return mask


def day_arrays(problem: DayProblem) -> DayArrays:
    """Make a day problem ready for the searches.

    Returns
    -------
    DayArrays

    Raises
    ------
    ValueError
        If a price is NaN: an unknown worth must be priced before the search.
    """
    offset = problem.earliest
    allowed = np.flatnonzero(np.isfinite(problem.late[: problem.by + 1]))
    last = int(allowed[-1]) if allowed.size else -1
    window = slice(offset, max(offset, last + 1))
    slots = window.stop - window.start
    units = Units.of(problem, slots)
    late = units.counted(problem.late[window]) + units.later * np.arange(slots)
    exits = _places([problem.start_place], [w.end for leg in problem.legs for w in leg.ways])
    entries = _places([], [w.start for leg in problem.legs for w in leg.ways])
    order = problem.own_order
    own_before = [0] * len(problem.legs)
    own_after = [0] * len(problem.legs)
    for position, leg in enumerate(order):
        own_before[leg] = mask_of(order[:position])
        own_after[leg] = mask_of(order[position + 1 :])
    exclusive = tuple(mask_of(group) for group in problem.at_most_one + problem.exactly_one)
    return DayArrays(
        legs=len(problem.legs),
        offset=offset,
        slots=slots,
        units=units,
        latest=min(problem.latest - offset, slots - 1),
        wait=float(units.counted(problem.wait_cost_per_slot)),
        exits=exits,
        entries=entries,
        exit_waits=tuple(place not in problem.no_wait for place in exits),
        entry_waits=tuple(place not in problem.no_wait for place in entries),
        roads=tuple(tuple(_road(problem, window, units, a, e) for e in entries) for a in exits),
        closings=tuple(
            _priced_late(_road(problem, window, units, a, problem.end_place), late) for a in exits
        ),
        ways=tuple(
            WayArrays(
                j, m, entries.index(way.start), exits.index(way.end), _ride(way, window, units)
            )
            for j, leg in enumerate(problem.legs)
            for m, way in enumerate(leg.ways)
        ),
        musts=mask_of(tuple(j for j, leg in enumerate(problem.legs) if leg.must)),
        exclusive=exclusive,
        exactly=tuple(mask_of(group) for group in problem.exactly_one),
        first_of=tuple(
            mask_of(tuple(a for a, b in problem.before if b == j)) for j in range(len(problem.legs))
        ),
        closed_by=tuple(_closed_by(problem, j, exclusive) for j in range(len(problem.legs))),
        own_before=tuple(own_before),
        own_after=tuple(own_after),
        order_cost=float(units.counted(problem.order_cost)),
    )


def _places(first: list[int], others: list[int]) -> tuple[int, ...]:
    return tuple(first + sorted(set(others) - set(first)))


def _closed_by(problem: DayProblem, leg: int, exclusive: tuple[int, ...]) -> int:
    mask = 1 << leg | mask_of(tuple(b for a, b in problem.before if a == leg))
    for group in exclusive:
        if group >> leg & 1:
            mask |= group
    return mask


def _ride(way: LegWay, window: slice, units: Units) -> Move:
    return _move(way.ride_slots[window], units.counted(way.worth[window]))


def _road(problem: DayProblem, window: slice, units: Units, a: int, b: int) -> Move:
    slots = problem.travel_slots[a, b, window]
    if a == b:
        return _move(np.zeros_like(slots), np.zeros(len(slots)))
    return _move(slots, -units.counted(problem.travel_cost[a, b, window]))


def _move(takes: Slots, worth: Values) -> Move:
    """Find the runs of equal length, without what is not allowed or ends after the last slot."""
    count = len(takes)
    leaving = np.arange(count)
    allowed = (takes != NEVER) & (leaving + takes < count) & (worth != IMPOSSIBLE)
    if np.any(~np.isfinite(worth[allowed])):
        raise ValueError("a price is not a number: price what is unknown before searching")
    shift = np.where(allowed, takes, NEVER)
    edges = np.flatnonzero(np.diff(shift)) + 1
    bounds = [0, *edges.tolist(), count] if count else []
    runs = tuple(
        Run(first, stop, int(shift[first]))
        for first, stop in pairwise(bounds)
        if shift[first] != NEVER
    )
    return Move(runs, np.where(allowed, worth, IMPOSSIBLE))


def _priced_late(road: Move, late: Values) -> Move:
    """Make the closing connector: late price by the slot of finishing, some not allowed."""
    takes = np.full(len(late), NEVER, dtype=np.int64)
    worth = np.full(len(late), IMPOSSIBLE)
    for run in road.runs:
        takes[run.leaving] = run.shift
        worth[run.leaving] = road.worth[run.leaving] - late[run.arriving]
    return _move(takes, worth)
