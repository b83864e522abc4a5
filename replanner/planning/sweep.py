"""The exact table of a day: every set of legs, every place, every slot, swept back from the end.

`to_go[k][a, t, i]` is the best value of riding exactly the i-th set of k legs, in any order, from
exit place a in slot t to the end of the day, waits allowed at either side of a connector. A set of
k legs needs only the sets of k - 1 legs (any one of them ridden first), so whole layers are swept
at once. Nothing is assumed of times: riding may get quicker by starting later, worth may rise and
fall, waiting may be dear or forbidden. Because a set is ridden exactly, prices of order,
exclusions and precedence need no correction, and the table answers at once for any legs forbidden
or forced: the best value of each whole set stands in `whole`.

Bellman, R. (1962), "Dynamic programming treatment of the travelling salesman problem", Journal of
the ACM 9, 61-63, widened by the slot as a state.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, Move, SetsOfLegs
from replanner.planning.exact_prices import Values


@dataclass(frozen=True, slots=True)
class SweepTable:
    """What the sweep found.

    Parameters
    ----------
    masks : ndarray of int, shape (S,)
        The sets of legs that may be ridden together, by size, then by mask.
    whole : ndarray of float, shape (S,)
        Best value of a day riding exactly that set; -inf: impossible. [units]
    to_go : tuple of ndarray, shapes (exits, slots, sets of that size)
        Value to go, by number of legs. [units]
    column : dict of int to int
        Where a set stands in its layer.
    """

    masks: SetsOfLegs
    whole: Values
    to_go: tuple[Values, ...]
    column: dict[int, int]

    def value_to_go(self, mask: int) -> Values:
        """Value to go for exactly this set, shape (exits, slots)."""
        return self.to_go[mask.bit_count()][:, :, self.column[mask]]


def layers_of_sets(arrays: DayArrays) -> list[SetsOfLegs]:
    """List the sets of legs allowed together, by their number, each layer in rising order."""
    masks = np.zeros(1, dtype=np.int64)
    for leg in sorted({way.leg for way in arrays.ways}):
        masks = np.concatenate([masks, masks | 1 << leg])
    for group in arrays.exclusive:
        masks = masks[np.bitwise_count(masks & group) <= 1]
    sizes = np.bitwise_count(masks)
    return [masks[sizes == size] for size in range(int(sizes.max()) + 1)]


def table_bytes(arrays: DayArrays) -> int:
    """Memory the whole table would take."""
    return (1 << arrays.rideable) * len(arrays.exits) * arrays.slots * 8


def sweep(arrays: DayArrays, stopped: Callable[[], bool]) -> SweepTable | None:
    """Fill the table, layer by layer; None if `stopped()` said so on the way.

    Parameters
    ----------
    arrays : DayArrays
    stopped : callable
        Asked between steps.
    """
    layers = layers_of_sets(arrays)
    position = np.zeros(1 << arrays.legs, dtype=np.int64)
    to_go = [_closing_layer(arrays)]
    for smaller, masks in pairwise(layers):
        position[smaller] = np.arange(len(smaller))
        at_entry = _at_entries(arrays, masks, to_go[-1], position)
        if stopped():
            return None
        to_go.append(_at_exits(arrays, at_entry))
        if stopped():
            return None
    leaving = slice(0, arrays.latest + 1)
    return SweepTable(
        masks=np.concatenate(layers),
        whole=np.concatenate([layer[0, leaving].max(axis=0) for layer in to_go]),
        to_go=tuple(to_go),
        column={int(mask): i for masks in layers for i, mask in enumerate(masks)},
    )


def _closing_layer(arrays: DayArrays) -> Values:
    layer = np.stack([closing.worth for closing in arrays.closings])[:, :, np.newaxis]
    for a, waits in enumerate(arrays.exit_waits):
        if waits:
            layer[a] = arrays.waited_until(layer[a])
    return layer


def _at_entries(
    arrays: DayArrays, masks: SetsOfLegs, smaller: Values, position: SetsOfLegs
) -> list[Values]:
    """Value at each entry of all sets of one size, from those one leg smaller at the exits."""
    at_entry = [np.full((arrays.slots, len(masks)), IMPOSSIBLE) for _ in arrays.entries]
    for way in arrays.ways:
        rest = masks & ~(1 << way.leg)
        columns = np.flatnonzero((rest != masks) & (rest & arrays.first_of[way.leg] == 0))
        rest = rest[columns]
        price = arrays.order_cost * np.bitwise_count(rest & arrays.own_before[way.leg])
        after = smaller[way.exit][:, position[rest]] - price
        _ride_first(at_entry[way.entry], columns, way.ride, after)
    for e, waits in enumerate(arrays.entry_waits):
        if waits:
            at_entry[e] = arrays.waited_until(at_entry[e])
    return at_entry


def _at_exits(arrays: DayArrays, at_entry: list[Values]) -> Values:
    """Value at each exit from that at the entries."""
    layer = np.full((len(arrays.exits), *at_entry[0].shape), IMPOSSIBLE)
    for a, waits in enumerate(arrays.exit_waits):
        for e, value in enumerate(at_entry):
            road = arrays.roads[a][e]
            for run in road.runs:
                going = value[run.arriving] + road.worth[run.leaving, np.newaxis]
                np.maximum(layer[a, run.leaving], going, out=layer[a, run.leaving])
        if waits:
            layer[a] = arrays.waited_until(layer[a])
    return layer


def _ride_first(at_entry: Values, columns: SetsOfLegs, ride: Move, after: Values) -> None:
    """Better the values at an entry by riding this way first; `after` is the value once ridden."""
    best = at_entry[:, columns]
    for run in ride.runs:
        riding = after[run.arriving] + ride.worth[run.leaving, np.newaxis]
        np.maximum(best[run.leaving], riding, out=best[run.leaving])
    at_entry[:, columns] = best
