"""Riding on from a layer of days begun, all sets and ways at once: the twin of `forward_loops`."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from replanner.planning.day_arrays import IMPOSSIBLE, Indices, SetsOfLegs
from replanner.planning.exact_prices import Values
from replanner.planning.forward_layer import ForwardDay, Layer, cropped
from replanner.planning.problem import Slots
from replanner.planning.relaxed_bound import RelaxedBound, all_of, remembered_of

CELLS_AT_ONCE = 4_000_000
"""Values by entry or way and slot of a step; bounds its memory."""


class VectorisedSteps:
    """The steps of the forward pass without compiled loops."""

    def __init__(self, day: ForwardDay, table: RelaxedBound) -> None:
        self._day, self._table = day, table

    def closed(self, layer: Layer) -> Values:
        """End the day in a layer; the best value of each row, -inf where it may not end."""
        arrays = self._day.arrays
        met = layer.masks & arrays.musts == arrays.musts
        for group in arrays.exactly:
            met &= np.bitwise_count(layer.masks & group) == 1
        rows = np.flatnonzero(met)
        ready = layer.whole(rows, arrays.slots)[:, :-1]
        waits = arrays.exit_waits[layer.exits[rows]]
        ready[waits] = np.maximum.accumulate(ready[waits], axis=1)
        values = np.full(len(layer.masks), IMPOSSIBLE)
        values[rows] = (ready + arrays.closing_worth[layer.exits[rows]]).max(axis=1)
        return values

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
    """All days one leg longer that could be worth more than `floor`.

    Few slots of a row can still win, so the live ones are followed one by one.
    """
    new = np.diff(layer.masks, prepend=-1) != 0
    sets, set_of = layer.masks[new], np.cumsum(new) - 1
    leaving = _leaving(day, table, layer, floor)
    pairs, starting = _arrived(
        day, table, sets, layer.exits[leaving.row], set_of[leaving.row], leaving, floor
    )
    return _ridden(day, table, sets, pairs, starting, floor)


@dataclass(frozen=True, slots=True)
class _Live:
    """Values that could still win: of which row, in which slot."""

    row: Indices
    slot: Slots
    value: Values

    @classmethod
    def of(cls, values: Values, bound: Values, floor: float) -> "_Live":
        """Pick those of rows of slots that with their bound are above the floor."""
        row, slot = np.nonzero(values + bound > floor)
        return cls(row, slot, values[row, slot])


def _leaving(day: ForwardDay, table: RelaxedBound, layer: Layer, floor: float) -> _Live:
    """Wait at the exits while no must is out of reach."""
    arrays = day.arrays
    until = day.chance.of_days(layer.masks, layer.exits, arrays.slots - 1)
    ready = layer.whole(np.arange(len(layer.masks)), arrays.slots)[:, :-1]
    waits = arrays.exit_waits[layer.exits]
    ready[waits] = np.maximum.accumulate(ready[waits], axis=1)
    ready[np.arange(arrays.slots) > until[:, np.newaxis]] = IMPOSSIBLE
    return _Live.of(ready, table.after(layer.exits, layer.masks), floor)


def _arrived(
    day: ForwardDay,
    table: RelaxedBound,
    sets: SetsOfLegs,
    exits: Indices,
    set_of: Indices,
    leaving: _Live,
    floor: float,
) -> tuple[Indices, _Live]:
    """Travel to the entries and wait there; numbers of set and entry, and what lives by them."""
    arrays = day.arrays
    entries = np.arange(len(arrays.entries))
    road_arrival, road_worth = day.roads
    arrival = road_arrival[exits, leaving.slot]
    value = leaving.value[:, np.newaxis] + road_worth[exits, leaving.slot]
    column, given = (part[set_of] for part in table.bound_of_arriving(sets))
    # What can't win on arriving can't win by waiting either.
    alive = value + table.at_entry[entries, column, arrival] + given > floor
    number = (set_of[:, np.newaxis] * len(entries) + entries)[alive]
    pairs, row = _distinct(number, len(sets) * len(entries))
    ready = np.full((len(pairs), arrays.slots), IMPOSSIBLE)
    np.maximum.at(ready.reshape(-1), row * arrays.slots + arrival[alive], value[alive])
    of, entry = np.divmod(pairs, max(len(entries), 1))
    waits = arrays.entry_waits[entry]
    ready[waits] = np.maximum.accumulate(ready[waits], axis=1)
    return pairs, _Live.of(ready, table.arrived(entry, sets[of]), floor)


def _distinct(numbers: Indices, most: int) -> tuple[Indices, Indices]:
    """Give numbers below `most` once each, rising, and which of them each is; without sorting."""
    met = np.zeros(most, dtype=np.bool_)
    met[numbers] = True
    return np.flatnonzero(met), (np.cumsum(met) - 1)[numbers]


def _ridden(
    day: ForwardDay,
    table: RelaxedBound,
    sets: SetsOfLegs,
    pairs: Indices,
    starting: _Live,
    floor: float,
) -> Layer:
    """Ride every way that begins where a day lives."""
    arrays = day.arrays
    of, entry = np.divmod(pairs, max(len(arrays.entries), 1))
    begun = sets[of]
    may = (day.way_entry == entry[:, np.newaxis]) & (begun[:, np.newaxis] & day.closed_by == 0)
    pair, way = np.nonzero(may)
    longer, exits = begun[pair] | 1 << day.way_leg[way], day.way_exit[way]
    price = arrays.order_cost * np.bitwise_count(begun[pair] & day.own_after[way])
    column = remembered_of(table.memory.exits[exits], longer)
    given = table.given_back.to(longer, all_of(table.memory.exits)[exits])
    ways_of = np.bincount(pair, minlength=len(pairs))
    times = ways_of[starting.row]
    live = np.repeat(np.arange(len(times)), times)
    ride = np.arange(len(live)) - np.repeat(np.cumsum(times) - times, times)
    ride += (np.cumsum(ways_of) - ways_of)[starting.row[live]]
    arrival = day.ride_arrival[way[ride], starting.slot[live]]
    value = starting.value[live] - price[ride] + day.ride_worth[way[ride], starting.slot[live]]
    hope = value + table.to_go[exits[ride], column[ride], arrival] + given[ride]
    until = day.chance.of_days(longer, exits, arrays.slots - 1)
    good = np.flatnonzero((hope > floor) & (arrival <= until[ride]))
    ride, arrival = ride[good], arrival[good]
    masks, exits, row = _numbered(longer, exits, ride)
    profile = np.full((len(masks), arrays.slots), IMPOSSIBLE)
    np.maximum.at(profile.reshape(-1), row * arrays.slots + arrival, value[good])
    reach = np.full(len(masks), IMPOSSIBLE)
    np.maximum.at(reach, row, hope[good])
    return cropped(masks, exits, 0, profile, reach)


def _numbered(
    masks: SetsOfLegs, exits: Indices, ride: Indices
) -> tuple[SetsOfLegs, Indices, Indices]:
    """Give the sets and exits of these rides once each, and which of them each ride leads to."""
    used, at = _distinct(ride, len(masks))
    order = np.lexsort((exits[used], masks[used]))
    masks, exits = masks[used[order]], exits[used[order]]
    new = (np.diff(masks, prepend=-1) != 0) | (np.diff(exits, prepend=-1) != 0)
    row = np.empty(len(used), dtype=np.int64)
    row[order] = np.cumsum(new) - 1
    return masks[new], exits[new], row[at]


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
