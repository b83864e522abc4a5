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

import numpy as np

from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, Move, SetsOfLegs, Values


@dataclass(frozen=True, slots=True)
class SweepTable:
    """What the sweep found.

    Parameters
    ----------
    masks : ndarray of int, shape (S,)
        The sets of legs that may be ridden together, by size, then by mask.
    whole : ndarray of float, shape (S,)
        Best value of a day riding exactly that set; -inf: impossible. [1e-6 min]
    to_go : tuple of ndarray, shapes (exits, slots, sets of that size)
        Value to go, by number of legs.
    column : dict of int to int
        Where a set stands in its layer.
    complete : bool
        False if stopped: sets larger than the last layer are missing.
    """

    masks: SetsOfLegs
    whole: Values
    to_go: tuple[Values, ...]
    column: dict[int, int]
    complete: bool

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


def sweep(arrays: DayArrays, stopped: Callable[[], bool]) -> SweepTable:
    """Fill the table, layer by layer, until done or `stopped()`.

    Parameters
    ----------
    arrays : DayArrays
    stopped : callable
        Asked between steps; True ends the sweep after the last full layer.
    """
    layers = layers_of_sets(arrays)
    position = np.zeros(1 << arrays.legs, dtype=np.int64)
    to_go = [_closing_layer(arrays)]
    for size in range(1, len(layers)):
        position[layers[size - 1]] = np.arange(len(layers[size - 1]))
        layer = _layer(arrays, layers[size], to_go[-1], position, stopped)
        if layer is None:
            break
        to_go.append(layer)
    done = layers[: len(to_go)]
    leaving = slice(0, arrays.latest + 1)
    return SweepTable(
        masks=np.concatenate(done),
        whole=np.concatenate([layer[0, leaving].max(axis=0) for layer in to_go]),
        to_go=tuple(to_go),
        column={int(mask): i for masks in done for i, mask in enumerate(masks)},
        complete=len(to_go) == len(layers),
    )


def _closing_layer(arrays: DayArrays) -> Values:
    layer = np.stack([closing.worth for closing in arrays.closings])[:, :, np.newaxis]
    for a, waits in enumerate(arrays.exit_waits):
        if waits:
            layer[a] = arrays.waited_until(layer[a])
    return layer


def _layer(
    arrays: DayArrays,
    masks: SetsOfLegs,
    smaller: Values,
    position: SetsOfLegs,
    stopped: Callable[[], bool],
) -> Values | None:
    """Value to go of all sets of one size from those one leg smaller; None if stopped."""
    shape = (arrays.slots, len(masks))
    at_entry = [np.full(shape, IMPOSSIBLE) for _ in arrays.entries]
    for leg in range(arrays.legs):
        rest = masks & ~(1 << leg)
        columns = np.flatnonzero((rest != masks) & (rest & arrays.first_of[leg] == 0))
        rest = rest[columns]
        price = arrays.order_cost * np.bitwise_count(rest & arrays.own_before[leg])
        for way in arrays.ways:
            if way.leg == leg and columns.size:
                after = smaller[way.exit][:, position[rest]] - price
                _ride_first(at_entry[way.entry], columns, way.ride, after)
        if stopped():
            return None
    layer = np.full((len(arrays.exits), *shape), IMPOSSIBLE)
    for e, waits in enumerate(arrays.entry_waits):
        if waits:
            at_entry[e] = arrays.waited_until(at_entry[e])
    for a, waits in enumerate(arrays.exit_waits):
        for e, value in enumerate(at_entry):
            road = arrays.roads[a][e]
            for run in road.runs:
                going = value[run.arriving] + road.worth[run.leaving, np.newaxis]
                np.maximum(layer[a, run.leaving], going, out=layer[a, run.leaving])
        if waits:
            layer[a] = arrays.waited_until(layer[a])
        if stopped():
            return None
    return layer


def _ride_first(at_entry: Values, columns: SetsOfLegs, ride: Move, after: Values) -> None:
    """Better the values at an entry by riding this way first; `after` is the value once ridden."""
    best = at_entry[:, columns]
    for run in ride.runs:
        riding = after[run.arriving] + ride.worth[run.leaving, np.newaxis]
        np.maximum(best[run.leaving], riding, out=best[run.leaving])
    at_entry[:, columns] = best
