"""The day problem made ready for the searches: cropped to its usable slots, prices exact.

Prices are whole numbers of the units of `exact_prices`. Slots are counted from `earliest` and end
with the last slot of finishing; whatever would end later is left out here, so no later step checks
it.

Something that takes time (a connector, riding a leg) is told by slot of leaving: when it arrives
and what it is worth. What may not be left in a slot arrives in slot T, which holds nothing
possible, and is worth -inf.

Waiting is made free: a day's waiting is its time from leaving to finishing less the time all its
moves take, so its price is put on these instead (leaving and moving are worth more by it,
finishing less).
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from replanner.planning.exact_prices import Units, Values
from replanner.planning.problem import NEVER, DayProblem, LegWay, Slots

IMPOSSIBLE = -np.inf

SetsOfLegs = NDArray[np.int64]
"""Sets of legs as bit masks."""

Indices = NDArray[np.int64]
Flags = NDArray[np.bool_]


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
    start_worth : ndarray of float, shape (T,)
        Worth of leaving the start by slot, -inf after the last allowed. [units]
    exits, entries : tuple of int
        Places where a connector can begin (the start first) and where a leg can begin.
    exit_waits, entry_waits : ndarrays of bool
        Whether one can wait there.
    road_arrival, road_worth : ndarrays, shape (exits, entries, T)
        Connector by slot of leaving: slot of arriving and worth (a price is negative); nothing to
        do where they are the same place. [units]
    met : ndarray of bool, shape (exits, entries)
        Whether there is a connector at all: in a day split into levels there is mostly none.
    closing_arrival, closing_worth : ndarrays, shape (exits, T)
        Connector from an exit to the end, late price included. [units]
    way_leg, way_way, way_entry, way_exit : ndarrays of int, shape (W,)
        The ways of riding, by leg: leg and index of the way in the problem, entry and exit as
        indices of `entries` and `exits`.
    ride_arrival, ride_worth : ndarrays, shape (W, T)
        Riding by slot of starting. [units]
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
    start_worth: Values
    exits: tuple[int, ...]
    entries: tuple[int, ...]
    exit_waits: Flags
    entry_waits: Flags
    road_arrival: Slots
    road_worth: Values
    met: Flags
    closing_arrival: Slots
    closing_worth: Values
    way_leg: Indices
    way_way: Indices
    way_entry: Indices
    way_exit: Indices
    ride_arrival: Slots
    ride_worth: Values
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
    def rideable(self) -> tuple[int, ...]:
        """The legs that have a way of riding them."""
        return tuple(sorted(set(self.way_leg.tolist())))

    def leaving(self, slot: int | None) -> "DayArrays":
        """Give the day left in one slot of the problem; None: left as it allows."""
        if slot is None:
            return self
        there = np.arange(self.slots) == slot - self.offset
        return replace(self, start_worth=np.where(there, self.start_worth, IMPOSSIBLE))

    def narrowed(self, kept: int, musts: int, exactly: tuple[int, ...]) -> "DayArrays":
        """Give the day with only the legs of mask `kept`, and with other demands."""
        ways = np.flatnonzero(kept >> self.way_leg & 1)
        if len(ways) == len(self.way_leg):
            return replace(self, musts=musts, exactly=exactly)
        return replace(
            self,
            way_leg=self.way_leg[ways],
            way_way=self.way_way[ways],
            way_entry=self.way_entry[ways],
            way_exit=self.way_exit[ways],
            ride_arrival=self.ride_arrival[ways],
            ride_worth=self.ride_worth[ways],
            musts=musts,
            exactly=exactly,
        )


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
    latest = min(problem.latest - offset, slots - 1)
    units = Units.of(problem, slots)
    ways = [(j, m, way) for j, leg in enumerate(problem.legs) for m, way in enumerate(leg.ways)]
    starts, ends = [way.start for _, _, way in ways], [way.end for _, _, way in ways]
    exits, entries = _places([problem.start_place], ends), _places([], starts)
    wait = float(units.counted(problem.wait_cost_per_slot))
    led: Flags = np.asarray((problem.travel_slots[..., window] != NEVER).any(axis=2))
    road_arrival, road_worth, met = _roads(problem, window, units, led, (exits, entries))
    home = exits, (problem.end_place,)
    home_arrival, home_worth, _ = _roads(problem, window, units, led, home)
    late = units.counted(problem.late[window]) + (units.later + wait) * np.arange(slots)
    closing = _priced_late(home_arrival[:, 0], home_worth[:, 0], late)
    ride_arrival, ride_worth = _rides([way for _, _, way in ways], window, units, wait)
    own_before, own_after = _own_order(problem)
    exclusive = tuple(mask_of(group) for group in problem.at_most_one + problem.exactly_one)
    return DayArrays(
        legs=len(problem.legs),
        offset=offset,
        slots=slots,
        units=units,
        latest=latest,
        start_worth=np.where(np.arange(slots) <= latest, wait * np.arange(slots), IMPOSSIBLE),
        exits=exits,
        entries=entries,
        exit_waits=np.array([place not in problem.no_wait for place in exits], dtype=np.bool_),
        entry_waits=np.array([place not in problem.no_wait for place in entries], dtype=np.bool_),
        road_arrival=road_arrival,
        road_worth=road_worth,
        met=met,
        closing_arrival=closing[0],
        closing_worth=closing[1],
        way_leg=np.array([j for j, _, _ in ways], dtype=np.int64),
        way_way=np.array([m for _, m, _ in ways], dtype=np.int64),
        way_entry=np.array([entries.index(place) for place in starts], dtype=np.int64),
        way_exit=np.array([exits.index(place) for place in ends], dtype=np.int64),
        ride_arrival=ride_arrival,
        ride_worth=ride_worth,
        musts=mask_of(tuple(j for j, leg in enumerate(problem.legs) if leg.must)),
        exclusive=exclusive,
        exactly=tuple(mask_of(group) for group in problem.exactly_one),
        first_of=tuple(
            mask_of(tuple(a for a, b in problem.before if b == j)) for j in range(len(problem.legs))
        ),
        closed_by=tuple(_closed_by(problem, j, exclusive) for j in range(len(problem.legs))),
        own_before=own_before,
        own_after=own_after,
        order_cost=float(units.counted(problem.order_cost)),
    )


def _places(first: list[int], others: list[int]) -> tuple[int, ...]:
    return tuple(first + sorted(set(others) - set(first)))


def _own_order(problem: DayProblem) -> tuple[tuple[int, ...], tuple[int, ...]]:
    before, after = [0] * len(problem.legs), [0] * len(problem.legs)
    for position, leg in enumerate(problem.own_order):
        before[leg] = mask_of(problem.own_order[:position])
        after[leg] = mask_of(problem.own_order[position + 1 :])
    return tuple(before), tuple(after)


def _closed_by(problem: DayProblem, leg: int, exclusive: tuple[int, ...]) -> int:
    mask = 1 << leg | mask_of(tuple(b for a, b in problem.before if a == leg))
    for group in exclusive:
        if group >> leg & 1:
            mask |= group
    return mask


def _roads(
    problem: DayProblem,
    window: slice,
    units: Units,
    led: Flags,
    places: tuple[tuple[int, ...], tuple[int, ...]],
) -> tuple[Slots, Values, Flags]:
    """Give the connectors from exits to places, and which there are of those that are led.

    Staying takes nothing and costs nothing.
    """
    exits, ends = places
    same = np.equal.outer(exits, ends)
    met = led[np.ix_(exits, ends)] | same
    here, there = np.nonzero(met)  # few, of a day split into levels
    pairs = np.array(exits, dtype=np.int64)[here], np.array(ends, dtype=np.int64)[there]
    takes = problem.travel_slots[pairs][:, window]
    price = units.counted(problem.travel_cost[pairs][:, window])
    stays = same[here, there]
    takes[stays], price[stays] = 0, 0.0
    slots = takes.shape[1]
    arrival = np.full((len(exits), len(ends), slots), slots)
    worth = np.full(arrival.shape, IMPOSSIBLE)
    wait = float(units.counted(problem.wait_cost_per_slot))
    arrivals, worth[here, there] = _moves(takes, -price, wait)
    arrival[here, there] = arrivals
    met[here, there] = (arrivals < slots).any(axis=1)
    return arrival, worth, met


def _rides(ways: list[LegWay], window: slice, units: Units, wait: float) -> tuple[Slots, Values]:
    """Give slots of arriving and worths of the ways, shape (ways, slots); levels share them."""
    slots = window.stop - window.start
    keys = [(id(way.ride_slots), id(way.worth)) for way in ways]
    rows = {key: row for row, key in enumerate(dict.fromkeys(keys))}
    distinct = list(dict(zip(keys, ways, strict=True)).values())
    takes = np.array([way.ride_slots[window] for way in distinct], dtype=np.int64)
    worth = np.array([way.worth[window] for way in distinct], dtype=np.float64)
    shape = len(distinct), slots
    arrival, counted = _moves(takes.reshape(shape), units.counted(worth.reshape(shape)), wait)
    of_way = np.array([rows[key] for key in keys], dtype=np.int64)
    return arrival[of_way], counted[of_way]


def _moves(takes: Slots, worth: Values, wait: float) -> tuple[Slots, Values]:
    """Slots of arriving and worths, without what is not allowed or ends after the last slot."""
    slots = takes.shape[-1]
    arrival = np.arange(slots) + takes
    barred = (takes == NEVER) | (arrival >= slots) | (worth == IMPOSSIBLE)
    arrival[barred] = slots
    return arrival, _known(np.where(barred, IMPOSSIBLE, worth + wait * takes))


def _known(worth: Values) -> Values:
    if np.isnan(worth).any() or np.isposinf(worth).any():
        raise ValueError("a price is not a number: price what is unknown before searching")
    return worth


def _priced_late(arrival: Slots, worth: Values, late: Values) -> tuple[Slots, Values]:
    """Make the closing connectors: late price by the slot of finishing, some not allowed."""
    slots = arrival.shape[-1]
    paid = _known(worth - np.append(late, np.inf)[arrival])
    return np.where(paid == IMPOSSIBLE, slots, arrival), paid
