"""Days begun, leg by leg: the forward half of the two-pass search.

A layer holds all days begun with equally many legs ridden, one row for each set of legs and exit,
with the best value by slot. Rows that can't beat the best plan known are dropped: value so far
plus bound on the rest.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from replanner.planning import fast, forward_loops, forward_rows
from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, Indices, SetsOfLegs
from replanner.planning.exact_prices import Values
from replanner.planning.forward_layer import ForwardDay, Layer, cropped
from replanner.planning.relaxed_bound import RelaxedBound, all_of

CELLS_AT_ONCE = 4_000_000
"""Values by way and slot that a compiled step may find."""


@dataclass(slots=True)
class BestKnown:
    """The plan to beat, its value in units."""

    value: float = IMPOSSIBLE
    mask: int = 0


def forward(
    day: ForwardDay,
    table: RelaxedBound,
    best: BestKnown,
    stopped: Callable[[], bool],
    *,
    keep: int | None = None,
    layers: list[Layer] | None = None,
) -> float:
    """Go forward, bettering `best`; return what days not followed up could be worth at most.

    `keep` follows up only that many of each layer; `layers` collects them.
    """
    ride = _ride_compiled if fast.available() else forward_rows.ride_rows
    layer = _first_layer(day.arrays, table)
    left = IMPOSSIBLE
    while len(layer.masks):
        if keep is not None and len(layer.masks) > keep:
            order = np.lexsort((layer.exits, layer.masks, -layer.reach))
            left = max(left, float(layer.reach[order[keep:]].max()))
            layer = layer.take(np.sort(order[:keep]))
        if layers is not None:
            layers.append(layer)
        _close(day.arrays, layer, best)
        layer = layer.take(np.flatnonzero(layer.reach > best.value))
        longer = ride(day, table, layer, best.value, stopped)
        if longer is None:
            return max(left, float(layer.reach.max(initial=IMPOSSIBLE)))
        layer = longer
    return left


def _first_layer(arrays: DayArrays, table: RelaxedBound) -> Layer:
    none = np.zeros(1, dtype=np.int64)
    profile = arrays.start_worth[np.newaxis]
    reach = (profile + table.after(none, none)).max(axis=1, initial=IMPOSSIBLE)
    return Layer(none, none, 0, profile, reach).take(np.flatnonzero(reach > IMPOSSIBLE))


def _close(arrays: DayArrays, layer: Layer, best: BestKnown) -> None:
    """End the day here, where every demand is met."""
    met = layer.masks & arrays.musts == arrays.musts
    for group in arrays.exactly:
        met &= np.bitwise_count(layer.masks & group) == 1
    rows = np.flatnonzero(met)
    if not rows.size:
        return
    if fast.available():
        begun = rows, layer.exits, layer.first, layer.profile
        value, top = forward_loops.close_rows(begun, arrays.closing_worth, arrays.exit_waits)
    else:
        value, top = forward_rows.close_rows(arrays, layer, rows)
    if value > best.value:
        best.value = value
        best.mask = int(layer.masks[top])


def _ride_compiled(
    day: ForwardDay,
    table: RelaxedBound,
    layer: Layer,
    floor: float,
    stopped: Callable[[], bool],
) -> Layer | None:
    """All days one leg longer that could be worth more than `floor`; None if stopped."""
    arrays, memory, back = day.arrays, table.memory, table.given_back
    groups = np.append(np.flatnonzero(np.diff(layer.masks, prepend=-1)), len(layer.masks))
    at_once = max(1, CELLS_AT_ONCE // (max(1, len(day.ways)) * arrays.slots))
    found = _room(arrays.slots, 0)
    count = 0
    for begin in range(0, len(groups) - 1, at_once):
        if stopped():
            return None
        now = groups[begin : begin + at_once + 1]
        found = _grown(found, count, count + (len(now) - 1) * len(day.ways))
        count = forward_loops.ride_on(
            found,
            count,
            np.full(1 << (2 * len(found[0])).bit_length(), -1),
            (now, layer.masks, layer.exits, layer.first, layer.profile),
            (table.to_go, table.at_entry),
            (memory.exits, memory.entries, all_of(memory.exits), all_of(memory.entries)),
            (back.own_after, back.closed_by, back.groups),
            (back.must, back.of_leg, back.of_group, back.order_cost),
            (arrays.road_arrival, arrays.road_worth),
            (day.ride_arrival, day.ride_worth),
            (day.way_entry, day.way_exit, day.way_leg),
            (arrays.exit_waits, arrays.entry_waits),
            floor,
        )
    masks, exits, profile, reach = found
    order = np.lexsort((exits[:count], masks[:count]))
    return cropped(masks[order], exits[order], 0, profile[order], reach[order])


Found = tuple[SetsOfLegs, Indices, Values, Values]
"""Masks, exits, profiles and reaches of rows."""


def _room(slots: int, rows: int) -> Found:
    none = np.empty(rows, dtype=np.int64)
    return none, none.copy(), np.empty((rows, slots)), np.empty(rows)


def _grown(found: Found, count: int, most: int) -> Found:
    """Give room for so many rows, the first ones kept."""
    if most <= len(found[0]):
        return found
    larger = _room(found[2].shape[1], max(most, 2 * len(found[0])))
    for old, new in zip(found, larger, strict=True):
        new[:count] = old[:count]
    return larger
