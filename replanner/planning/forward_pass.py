"""Days begun, leg by leg: the forward half of the two-pass search.

A layer holds all days begun with equally many legs ridden, one row for each set of legs and exit,
with the best value by slot. Rows that can't beat the best plan known are dropped: value so far
plus bound on the rest.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from replanner.planning import fast
from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, Indices, SetsOfLegs
from replanner.planning.exact_prices import Values
from replanner.planning.forward_loops import ride_on
from replanner.planning.forward_moves import Looks, looks_of
from replanner.planning.relaxed_bound import RelaxedBound

CELLS_AT_ONCE = 1_000_000
"""Values by entry or way and slot of a step; bounds its memory."""


@dataclass(frozen=True, slots=True)
class Layer:
    """Days begun, sorted by set and exit.

    `profile[i]` is the best value by slot of arriving at `exits[i]` having ridden `masks[i]`, the
    slots counted from `first`; `reach[i]` bounds the value of any day begun so.
    """

    masks: SetsOfLegs
    exits: Indices
    first: int
    profile: Values
    reach: Values

    def take(self, rows: Indices) -> "Layer":
        """Give some of the rows."""
        return Layer(
            self.masks[rows], self.exits[rows], self.first, self.profile[rows], self.reach[rows]
        )

    def whole(self, rows: Indices, slots: int) -> Values:
        """Give the profiles of some rows for all slots, and one after that holds nothing."""
        values = np.full((len(rows), slots + 1), IMPOSSIBLE)
        values[:, self.first : self.first + self.profile.shape[1]] = self.profile[rows]
        return values


@dataclass(slots=True)
class BestKnown:
    """The plan to beat, its value in units."""

    value: float = IMPOSSIBLE
    mask: int = 0


class ForwardDay:
    """A day's moves by slot of arriving, ready for going forward."""

    def __init__(self, arrays: DayArrays) -> None:
        self.arrays = arrays
        self.ways = np.lexsort((arrays.way_exit, arrays.way_leg, arrays.way_entry))
        self.way_leg = arrays.way_leg[self.ways]
        self.way_entry = arrays.way_entry[self.ways]
        self.way_exit = arrays.way_exit[self.ways]
        self.closed_by = np.array(arrays.closed_by, dtype=np.int64)[self.way_leg]
        self.own_after = np.array(arrays.own_after, dtype=np.int64)[self.way_leg]
        self._looks: tuple[list[Looks], Looks] | None = None

    @property
    def looks(self) -> tuple[list[Looks], Looks]:
        """Looks of the roads, by exit, and of the rides."""
        if self._looks is None:
            arrays = self.arrays
            roads = [
                looks_of(*moves)
                for moves in zip(arrays.road_arrival, arrays.road_worth, strict=True)
            ]
            rides = looks_of(arrays.ride_arrival[self.ways], arrays.ride_worth[self.ways])
            self._looks = roads, rides
        return self._looks


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
        parts: list[Layer] = []
        for some in _sets_at_once(day, layer):
            if stopped():
                return max(left, float(layer.reach.max(initial=IMPOSSIBLE)))
            parts.append(_ride_one_more(day, table, some, best.value))
        layer = _merge(parts)
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
    ready = layer.whole(rows, arrays.slots)[:, :-1]
    waits = arrays.exit_waits[layer.exits[rows]]
    ready[waits] = np.maximum.accumulate(ready[waits], axis=1)
    values = (ready + arrays.closing_worth[layer.exits[rows]]).max(axis=1)
    top = int(np.argmax(values))
    if values[top] > best.value:
        best.value = float(values[top])
        best.mask = int(layer.masks[rows[top]])


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
    if not fast.available():
        return _ride_vectorised(day, table, layer, profile, floor)
    groups = np.flatnonzero(np.diff(layer.masks, prepend=-1))
    most = len(groups) * len(day.ways)
    masks, exits = np.empty(most, dtype=np.int64), np.empty(most, dtype=np.int64)
    values, reach = np.empty((most, arrays.slots)), np.empty(most)
    count = ride_on(
        (masks, exits, values, reach),
        (np.append(groups, len(layer.masks)), layer.masks, layer.exits, profile),
        (table.to_go, table.at_entry),
        (table.memory.exits, table.memory.entries, table.scarce, table.multipliers),
        (arrays.road_arrival, arrays.road_worth),
        (arrays.ride_arrival[day.ways], arrays.ride_worth[day.ways]),
        (day.way_entry, day.way_exit, day.way_leg, day.closed_by, day.own_after),
        (arrays.exit_waits, arrays.entry_waits),
        (arrays.order_cost, floor),
    )
    return _cropped(masks[:count], exits[:count], 0, values[:count], reach[:count])


def _ride_vectorised(
    day: ForwardDay, table: RelaxedBound, layer: Layer, profile: Values, floor: float
) -> Layer:
    """Ride on, all sets and ways at once: the twin of the compiled `ride_on`."""
    arrays = day.arrays
    slots = arrays.slots
    waits = arrays.exit_waits[layer.exits]
    profile[waits, :-1] = np.maximum.accumulate(profile[waits, :-1], axis=1)
    hopeless = profile[:, :-1] + table.after(layer.exits, layer.masks) <= floor
    profile[:, :-1][hopeless] = IMPOSSIBLE
    sets, set_of = np.unique(layer.masks, return_inverse=True)
    alive = np.flatnonzero(~hopeless.all(axis=0))
    if not alive.size or not len(day.ways):
        return _cropped(sets[:0], sets[:0], 0, profile[:0, :-1], profile[:0, 0])
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
    return _cropped(masks[good], exits[good], first, after[good], reach[good])


def _cropped(
    masks: SetsOfLegs, exits: Indices, first: int, profile: Values, reach: Values
) -> Layer:
    """Give a layer without the slots before and after all that is possible."""
    alive = np.flatnonzero((profile > IMPOSSIBLE).any(axis=0))
    if not alive.size:
        return Layer(masks, exits, 0, profile[:, :0], reach)
    since, until = int(alive[0]), int(alive[-1]) + 1
    return Layer(masks, exits, first + since, profile[:, since:until], reach)


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
