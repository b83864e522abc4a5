"""When a section is passed, and the worst the hours round the passage hold.

Times are minutes since the first hour of the tables, so that index = floor(minutes / 60).
Forecasts err in time: the hour before the passage and the hour after it count as well (common
practice, no source).
"""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np

from replanner.hazards.model import Booleans, Floats, Indices


class Worst(NamedTuple):
    """The worst of a window of hours.

    Parameters
    ----------
    level : ndarray, shape (Z, ..., S)
        The worst known level, 0 where none is known.
    hour : ndarray of int, shape (Z, ..., S)
        The index where it stands: an hour of the passage itself where several are as bad. It may
        lie outside the table where nothing is known.
    unknown : ndarray of bool, shape (Z, ..., S)
        Where any hour of the window is not known.
    gap : ndarray of int, shape (Z, ..., S)
        The index of an hour that is not known: one of the passage itself where there is; where
        all are known, that of `hour`.
    """

    level: Floats
    hour: Indices
    unknown: Booleans
    gap: Indices


def gather(values: Floats, index: Indices) -> Floats:
    """Return the values at some hours; NaN for hours outside the table.

    Parameters
    ----------
    values : ndarray, shape L1 + (N,)
    index : ndarray of int, shape L2 + (S,)

    Returns
    -------
    ndarray, shape broadcast(L1, L2) + (S,)
    """
    return _taken(_padded(values), index)


def _padded(values: Floats) -> Floats:
    """Return the values with a missing hour on both ends, for all hours outside the table."""
    padded = np.full((*values.shape[:-1], values.shape[-1] + 2), np.nan)
    padded[..., 1:-1] = values
    return padded


def _taken(padded: Floats, index: Indices) -> Floats:
    at = np.minimum(np.maximum(index + 1, 0), padded.shape[-1] - 1)
    if at.ndim == 1:  # the same hours for all members
        return np.asarray(padded.take(at, axis=-1))
    axes = max(padded.ndim, at.ndim)
    return np.asarray(
        np.take_along_axis(
            padded.reshape((1,) * (axes - padded.ndim) + padded.shape),
            at.reshape((1,) * (axes - at.ndim) + at.shape),
            axis=-1,
        )
    )


def worst_around(levels: Floats, enter: Floats, leave: Floats, before: int = 0) -> Worst:
    """Return the worst level from the hour before entering to the hour after leaving.

    Parameters
    ----------
    levels : ndarray, shape (Z, ..., N)
    enter, leave : ndarray, shape (..., S)
        [min]
    before : int
        How many hours after minute 0 the levels begin.
    """
    first, last = hour_of(enter) - before, hour_of(leave) - before
    shape = np.broadcast_shapes(levels.shape[:-1], (1, *first.shape[:-1])) + first.shape[-1:]
    level, hour = np.zeros(shape), np.broadcast_to(first, shape).copy()
    unknown, gap = np.zeros(shape, np.bool_), hour.copy()
    padded = _padded(levels)
    for at in _from_the_passage_outwards(first, last):
        here = _taken(padded, at)
        worse = here > level  # false where it is missing
        level = np.where(worse, here, level)
        hour = np.where(worse, at, hour)
        missing = np.isnan(here)
        if missing.any():
            gap = np.where(missing & ~unknown, at, gap)
            unknown |= missing
    return Worst(level, hour, unknown, np.where(unknown, gap, hour))


def hour_of(minutes: Floats) -> Indices:
    """Return the index of the hour each minute lies in."""
    return np.floor(minutes / 60.0).astype(np.int64)


class Alike(NamedTuple):
    """Whole numbers sorted into those that are equal.

    `distinct`, shape (U,), holds each number once, rising; `number`, of the shape of the numbers,
    tells which of them each is.
    """

    distinct: Indices
    number: Indices


def alike(whole: Indices, below: int | None = None) -> Alike:
    """Sort whole numbers that lie near each other into equal ones, by ticking them off.

    As `numpy.unique` with its inverse, without sorting; memory grows with the range of numbers,
    which is looked for, or known to be from 0 to below a number.
    """
    least, from_least = 0, whole
    if below is None:
        least = int(whole.min())
        from_least = whole - least
        below = int(from_least.max()) + 1
    seen = np.zeros(below, np.bool_)
    seen[from_least] = True
    found = np.flatnonzero(seen)
    place = np.empty(seen.size, np.int64)
    place[found] = np.arange(found.size)
    return Alike(found + least, place[from_least])


def _from_the_passage_outwards(first: Indices, last: Indices) -> Iterator[Indices]:
    for step in range(int((last - first).max(initial=0)) + 1):
        yield np.minimum(first + step, last)
    yield first - 1
    yield last + 1


class ColumnsAt(Mapping[str, Floats]):
    """The columns of a table at some hours, taken only when asked for."""

    def __init__(self, columns: Mapping[str, Floats], index: Indices) -> None:
        self._columns = columns
        self._index = index

    def __getitem__(self, name: str) -> Floats:
        return gather(self._columns[name], self._index)

    def only(self, chosen: Indices) -> "ColumnsAt":
        """Return the columns at some of the hours, given by their place."""
        return ColumnsAt(self._columns, self._index[chosen])

    def __iter__(self) -> Iterator[str]:
        return iter(self._columns)

    def __len__(self) -> int:
        return len(self._columns)
