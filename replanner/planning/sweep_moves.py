"""One layer of the exact table in slices, many sets and places at once: without compiled loops.

In a day split into levels a leg is ridden alike from all levels of a place, and so is a road: moves
that are alike are made together, over stretches of slots that take equally long.
"""

from collections.abc import Hashable, Iterable, Sequence
from itertools import pairwise

import numpy as np

from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, Flags, Indices
from replanner.planning.exact_prices import Values
from replanner.planning.problem import Slots
from replanner.planning.sweep_waits import spans, worth_waiting

CELLS_AT_ONCE = 50_000
"""Values of one place swept in one go, to stay in the cache."""

Moves = list[tuple[int, int, int, Values]]
"""Stretches of slots of leaving that take equally long: first, end, slots taken, worth."""

Waits = tuple[Indices, list[tuple[int, int]]]
"""Places, and the slots in which one waits there: first and end of each stretch."""


class SweptMoves:
    """The moves of a day, those that are alike together."""

    def __init__(self, arrays: DayArrays) -> None:
        self._arrays = arrays
        keys = [
            (leg, arrival.tobytes(), worth.tobytes())
            for leg, arrival, worth in zip(
                arrays.way_leg.tolist(), arrays.ride_arrival, arrays.ride_worth, strict=True
            )
        ]
        alike = _alike(keys, arrays.way_entry)
        self._ways = np.array([way for ways in alike for way in ways], dtype=np.int64)
        self._way_group = np.repeat(np.arange(len(alike)), [len(ways) for ways in alike])
        first = [ways[0] for ways in alike]
        self._rides = _runs(arrays.ride_arrival[first], arrays.ride_worth[first])
        exits, entries = np.nonzero(arrays.met)
        arrival, worth = arrays.road_arrival[exits, entries], arrays.road_worth[exits, entries]
        roads = [(a.tobytes(), w.tobytes()) for a, w in zip(arrival, worth, strict=True)]
        alike = _alike(roads, exits)
        first = [moves[0] for moves in alike]
        self._roads = list(
            zip(
                [exits[moves] for moves in alike],
                [entries[moves] for moves in alike],
                _runs(arrival[first], worth[first]),
                strict=True,
            )
        )

        at_exits, at_entries = worth_waiting(arrays)
        self._exit_waits, self._entry_waits = _together(at_exits), _together(at_entries)

    def fill(
        self, layer: Values, rows: Indices, smaller: Values, rests: Indices, price: Values
    ) -> None:
        """Fill a layer, all impossible before, from that of the sets one leg smaller.

        Parameters
        ----------
        layer, smaller : ndarrays of float, shape (rows + 1, slots that count + 1)
        rows : ndarray of int, shape (exits, sets)
            Where in `layer` a set is told from an exit, rising; -1: it is not.
        rests : ndarray of int, shape (ways, sets)
            Where in `smaller` the rest is told once a way is ridden first; -1: it can't be.
        price : ndarray of float, shape (ways, sets)
            Of order.
        """
        at_once = max(1, CELLS_AT_ONCE // layer.shape[1])
        for first in range(0, rows.shape[1], at_once):
            some = slice(first, first + at_once)
            self._fill(layer, rows[:, some], smaller, rests[:, some], price[:, some])

    def _fill(
        self, layer: Values, rows: Indices, smaller: Values, rests: Indices, price: Values
    ) -> None:
        arrays = self._arrays
        number, columns = np.nonzero(rests[self._ways] >= 0)
        ways = self._ways[number]
        entries = np.full((len(arrays.entries), rows.shape[1]), -1)
        entries[arrays.way_entry[ways], columns] = 0
        begun = entries >= 0
        entries[begun] = np.arange(np.count_nonzero(begun))
        at_entry = np.full((np.count_nonzero(begun), layer.shape[1]), IMPOSSIBLE)
        into, rest = entries[arrays.way_entry[ways], columns], rests[ways, columns]
        paid = price[ways, columns][:, np.newaxis]
        free = not paid.any()
        bounds = np.searchsorted(self._way_group[number], np.arange(len(self._rides) + 1))
        for moves, (begins, ends) in zip(self._rides, pairwise(bounds.tolist()), strict=True):
            for part in _parts(begins, ends, layer.shape[1]):
                after = smaller[rest[part]]
                if not free:
                    after -= paid[part]
                _better(at_entry, into[part], after, moves)
        _wait(at_entry, entries, self._entry_waits)
        for a, e, moves in self._roads:
            place, column = np.nonzero((rows[a] >= 0) & begun[e])
            here, there = rows[a[place], column], entries[e[place], column]
            for part in _parts(0, len(here), layer.shape[1]):
                _better(layer, here[part], at_entry[there[part]], moves)
        _wait(layer, rows, self._exit_waits)


def _alike(keys: Iterable[Hashable], into: Indices) -> list[list[int]]:
    """Put numbers together whose keys are the same, each list rising in `into`."""
    keys = list(keys)
    found: dict[Hashable, list[list[int]]] = {}
    for number in np.argsort(into, kind="stable").tolist():
        several = found.setdefault(keys[number], [])
        free = next((one for one in several if into[one[-1]] != into[number]), None)
        if free is None:
            several.append([number])
        else:
            free.append(number)
    return [one for several in found.values() for one in several]


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


def _together(waits: Flags) -> list[Waits]:
    """Put places together at which one waits in the same slots."""
    found: dict[bytes, list[int]] = {}
    for place in np.flatnonzero(waits.any(axis=1)).tolist():
        found.setdefault(waits[place].tobytes(), []).append(place)
    return [(np.array(places), spans(waits[places[0]])) for places in found.values()]


def _parts(begins: int, ends: int, width: int) -> Sequence[slice]:
    """Cut rows into parts that stay in the cache."""
    at_once = max(1, CELLS_AT_ONCE // width)
    return [slice(first, min(first + at_once, ends)) for first in range(begins, ends, at_once)]


def _better(values: Values, rows: Indices, there: Values, moves: Moves) -> None:
    """Better rows (rising) of leaving by those of arriving, within the slots there are."""
    stop = there.shape[1] - 1
    in_place = rows[-1] - rows[0] + 1 == len(rows)
    here = values[rows[0] : rows[-1] + 1] if in_place else values[rows]
    for first, end, by, worth in moves:
        last = min(end, stop - by)
        if last > first:
            going = there[:, first + by : last + by] + worth[: last - first]
            np.maximum(here[:, first:last], going, out=here[:, first:last])
    if not in_place:
        values[rows] = here


def _wait(values: Values, rows: Indices, waits: list[Waits]) -> None:
    """Let slots look on to later ones in rows told by place and set; -1: none."""
    for places, slots in waits:
        chosen = rows[places]
        chosen = chosen[chosen >= 0]
        if not chosen.size:
            continue
        in_place = chosen[-1] - chosen[0] + 1 == chosen.size
        some = slice(chosen[0], chosen[-1] + 1) if in_place else chosen
        for first, end in slots:
            later = slice(first, end + 1)
            waiting = values[some, later]
            np.maximum.accumulate(waiting[:, ::-1], axis=-1, out=waiting[:, ::-1])
            if not in_place:
                values[some, later] = waiting
