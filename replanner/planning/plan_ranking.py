"""Plans in exact falling order of value, read from the full table.

A best-first search over orders of legs. What is still to come of a chosen set is known exactly, so
nothing is looked into that is not needed, and every order of legs comes once, with its best timing.
Riding the same legs in the same order by another way or at another time is no other plan here.
"""

from collections.abc import Iterator
from heapq import heapify, heappop, heappush

import numpy as np

from replanner.planning import fast, order_loops
from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, SetsOfLegs
from replanner.planning.days_begun import Begun, DaysBegun, moves_of, profile_at_start
from replanner.planning.exact_prices import Values
from replanner.planning.sweep import SweepTable

Node = tuple[float, int, tuple[int, ...], int]
"""Minus the value, minus the legs ridden, the legs in order, the mask of those still to come."""


def ranked_orders(
    days: DaysBegun, table: SweepTable, sets: SetsOfLegs, whole: Values
) -> Iterator[tuple[int, ...]]:
    """Yield orders of legs by falling value.

    Parameters
    ----------
    days : DaysBegun
    table : SweepTable
        Of the same day.
    sets : ndarray of int, shape (N,)
        The sets of legs a plan may consist of.
    whole : ndarray of float, shape (N,)
        Best value of each.
    """
    nodes: list[Node] = [
        (-float(value), 0, (), int(mask))
        for mask, value in zip(sets, whole, strict=True)
        if value > IMPOSSIBLE
    ]
    heapify(nodes)
    arrays = days.arrays
    while nodes:
        _, _, order, rest = heappop(nodes)
        if rest == 0:
            yield order
            continue
        for leg in range(arrays.legs):
            if rest >> leg & 1:
                longer = (*order, leg)
                others = rest & ~(1 << leg)
                value = _value_through(arrays, table, days.after(longer), others)
                if value > IMPOSSIBLE:
                    heappush(nodes, (-value, -len(longer), longer, others))


def best_order(days: DaysBegun, table: SweepTable, mask: int, value: float) -> tuple[int, ...]:
    """Give the order in which a set of legs is worth `value`, its best; earlier legs first."""
    if fast.available():
        return _best_compiled(days.arrays, table, mask, value)
    order: tuple[int, ...] = ()
    while mask:
        leg = _first_that_keeps(days, table, order, mask, value)
        order = (*order, leg)
        mask &= ~(1 << leg)
    return order


def _first_that_keeps(
    days: DaysBegun, table: SweepTable, order: tuple[int, ...], mask: int, value: float
) -> int:
    for leg in range(days.arrays.legs):
        if mask >> leg & 1:
            longer, rest = days.after((*order, leg)), mask & ~(1 << leg)
            if _value_through(days.arrays, table, longer, rest) == value:
                return leg
    raise AssertionError("the table holds a value that nothing leads to")


def _best_compiled(
    arrays: DayArrays, table: SweepTable, mask: int, value: float
) -> tuple[int, ...]:
    """Find it by compiled loops; prices of order are paid for the legs still to come."""
    order: list[int] = []
    moves = moves_of(arrays)
    rules = np.array(arrays.first_of), np.array(arrays.own_before), arrays.order_cost
    ready = order_loops.waited(profile_at_start(arrays), arrays.exit_waits)
    while mask:
        layer = table.layers[mask.bit_count() - 1]
        rests = layer.sets, layer.rows, layer.values
        leg, price = order_loops.first_leg(mask, rests, ready, value, rules, *moves)
        if leg < 0:
            raise AssertionError("the table holds a value that nothing leads to")
        order.append(leg)
        mask &= ~(1 << leg)
        if mask:
            after = order_loops.ride_leg(leg, price, ready, *moves)
            ready = order_loops.waited(after, arrays.exit_waits)
    return tuple(order)


def best_value_begun(arrays: DayArrays, table: SweepTable, day: Begun, sets: SetsOfLegs) -> float:
    """Give the best value of a day begun so that rides exactly one of these sets in the end."""
    ridden = _ridden(arrays, day)
    first = np.bitwise_or.reduce([arrays.first_of[leg] for leg in ridden], initial=0)
    rests = sets[sets & day.ridden == day.ridden] & ~day.ridden
    rests = rests[rests & first == 0]
    sizes, best = np.bitwise_count(rests), IMPOSSIBLE
    for size, layer in enumerate(table.layers):
        rest = np.intersect1d(rests[sizes == size], layer.sets, assume_unique=True)
        rows = layer.rows[day.exits][:, np.searchsorted(layer.sets, rest)]
        begun = day.profile[day.exits, np.newaxis, : layer.stop]
        through = (layer.values[rows, :-1] + begun).max(axis=(0, 2), initial=IMPOSSIBLE)
        against = sum(np.bitwise_count(rest & arrays.own_before[leg]) for leg in ridden)
        price = arrays.order_cost * np.asarray(against)
        best = max(best, float((through - price).max(initial=IMPOSSIBLE)))
    return best


def _ridden(arrays: DayArrays, day: Begun) -> list[int]:
    return [leg for leg in range(arrays.legs) if day.ridden >> leg & 1]


def _value_through(arrays: DayArrays, table: SweepTable, day: Begun, rest: int) -> float:
    """Give the best value of a day begun so that goes on to ride exactly `rest`.

    Neither side knows the other's legs: precedence and the price of order across them are seen to
    here.
    """
    ridden = _ridden(arrays, day)
    if any(rest & arrays.first_of[leg] for leg in ridden):
        return IMPOSSIBLE
    against = sum((rest & arrays.own_before[leg]).bit_count() for leg in ridden)
    to_go = table.value_to_go(day.exits, rest)
    if to_go is None:
        return IMPOSSIBLE
    through = float((day.profile[day.exits, : to_go.shape[1]] + to_go).max(initial=IMPOSSIBLE))
    return through - arrays.order_cost * against
