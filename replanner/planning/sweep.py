"""The exact table of a day: every set of legs, every place, every slot, swept back from the end.

`to_go[k][a, i, t]` is the best value of riding exactly the i-th set of k legs, in any order, from
exit place a in slot t to the end of the day, waits allowed at either side of a connector. A set of
k legs needs only the sets of k - 1 legs (any one of them ridden first), so whole layers are swept
at once. Nothing is assumed of times: riding may get quicker by starting later, worth may rise and
fall, waiting may be dear or forbidden. Because a set is ridden exactly, prices of order,
exclusions and precedence need no correction, and the table answers at once for any legs forbidden
or forced: the best value of each whole set is told by `whole`, for any worth of leaving.

Bellman, R. (1962), "Dynamic programming treatment of the travelling salesman problem", Journal of
the ACM 9, 61-63, widened by the slot as a state.

Sets that can't be ridden together at all are left out, and so are all slots after the last in
which riding as many legs can still begin.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from replanner.planning import fast
from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, Indices, SetsOfLegs
from replanner.planning.exact_prices import Values
from replanner.planning.problem import Slots
from replanner.planning.sweep_loops import sweep_layer

CELLS_AT_ONCE = 50_000
"""Values of one place swept in one go, to stay in the cache."""


@dataclass(frozen=True, slots=True)
class SweepTable:
    """What the sweep found.

    Parameters
    ----------
    slots : int
    masks : ndarray of int, shape (S,)
        The sets of legs that can be ridden together, by size, then by mask.
    to_go : tuple of ndarray, shapes (exits, sets of that size, slots that count + 1)
        Value to go, by number of legs; nothing is possible in later slots. [units]
    layers : tuple of ndarray of int
        The sets by number of legs, rising.
    """

    slots: int
    masks: SetsOfLegs
    to_go: tuple[Values, ...]
    layers: tuple[SetsOfLegs, ...]

    def whole(self, start_worth: Values) -> Values:
        """Best value of a day riding exactly each set, shape (S,); -inf: impossible. [units]."""
        worths = [layer[0, :, :-1] + start_worth[: layer.shape[2] - 1] for layer in self.to_go]
        return np.concatenate([worth.max(axis=1, initial=IMPOSSIBLE) for worth in worths])

    def value_to_go(self, mask: int) -> Values | None:
        """Value to go for exactly this set, shape (exits, slots that count); None: impossible."""
        size = mask.bit_count()
        if size >= len(self.layers):
            return None
        row = int(np.searchsorted(self.layers[size], mask))
        if row == len(self.layers[size]) or self.layers[size][row] != mask:
            return None
        return self.to_go[size][:, row, :-1]


def table_bytes(arrays: DayArrays) -> int:
    """Memory the whole table would take at most."""
    return (1 << len(arrays.rideable)) * len(arrays.exits) * arrays.slots * 8


def sweep(arrays: DayArrays, stopped: Callable[[], bool]) -> SweepTable | None:
    """Fill the table, layer by layer; None if `stopped()` said so on the way.

    Parameters
    ----------
    arrays : DayArrays
    stopped : callable
        Asked between steps.
    """
    layers = [np.zeros(1, dtype=np.int64)]
    to_go = [_closing_layer(arrays)]
    excluded = _excluded(arrays)
    runs = None if fast.available() else _Runs(arrays)
    while len(layers[-1]) and len(arrays.way_leg):
        if stopped():
            return None
        masks, rests = _longer(arrays, layers[-1], excluded)
        layer = _swept(arrays, masks, rests, to_go[-1], runs)
        layer, rows = _possible(layer)
        if not rows.size:
            break
        layers.append(masks[rows])
        to_go.append(layer)
    return SweepTable(
        slots=arrays.slots,
        masks=np.concatenate(layers),
        to_go=tuple(to_go),
        layers=tuple(layers),
    )


def _possible(layer: Values) -> tuple[Values, Indices]:
    """Leave out sets and last slots in which nothing is possible; tell which sets are left."""
    alive = layer.max(axis=0, initial=IMPOSSIBLE) > IMPOSSIBLE
    rows = np.flatnonzero(alive.any(axis=1))
    if not rows.size:
        return layer, rows
    stop = int(np.flatnonzero(alive.any(axis=0))[-1]) + 1
    kept = layer if len(rows) == len(alive) else layer[:, rows]
    return np.ascontiguousarray(kept[..., : stop + 1]), rows


def _excluded(arrays: DayArrays) -> SetsOfLegs:
    """For each leg the legs that can't come after it, itself among them; shape (legs,)."""
    masks = [1 << leg | first for leg, first in enumerate(arrays.first_of)]
    for group in arrays.exclusive:
        masks = [mask | group * (group >> leg & 1) for leg, mask in enumerate(masks)]
    return np.array(masks, dtype=np.int64)


def _closing_layer(arrays: DayArrays) -> Values:
    layer = np.full((len(arrays.exits), 1, arrays.slots + 1), IMPOSSIBLE)
    layer[:, 0, :-1] = arrays.closing_worth
    _wait(layer, np.flatnonzero(arrays.exit_waits))
    return layer


def _longer(
    arrays: DayArrays, smaller: SetsOfLegs, excluded: SetsOfLegs
) -> tuple[SetsOfLegs, Indices]:
    """Give the sets one leg larger, and for each way where the rest stands once it is ridden first.

    The latter of shape (ways, sets), -1 where the way can't be ridden first.
    """
    may = smaller[np.newaxis] & excluded[arrays.way_leg, np.newaxis] == 0
    larger = smaller[np.newaxis] | 1 << arrays.way_leg[:, np.newaxis]
    masks = np.unique(larger[may])
    rests = np.full((len(may), len(masks)), -1)
    way, row = np.nonzero(may)
    rests[way, np.searchsorted(masks, larger[way, row])] = row
    return masks, rests


def _swept(
    arrays: DayArrays, masks: SetsOfLegs, rests: Indices, smaller: Values, runs: "_Runs | None"
) -> Values:
    """Value at each exit of all sets of one size, from those one leg smaller.

    `runs` None: by the compiled loops.
    """
    before = np.array(arrays.own_before, dtype=np.int64)[arrays.way_leg, np.newaxis]
    others = masks & ~(1 << arrays.way_leg[:, np.newaxis])
    price = arrays.order_cost * np.bitwise_count(others & before)
    stop = smaller.shape[2] - 1
    layer = np.full((len(arrays.exits), len(masks), stop + 1), IMPOSSIBLE)
    if runs is None:
        sweep_layer(
            layer,
            smaller,
            (rests, price, arrays.way_entry, arrays.way_exit),
            (arrays.ride_arrival, arrays.ride_worth),
            (arrays.road_arrival, arrays.road_worth),
            (arrays.exit_waits, arrays.entry_waits),
        )
        return layer
    at_once = max(1, CELLS_AT_ONCE // (stop + 1))
    for first in range(0, len(masks), at_once):
        some = slice(first, first + at_once)
        at_entry = np.full((len(arrays.entries), *layer[0, some].shape), IMPOSSIBLE)
        ways, columns = np.nonzero(rests[:, some] >= 0)
        bounds = np.searchsorted(ways, np.arange(len(rests) + 1)).tolist()
        for way, (begins, ends) in enumerate(pairwise(bounds)):
            if begins < ends:
                there = columns[begins:ends]
                after = smaller[arrays.way_exit[way], rests[way, some][there]]
                after -= price[way, some][there][:, np.newaxis]
                _ride_first(at_entry[arrays.way_entry[way]], there, runs.rides[way], after)
        _wait(at_entry, np.flatnonzero(arrays.entry_waits))
        for a, roads in enumerate(runs.roads):
            here = layer[a, some]
            for entry, moves in roads:
                _better(here, at_entry[entry], moves)
        _wait(layer[:, some], np.flatnonzero(arrays.exit_waits))
    return layer


Moves = list[tuple[int, int, int, Values]]
"""Stretches of slots of leaving that take equally long: first, end, slots taken, worth."""


class _Runs:
    """The moves of a day in stretches."""

    def __init__(self, arrays: DayArrays) -> None:
        self.rides = _runs(arrays.ride_arrival, arrays.ride_worth)
        exits, entries = len(arrays.exits), len(arrays.entries)
        roads = _runs(
            arrays.road_arrival.reshape(exits * entries, arrays.slots),
            arrays.road_worth.reshape(exits * entries, arrays.slots),
        )
        self.roads = [
            [(entry, moves) for entry in range(entries) if (moves := roads[a * entries + entry])]
            for a in range(exits)
        ]


def _runs(arrival: Slots, worth: Values) -> list[Moves]:
    slots = arrival.shape[1]
    takes = np.where(arrival < slots, arrival - np.arange(slots), -1)
    rows, firsts = np.nonzero(np.diff(takes, axis=1, prepend=-2) != 0)
    ends = np.append(firsts[1:], slots)
    ends[np.append(rows[1:] != rows[:-1], True)] = slots
    runs: list[Moves] = [[] for _ in takes]
    led = takes[rows, firsts] >= 0
    kept = (column[led].tolist() for column in (rows, firsts, ends, takes[rows, firsts]))
    for row, first, end, by in zip(*kept, strict=True):
        runs[row].append((first, end, by, worth[row, first:end]))
    return runs


def _better(here: Values, there: Values, moves: Moves) -> None:
    """Better values of leaving by those of arriving within the slots there are."""
    stop = there.shape[1] - 1
    for first, end, by, worth in moves:
        last = min(end, stop - by)
        if last > first:
            going = there[:, first + by : last + by] + worth[: last - first]
            np.maximum(here[:, first:last], going, out=here[:, first:last])


def _ride_first(at_entry: Values, columns: Indices, ride: Moves, after: Values) -> None:
    """Better the values at an entry by riding this way first; `after` is the value once ridden."""
    best = at_entry[columns]
    _better(best, after, ride)
    at_entry[columns] = best


def _wait(values: Values, places: Indices) -> None:
    """Let slots look on to later ones at some places; first axis places, last slots."""
    for place in places:
        later = values[place, :, ::-1]
        np.maximum.accumulate(later, axis=-1, out=later)
