"""The exact table of a day: every set of legs, every place, every slot, swept back from the end.

A layer holds the best value of riding exactly a set of so many legs, in any order, from an exit in
a slot to the end of the day, waits allowed at either side of a connector. A set of k legs needs
only the sets of k - 1 legs (any one of them ridden first), so whole layers are swept at once.
Nothing is assumed of times: riding may get quicker by starting later, worth may rise and fall,
waiting may be dear or forbidden. Because a set is ridden exactly, prices of order, exclusions and
precedence need no correction, and the table answers at once for any legs forbidden or forced: the
best value of each whole set is told by `whole`, for any worth of leaving.

Bellman, R. (1962), "Dynamic programming treatment of the travelling salesman problem", Journal of
the ACM 9, 61-63, widened by the slot as a state.

Sets that can't be ridden together at all are left out, and so are all slots after the last in
which riding as many legs can still begin. At a place that is only come to by riding certain legs,
sets that hold one of these are never asked for, nor are sets before which none of the legs that end
there can have been ridden: they are left out too, which is most of a day split into levels.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from replanner.planning import fast
from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, Flags, Indices, SetsOfLegs
from replanner.planning.exact_prices import Values
from replanner.planning.sweep_loops import Runs, living, runs_of, sweep_layer
from replanner.planning.sweep_moves import SweptMoves

NOWHERE = -1
"""Row of a set that can't be ridden from a place, or is not asked for there."""


@dataclass(frozen=True, slots=True)
class SweepLayer:
    """Value to go for all sets of one size.

    Parameters
    ----------
    sets : ndarray of int, shape (S,)
        Rising.
    rows : ndarray of int, shape (exits, S)
        Where in `values` a set is told from an exit; -1, its last row: nothing is possible.
    values : ndarray of float, shape (rows + 1, slots that count + 1)
        Nothing is possible in later slots. [units]
    """

    sets: SetsOfLegs
    rows: Indices
    values: Values

    @property
    def stop(self) -> int:
        """How many slots count."""
        return int(self.values.shape[1]) - 1

    def of_set(self, mask: int) -> int:
        """Column of a set; -1: it is not among them."""
        column = int(np.searchsorted(self.sets, mask))
        if column < len(self.sets) and self.sets[column] == mask:
            return column
        return -1


@dataclass(frozen=True, slots=True)
class SweepTable:
    """What the sweep found.

    Parameters
    ----------
    masks : ndarray of int, shape (S,)
        The sets of legs that can be ridden together, by size, then by mask.
    layers : tuple of SweepLayer
        By number of legs.
    """

    masks: SetsOfLegs
    layers: tuple[SweepLayer, ...]

    def whole(self, start_worth: Values) -> Values:
        """Best value of a day riding exactly each set, shape (S,); -inf: impossible. [units]."""
        worths = [
            layer.values[layer.rows[0], :-1] + start_worth[: layer.stop] for layer in self.layers
        ]
        return np.concatenate([worth.max(axis=1, initial=IMPOSSIBLE) for worth in worths])

    def value_to_go(self, exits: Indices, mask: int) -> Values | None:
        """Value to go for exactly this set, shape (exits, slots that count); None: impossible.

        From exits that can be come to without riding any of it; else nothing may be told.
        """
        size = mask.bit_count()
        if size >= len(self.layers):
            return None
        layer = self.layers[size]
        column = layer.of_set(mask)
        return None if column < 0 else layer.values[layer.rows[exits, column], :-1]


def table_bytes(arrays: DayArrays) -> int:
    """Memory the whole table would take at most."""
    return (1 << len(arrays.rideable)) * len(arrays.exits) * arrays.slots * 8


@dataclass(frozen=True, slots=True)
class Known:
    """The table of a day that differs in nothing but how one leg is ridden."""

    table: SweepTable
    leg: int


def sweep(
    arrays: DayArrays, stopped: Callable[[], bool], known: Known | None = None
) -> SweepTable | None:
    """Fill the table, layer by layer; None if `stopped()` said so on the way.

    Parameters
    ----------
    arrays : DayArrays
    stopped : callable
        Asked between steps.
    known : Known, optional
        Only the sets that hold its leg are swept anew.
    """
    layers = [_closing_layer(arrays)]
    day = _SweptDay(arrays) if len(arrays.way_leg) else None
    while day is not None and layers[-1].sets.size:
        if stopped():
            return None
        layers.append(day.longer(layers[-1], known))
    return SweepTable(masks=np.concatenate([layer.sets for layer in layers]), layers=tuple(layers))


def _closing_layer(arrays: DayArrays) -> SweepLayer:
    exits = len(arrays.exits)
    values = np.full((exits + 1, arrays.slots + 1), IMPOSSIBLE)
    values[:-1, :-1] = arrays.closing_worth
    waits = np.flatnonzero(arrays.exit_waits)
    values[waits] = np.maximum.accumulate(values[waits, ::-1], axis=-1)[:, ::-1]
    return SweepLayer(np.zeros(1, dtype=np.int64), np.arange(exits)[:, np.newaxis], values)


def _joined(swept: SweepLayer, known: SweepLayer, leg: int) -> SweepLayer:
    """Add the sets without a leg from a layer of a day that differs in that leg alone."""
    without = known.sets >> leg & 1 == 0
    rows = known.rows[:, without]
    rows = np.where(rows == NOWHERE, NOWHERE, rows + len(swept.values) - 1)
    sets = np.concatenate([swept.sets, known.sets[without]])
    values = np.full(
        (len(swept.values) - 1 + len(known.values), max(swept.stop, known.stop) + 1), IMPOSSIBLE
    )
    values[: len(swept.values), : swept.stop] = swept.values[:, :-1]
    values[len(swept.values) - 1 :, : known.stop] = known.values[:, :-1]
    order = np.argsort(sets)
    return SweepLayer(sets[order], np.hstack([swept.rows, rows])[:, order], values)


def _possible(layer: SweepLayer) -> SweepLayer:
    """Leave out the sets and last slots in which nothing is possible."""
    possible, stop = (living if fast.available() else _living)(layer.values)
    row_lives = possible[layer.rows]
    kept = row_lives.any(axis=0)
    rows = np.where(row_lives, layer.rows, NOWHERE)[:, kept]
    return SweepLayer(layer.sets[kept], rows, np.ascontiguousarray(layer.values[:, : stop + 1]))


def _living(values: Values) -> tuple[Flags, int]:
    """Tell in which rows anything is possible, and the slot after the last."""
    alive = values > IMPOSSIBLE
    slots = np.flatnonzero(alive.any(axis=0))
    return np.asarray(alive.any(axis=1)), int(slots[-1]) + 1 if slots.size else 0


def ridden_for_sure(arrays: DayArrays) -> tuple[SetsOfLegs, SetsOfLegs]:
    """Give the legs without which exits and entries are not come to; all bits: they never are."""
    exits = np.full(len(arrays.exits), -1)
    exits[0] = 0
    closed_by = np.array(arrays.closed_by, dtype=np.int64)[arrays.way_leg]
    never = (arrays.ride_arrival >= arrays.slots).all(axis=1)
    while True:
        before = exits.copy()
        entries = np.bitwise_and.reduce(np.where(arrays.met, exits[:, np.newaxis], -1), axis=0)
        ridden = entries[arrays.way_entry]
        barred = never | (ridden & closed_by != 0)
        ridden = np.where(barred, -1, ridden | 1 << arrays.way_leg)
        np.bitwise_and.at(exits, arrays.way_exit, ridden)
        if np.array_equal(exits, before):
            return exits, entries


class _SweptDay:
    """A day's moves, ready for sweeping."""

    def __init__(self, arrays: DayArrays) -> None:
        self._arrays = arrays
        exits, entries = ridden_for_sure(arrays)
        self._at_exit = exits[:, np.newaxis]
        self._at_entry = entries[arrays.way_entry, np.newaxis]
        self._legs = np.array(arrays.rideable, dtype=np.int64)
        excluded = _excluded(arrays)[:, np.newaxis]
        self._excluded, self._not_after = excluded[self._legs], excluded[arrays.way_leg]
        self._begins = _one_hot(arrays.way_entry, len(arrays.entries))
        self._ends = _one_hot(arrays.way_exit, len(arrays.exits))
        self._own_before = np.array(arrays.own_before, dtype=np.int64)[:, np.newaxis]
        self._moves = _runs(arrays) if fast.available() else SweptMoves(arrays)

    def longer(self, smaller: SweepLayer, known: Known | None) -> SweepLayer:
        """Give the layer of the sets one leg larger, as far as anything is possible."""
        sets, rests = self._first_ridden(smaller)
        if known is None:
            return _possible(self._swept(smaller, sets, rests))
        anew = sets >> known.leg & 1 == 1
        layer = _possible(self._swept(smaller, sets[anew], rests[:, anew]))
        size = int(smaller.sets[0]).bit_count() + 1
        if size == len(known.table.layers):
            return layer
        return _joined(layer, known.table.layers[size], known.leg)

    def _swept(self, smaller: SweepLayer, sets: SetsOfLegs, rests: Indices) -> SweepLayer:
        arrays = self._arrays
        price = (arrays.order_cost * np.bitwise_count(sets & self._own_before))[arrays.way_leg]
        begun = self._begins @ (rests >= 0)
        come = self._ends @ (sets & self._not_after == 0)
        come[0] = True
        left = (arrays.met @ begun) & (sets & self._at_exit == 0) & come
        rows, count = np.full(left.shape, NOWHERE), np.count_nonzero(left)
        rows[left] = np.arange(count)
        values = np.empty((count + 1, smaller.stop + 1))
        if isinstance(self._moves, SweptMoves):
            values[:] = IMPOSSIBLE
            self._moves.fill(values, rows, smaller.values, rests, price)
            return SweepLayer(sets, rows, values)
        rides, roads = self._moves
        sweep_layer(
            values,
            smaller.values,
            (rests, price, arrays.way_entry),
            (rides, arrays.ride_worth),
            (roads, arrays.road_worth.reshape(-1, arrays.slots)),
            (arrays.exit_waits, arrays.entry_waits),
            rows,
        )
        return SweepLayer(sets, rows, values)

    def _first_ridden(self, smaller: SweepLayer) -> tuple[SetsOfLegs, Indices]:
        """Give the sets one leg larger, and the row of the rest once a way is ridden first.

        The latter of shape (ways, sets), -1 where that can't be.
        """
        arrays = self._arrays
        number, column = np.nonzero(smaller.sets & self._excluded == 0)
        leg = self._legs[number]
        larger = smaller.sets[column] | 1 << leg
        larger_sorted = np.sort(larger)
        first = np.ones(larger.shape, np.bool_)
        first[1:] = larger_sorted[1:] != larger_sorted[:-1]
        sets = larger_sorted[first]
        rest = np.full((arrays.legs, len(sets)), NOWHERE)
        rest[leg, np.searchsorted(sets, larger)] = column
        of_way = rest[arrays.way_leg]
        rows = smaller.rows[arrays.way_exit[:, np.newaxis], of_way]
        return sets, np.where((sets & self._at_entry == 0) & (of_way >= 0), rows, NOWHERE)


def _one_hot(places: Indices, count: int) -> Flags:
    """Tell by place which ways are there, shape (count, ways).

    Flags, not floats: products of small float matrices warn of invalid values now and then.
    """
    return np.equal.outer(np.arange(count), places)


def _runs(arrays: DayArrays) -> tuple[Runs, Runs]:
    """Give the runs of the ways and of the roads."""
    return runs_of(arrays.ride_arrival), runs_of(arrays.road_arrival.reshape(-1, arrays.slots))


def _excluded(arrays: DayArrays) -> SetsOfLegs:
    """For each leg the legs that can't come after it, itself among them; shape (legs,)."""
    masks = [1 << leg | first for leg, first in enumerate(arrays.first_of)]
    for group in arrays.exclusive:
        masks = [mask | group * (group >> leg & 1) for leg, mask in enumerate(masks)]
    return np.array(masks, dtype=np.int64)
