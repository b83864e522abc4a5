"""The steps of the forward pass by compiled loops."""

from collections.abc import Callable

import numpy as np

from replanner.planning import forward_loops
from replanner.planning.day_arrays import IMPOSSIBLE, Indices, SetsOfLegs
from replanner.planning.exact_prices import Values
from replanner.planning.forward_layer import ForwardDay, Layer
from replanner.planning.relaxed_bound import RelaxedBound, all_of

CELLS_AT_ONCE = 4_000_000
"""Values by way and slot that a step may find."""

Found = tuple[SetsOfLegs, Indices, Values, Values]
"""Masks, exits, profiles and reaches of rows."""


class CompiledSteps:
    """Twin of `forward_rows.VectorisedSteps`."""

    def __init__(self, day: ForwardDay, table: RelaxedBound) -> None:
        arrays, memory, back = day.arrays, table.memory, table.given_back
        self._arrays, self._ways = arrays, max(1, len(day.ways))
        self._demands = arrays.musts, np.array(arrays.exactly, dtype=np.int64)
        self._day = (
            (table.to_go, table.at_entry),
            (memory.exits, memory.entries, all_of(memory.exits), all_of(memory.entries)),
            (back.own_after, back.closed_by, back.groups),
            (back.must, back.of_leg, back.of_group, back.order_cost),
            (arrays.road_arrival, arrays.road_worth),
            (day.ride_arrival, day.ride_worth),
            (day.way_entry, day.way_exit, day.way_leg),
            (arrays.exit_waits, arrays.entry_waits),
            (day.chance.musts, day.chance.closed_by, day.chance.slots),
        )

    def closed(self, layer: Layer) -> Values:
        """End the day in a layer; the best value of each row, -inf where it may not end."""
        values = np.full(len(layer.masks), IMPOSSIBLE)
        forward_loops.close_rows(
            values,
            (layer.masks, layer.exits, layer.first, layer.profile),
            self._demands,
            self._arrays.closing_worth,
            self._arrays.exit_waits,
        )
        return values

    def longer(self, layer: Layer, floor: float, stopped: Callable[[], bool]) -> Layer | None:
        """All days one leg longer that could be worth more than `floor`; None if stopped."""
        slots, rows = self._arrays.slots, len(layer.masks)
        at_once = max(1, CELLS_AT_ONCE // (self._ways * slots))
        begun = layer.masks, layer.exits, layer.first, layer.profile, layer.reach
        found, count, begin = _room(slots, min(rows, at_once) * self._ways), 0, 0
        span = np.array([slots, -1])
        while begin < rows:
            if stopped():
                return None
            end = int(np.searchsorted(layer.masks, layer.masks[min(begin + at_once, rows) - 1] + 1))
            found = _grown(found, count, count + (end - begin) * self._ways)
            index = np.full(1 << (2 * len(found[0])).bit_length(), -1)
            count = forward_loops.ride_on(
                found, span, count, index, begin, end, begun, *self._day, floor
            )
            begin = end
        return _sorted(found, count, *span.tolist())


def _sorted(found: Found, count: int, since: int, last: int) -> Layer:
    masks, exits, profile, reach = found
    order = np.lexsort((exits[:count], masks[:count]))
    live = np.ascontiguousarray(profile[:count, since : last + 1][order])
    return Layer(masks[order], exits[order], since, live, reach[order])


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
