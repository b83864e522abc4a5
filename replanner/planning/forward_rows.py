"""Riding on from a layer of days begun, all sets and ways at once: the twin of `forward_loops`."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from replanner.planning.day_arrays import IMPOSSIBLE, Flags, Indices, SetsOfLegs
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
        waits, closing = day.arrays.exit_waits, day.arrays.closing_worth.copy()
        closing[waits] = np.maximum.accumulate(closing[waits, ::-1], axis=1)[:, ::-1]
        self._closing_worth = closing  # waiting for the best of them, where allowed

    def closed(self, layer: Layer) -> Values:
        """End the day in a layer; the best value of each row, -inf where it may not end."""
        arrays = self._day.arrays
        met = layer.masks & arrays.musts == arrays.musts
        for group in arrays.exactly:
            met &= np.bitwise_count(layer.masks & group) == 1
        rows = np.flatnonzero(met)
        closing = self._closing_worth[layer.exits[rows], layer.first : layer.stop]
        values = np.full(len(layer.masks), IMPOSSIBLE)
        values[rows] = (layer.profile[rows] + closing).max(axis=1, initial=IMPOSSIBLE)
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


@dataclass(frozen=True, slots=True)
class _Bounds:
    """Where the bound on the rest of each row stands, and what a value there must be more than."""

    table: Values
    place: Indices
    column: Indices
    least: Values

    def live(self, values: Values, first: int, waits: Flags) -> _Live:
        """Wait where allowed and pick what could still win.

        `values` are by slot since `first`, up to the last slot of arriving. The bound never rises
        by waiting: who can't win then can't win later either.
        """
        stop, slots = first + values.shape[1], self.table.shape[-1] - 1
        best = np.where(waits, values.max(axis=1, initial=IMPOSSIBLE), IMPOSSIBLE)
        while stop < slots and self._any_live(best, stop):
            stop += 1
        ready = np.full((len(values), stop - first), IMPOSSIBLE)
        ready[:, : values.shape[1]] = values
        if waits.all():
            np.maximum.accumulate(ready, axis=1, out=ready)
        elif waits.any():
            ready[waits] = np.maximum.accumulate(ready[waits], axis=1)
        hope = ready + self.table[self.place, self.column, first:stop]
        row, slot = np.nonzero(hope > self.least[:, np.newaxis])
        return _Live(row, slot + first, ready[row, slot])

    def _any_live(self, values: Values, slot: int) -> bool:
        hope = values + self.table[self.place, self.column, slot]
        return bool((hope > self.least).any())


def _leaving(day: ForwardDay, table: RelaxedBound, layer: Layer, floor: float) -> _Live:
    """Wait at the exits while no must is out of reach."""
    waits = day.arrays.exit_waits[layer.exits]
    column, given = table.known_at_exits(layer.exits, layer.masks)
    bounds = _Bounds(table.to_go, layer.exits, column, floor - given)
    live = bounds.live(layer.profile, layer.first, waits)
    until = day.chance.of_days(layer.masks, layer.exits, day.arrays.slots - 1)
    alive = live.slot <= until[live.row]
    return live if alive.all() else _Live(live.row[alive], live.slot[alive], live.value[alive])


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
    columns, given = table.known_at_entries(sets)
    least = floor - given
    # What can't win on arriving can't win by waiting either.
    alive = value + table.at_entry[entries, columns[set_of], arrival] > least[set_of]
    number = (set_of[:, np.newaxis] * len(entries) + entries)[alive]
    pairs, row = _distinct(number, len(sets) * len(entries))
    arrival = arrival[alive]
    first, stop = int(arrival.min(initial=arrays.slots)), int(arrival.max(initial=-1)) + 1
    ready = np.full((len(pairs), max(stop - first, 0)), IMPOSSIBLE)
    np.maximum.at(ready.reshape(-1), row * (stop - first) + arrival - first, value[alive])
    of, entry = np.divmod(pairs, max(len(entries), 1))
    bounds = _Bounds(table.at_entry, entry, columns[of, entry], least[of, entry])
    return pairs, bounds.live(ready, first, arrays.entry_waits[entry])


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
    if len(parts) == 1:
        return parts[0]
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
