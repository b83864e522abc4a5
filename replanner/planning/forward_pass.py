"""Days begun, leg by leg: the forward half of the two-pass search.

A layer holds all days begun with equally many legs ridden, one row for each set of legs and exit,
with the best value by slot. Rows that can't beat the best plan known are dropped: value so far
plus bound on the rest.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, Move, SetsOfLegs, WayArrays
from replanner.planning.exact_prices import Values
from replanner.planning.order_timing import arriving, profile_at_start
from replanner.planning.relaxed_bound import RelaxedBound

SETS_AT_ONCE = 512
"""Sets of legs expanded together; bounds the memory of a step."""


@dataclass(frozen=True, slots=True)
class Layer:
    """Days begun, sorted by set and exit.

    `profile[i]` is the best value by slot of arriving at `exits[i]` having ridden `masks[i]`;
    `reach[i]` bounds the value of any day begun so.
    """

    masks: SetsOfLegs
    exits: SetsOfLegs
    profile: Values
    reach: Values

    def take(self, rows: SetsOfLegs) -> "Layer":
        """Give some of the rows."""
        return Layer(self.masks[rows], self.exits[rows], self.profile[rows], self.reach[rows])


@dataclass(slots=True)
class BestKnown:
    """The plan to beat, its value in units."""

    value: float = IMPOSSIBLE
    mask: int = 0


class ForwardDay:
    """The connectors of a day by slot of arriving: which slots of leaving get there then.

    Times that fall during the day make several slots of leaving arrive in one; each look takes one
    of them for all entries.
    """

    def __init__(self, arrays: DayArrays) -> None:
        self.arrays = arrays
        self._looks = [_looks(row, arrays.slots) for row in arrays.roads]

    def travel(self, layer: Layer, set_of: SetsOfLegs, sets: int) -> Values:
        """Best value by slot of being ready to ride, shape (sets, entries, slots)."""
        arrays = self.arrays
        at_entry = np.full((sets, len(arrays.entries), arrays.slots), IMPOSSIBLE)
        for a in np.unique(layer.exits).tolist():
            rows = np.flatnonzero(layer.exits == a)
            ready = layer.profile[rows]
            if arrays.exit_waits[a]:
                ready = arrays.waited_since(ready)
            ready = np.concatenate([ready, np.full((len(rows), 1), IMPOSSIBLE)], axis=1)
            into = set_of[rows]
            for leaving, worth in self._looks[a]:
                at_entry[into] = np.maximum(at_entry[into], ready[:, leaving] + worth)
        waits = np.flatnonzero(arrays.entry_waits)
        at_entry[:, waits] = arrays.waited_since(at_entry[:, waits])
        return at_entry


def _looks(roads: tuple[Move, ...], slots: int) -> list[tuple[NDArray[np.int64], Values]]:
    """For connectors from one exit, slots of leaving and worth by entry and slot of arriving."""
    count = np.zeros((len(roads), slots), dtype=np.int64)
    looks: list[tuple[NDArray[np.int64], Values]] = []
    for e, road in enumerate(roads):
        for run in road.runs:
            leaving = np.arange(run.first, run.stop)
            look = count[e, run.arriving]
            while len(looks) <= look.max():
                looks.append((np.full(count.shape, slots), np.zeros(count.shape)))
            for depth in np.unique(look):
                now = leaving[look == depth]
                looks[depth][0][e, now + run.shift] = now
                looks[depth][1][e, now + run.shift] = road.worth[now]
            count[e, run.arriving] += 1
    return looks


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
    arrays = day.arrays
    layer = _first_layer(arrays, table)
    left = IMPOSSIBLE
    while len(layer.masks):
        if keep is not None and len(layer.masks) > keep:
            order = np.lexsort((layer.exits, layer.masks, -layer.reach))
            left = max(left, float(layer.reach[order[keep:]].max()))
            layer = layer.take(np.sort(order[:keep]))
        if layers is not None:
            layers.append(layer)
        _close(arrays, layer, best)
        parts: list[Layer] = []
        for some in _sets_at_once(layer):
            if stopped():
                return max(left, float(layer.reach.max()))
            parts += _ride_one_more(day, table, some, best)
        layer = _merge(parts, arrays.slots)
    return left


def _first_layer(arrays: DayArrays, table: RelaxedBound) -> Layer:
    profile = profile_at_start(arrays)[:1]
    none = np.zeros(1, dtype=np.int64)
    reach = (profile + table.after(0, none)).max(axis=1)
    possible = np.flatnonzero(reach > IMPOSSIBLE)
    return Layer(none, none, profile, reach).take(possible)


def _close(arrays: DayArrays, layer: Layer, best: BestKnown) -> None:
    """End the day here, where every demand is met."""
    met = layer.masks & arrays.musts == arrays.musts
    for group in arrays.exactly:
        met &= np.bitwise_count(layer.masks & group) == 1
    for a, closing in enumerate(arrays.closings):
        rows = np.flatnonzero(met & (layer.exits == a))
        if rows.size and closing.runs:
            ready = _waited(arrays, layer.profile[rows], waits=arrays.exit_waits[a])
            values = (ready + closing.worth).max(axis=1)
            top = int(np.argmax(values))
            if values[top] > best.value:
                best.value = float(values[top])
                best.mask = int(layer.masks[rows[top]])


def _waited(arrays: DayArrays, values: Values, *, waits: bool) -> Values:
    return arrays.waited_since(values) if waits else values


def _sets_at_once(layer: Layer) -> Iterator[Layer]:
    """Parts of a layer, no set of legs divided."""
    firsts = np.flatnonzero(np.diff(layer.masks, prepend=-1))[::SETS_AT_ONCE]
    for first, stop in zip(firsts, [*firsts[1:], len(layer.masks)], strict=True):
        yield layer.take(np.arange(first, stop))


def _ride_one_more(
    day: ForwardDay, table: RelaxedBound, layer: Layer, best: BestKnown
) -> list[Layer]:
    """All days one leg longer that could still beat the best, not merged."""
    sets, set_of = np.unique(layer.masks, return_inverse=True)
    at_entry = day.travel(layer, set_of, len(sets))
    return [
        _ride(day.arrays, table, way, (sets, at_entry[:, way.entry]), best.value)
        for way in day.arrays.ways
    ]


def _ride(
    arrays: DayArrays,
    table: RelaxedBound,
    way: WayArrays,
    at_entry: tuple[SetsOfLegs, Values],
    floor: float,
) -> Layer:
    """Ride one way from all sets that allow it; only what could be worth more than `floor`."""
    sets, values = at_entry
    may = np.flatnonzero(sets & arrays.closed_by[way.leg] == 0)
    price = arrays.order_cost * np.bitwise_count(sets[may] & arrays.own_after[way.leg])
    profile = arriving(way.ride, values[may] - price[:, np.newaxis])
    masks = sets[may] | 1 << way.leg
    hope = profile + table.after(way.exit, masks)
    profile[hope <= floor] = IMPOSSIBLE
    reach = hope.max(axis=1, initial=IMPOSSIBLE)
    exits = np.full(len(masks), way.exit, dtype=np.int64)
    return Layer(masks, exits, profile, reach).take(np.flatnonzero(reach > floor))


def _merge(parts: list[Layer], slots: int) -> Layer:
    """One layer, the best of rows with the same set and exit."""
    masks = np.concatenate([np.zeros(0, dtype=np.int64), *(part.masks for part in parts)])
    exits = np.concatenate([np.zeros(0, dtype=np.int64), *(part.exits for part in parts)])
    order = np.lexsort((exits, masks))
    masks, exits = masks[order], exits[order]
    new = np.diff(masks, prepend=-1) | np.diff(exits, prepend=-1)
    firsts = np.flatnonzero(new)
    if not firsts.size:
        return Layer(masks, exits, np.zeros((0, slots)), np.zeros(0))
    profile = np.concatenate([part.profile for part in parts])[order]
    reach = np.concatenate([part.reach for part in parts])[order]
    return Layer(
        masks[firsts],
        exits[firsts],
        np.maximum.reduceat(profile, firsts, axis=0),
        np.maximum.reduceat(reach, firsts),
    )
