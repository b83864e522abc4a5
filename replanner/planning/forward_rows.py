"""Riding on from a layer of days begun, all sets and ways at once: the twin of `forward_loops`."""

from collections.abc import Callable, Iterator

import numpy as np

from replanner.planning.day_arrays import IMPOSSIBLE
from replanner.planning.forward_layer import ForwardDay, Layer, cropped
from replanner.planning.relaxed_bound import RelaxedBound

CELLS_AT_ONCE = 1_000_000
"""Values by entry or way and slot of a step; bounds its memory."""


class VectorisedSteps:
    """The steps of the forward pass without compiled loops."""

    def __init__(self, day: ForwardDay, table: RelaxedBound) -> None:
        self._day, self._table = day, table

    def closed(self, layer: Layer) -> tuple[float, int]:
        """End the day in a layer; the best value, and the first row that has it."""
        arrays = self._day.arrays
        met = layer.masks & arrays.musts == arrays.musts
        for group in arrays.exactly:
            met &= np.bitwise_count(layer.masks & group) == 1
        rows = np.flatnonzero(met)
        if not rows.size:
            return IMPOSSIBLE, 0
        ready = layer.whole(rows, arrays.slots)[:, :-1]
        waits = arrays.exit_waits[layer.exits[rows]]
        ready[waits] = np.maximum.accumulate(ready[waits], axis=1)
        values = (ready + arrays.closing_worth[layer.exits[rows]]).max(axis=1)
        top = int(np.argmax(values))
        return float(values[top]), int(rows[top])

    def longer(self, layer: Layer, floor: float, stopped: Callable[[], bool]) -> Layer | None:
        """All days one leg longer that could be worth more than `floor`; None if stopped."""
        parts: list[Layer] = []
        for some in _sets_at_once(self._day, layer.take(np.flatnonzero(layer.reach > floor))):
            if stopped():
                return None
            parts.append(_ride_one_more(self._day, self._table, some, floor))
        return _merge(parts)


def _sets_at_once(day: ForwardDay, layer: Layer) -> Iterator[Layer]:
    """Parts of a layer, no set of legs divided."""
    cells = max(len(day.arrays.entries), len(day.ways), 1) * day.arrays.slots
    sets = max(1, CELLS_AT_ONCE // cells)
    firsts = np.flatnonzero(np.diff(layer.masks, prepend=-1))[::sets]
    if len(firsts) <= 1:
        yield layer
        return
    for first, stop in zip(firsts, [*firsts[1:], len(layer.masks)], strict=True):
        yield layer.take(np.arange(first, stop))


def _ride_one_more(day: ForwardDay, table: RelaxedBound, layer: Layer, floor: float) -> Layer:
    """All days one leg longer that could be worth more than `floor`, not merged."""
    arrays = day.arrays
    profile = layer.whole(np.arange(len(layer.masks)), arrays.slots)
    slots = arrays.slots
    waits = arrays.exit_waits[layer.exits]
    profile[waits, :-1] = np.maximum.accumulate(profile[waits, :-1], axis=1)
    hopeless = profile[:, :-1] + table.after(layer.exits, layer.masks) <= floor
    profile[:, :-1][hopeless] = IMPOSSIBLE
    sets, set_of = np.unique(layer.masks, return_inverse=True)
    alive = np.flatnonzero(~hopeless.all(axis=0))
    if not alive.size or not len(day.ways):
        return cropped(sets[:0], sets[:0], 0, profile[:0, :-1], profile[:0, 0])
    first, stop = int(alive[0]), slots
    roads, rides = day.looks
    at_entry = np.full((len(sets), len(arrays.entries), slots - first + 1), IMPOSSIBLE)
    for a in np.unique(layer.exits).tolist():
        rows = np.flatnonzero(layer.exits == a)
        into, ready = set_of[rows], profile[rows]
        for look in roads[a]:
            going = ready.take(look.leaving[:, first:stop], axis=1)
            going += look.worth[:, first:stop]
            if look.every:
                best = at_entry[into, :, :-1]
                at_entry[into, :, :-1] = np.maximum(best, going, out=going)
            else:
                where = np.ix_(into, look.moves, np.arange(stop - first))
                at_entry[where] = np.maximum(at_entry[where], going)
    waits = arrays.entry_waits
    at_entry[:, waits, :-1] = np.maximum.accumulate(at_entry[:, waits, :-1], axis=2)
    g, e = np.divmod(np.arange(len(sets) * len(arrays.entries)), len(arrays.entries))
    flat = at_entry.reshape(len(g), -1)
    dead = flat[:, :-1] + table.arrived(e, sets[g], first) <= floor
    flat[:, :-1][dead] = IMPOSSIBLE
    open_ = ~dead.all(axis=1).reshape(len(sets), -1)
    may = open_[:, day.way_entry] & (sets[:, np.newaxis] & day.closed_by == 0)
    of, way = np.nonzero(may)
    begun = flat[of * len(arrays.entries) + day.way_entry[way]]
    begun -= (arrays.order_cost * np.bitwise_count(sets[of] & day.own_after[way]))[:, np.newaxis]
    after = np.full((len(of), slots - first), IMPOSSIBLE)
    for look in rides:
        rows = np.arange(len(of)) if look.every else np.flatnonzero(np.isin(way, look.moves))
        ways = way[rows] if look.every else np.searchsorted(look.moves, way[rows])
        leaving = np.maximum(look.leaving[ways, first:], first - 1) - first
        riding = np.take_along_axis(begun[rows], leaving, axis=1) + look.worth[ways, first:]
        after[rows] = np.maximum(after[rows], riding)
    masks = sets[of] | 1 << day.way_leg[way]
    exits = day.way_exit[way]
    hope = after + table.after(exits, masks, first)
    after[hope <= floor] = IMPOSSIBLE
    reach = hope.max(axis=1, initial=IMPOSSIBLE)
    good = np.flatnonzero(reach > floor)
    return cropped(masks[good], exits[good], first, after[good], reach[good])


def _merge(parts: list[Layer]) -> Layer:
    """One layer, the best of rows with the same set and exit."""
    parts = [part for part in parts if len(part.masks)]
    if not parts:
        none = np.zeros(0, dtype=np.int64)
        return Layer(none, none, 0, np.zeros((0, 0)), np.zeros(0))
    first = min(part.first for part in parts)
    stop = max(part.first + part.profile.shape[1] for part in parts)
    masks = np.concatenate([part.masks for part in parts])
    exits = np.concatenate([part.exits for part in parts])
    order = np.lexsort((exits, masks))
    masks, exits = masks[order], exits[order]
    firsts = np.flatnonzero(np.diff(masks, prepend=-1) | np.diff(exits, prepend=-1))
    if len(parts) == 1:
        profile = parts[0].profile
    else:
        profile = np.full((len(masks), stop - first), IMPOSSIBLE)
        row = 0
        for part in parts:
            since = part.first - first
            rows = slice(row, row + len(part.masks))
            profile[rows, since : since + part.profile.shape[1]] = part.profile
            row = rows.stop
    reach = np.concatenate([part.reach for part in parts])
    return Layer(
        masks[firsts],
        exits[firsts],
        first,
        np.maximum.reduceat(profile[order], firsts, axis=0),
        np.maximum.reduceat(reach[order], firsts),
    )
