"""When a section is passed, and the worst the hours round the passage hold.

Times are minutes since the first hour of the tables, so that index = floor(minutes / 60).
Forecasts err in time: the hour before the passage and the hour after it count as well (common
practice, no source).
"""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.model import Floats

Indices = NDArray[np.int64]
Booleans = NDArray[np.bool_]

_LONGEST_STEP_MINUTES = 20.0


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
    """

    level: Floats
    hour: Indices
    unknown: Booleans


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
    axes = max(padded.ndim, index.ndim)
    at = np.clip(index + 1, 0, padded.shape[-1] - 1)
    return np.asarray(
        np.take_along_axis(
            padded.reshape((1,) * (axes - padded.ndim) + padded.shape),
            at.reshape((1,) * (axes - at.ndim) + at.shape),
            axis=-1,
        )
    )


def worst_around(levels: Floats, enter: Floats, leave: Floats) -> Worst:
    """Return the worst level from the hour before entering to the hour after leaving.

    Parameters
    ----------
    levels : ndarray, shape (Z, ..., N)
    enter, leave : ndarray, shape (..., S)
        [min]
    """
    first = np.floor(enter / 60.0).astype(np.int64)
    last = np.floor(leave / 60.0).astype(np.int64)
    shape = np.broadcast_shapes(levels.shape[:-1], (1, *first.shape[:-1])) + first.shape[-1:]
    level, hour = np.zeros(shape), np.broadcast_to(first, shape).copy()
    unknown = np.zeros(shape, np.bool_)
    padded = _padded(levels)
    for at in _from_the_passage_outwards(first, last):
        here = _taken(padded, at)
        missing = np.isnan(here)
        worse = ~missing & (here > level)
        level = np.where(worse, here, level)
        hour = np.where(worse, at, hour)
        unknown |= missing
    return Worst(level, hour, unknown)


def _from_the_passage_outwards(first: Indices, last: Indices) -> Iterator[Indices]:
    for step in range(int((last - first).max(initial=0)) + 1):
        yield np.minimum(first + step, last)
    yield first - 1
    yield last + 1


def instants(enter: Floats, leave: Floats) -> Floats:
    """Return minutes spread over the passage, ends included: shape (P, ..., S)."""
    longest = float((leave - enter).max(initial=0.0))
    steps = int(np.ceil(longest / _LONGEST_STEP_MINUTES)) + 1
    share = np.linspace(0.0, 1.0, max(steps, 2)).reshape((-1,) + (1,) * enter.ndim)
    return np.asarray(enter + share * (leave - enter))


class ColumnsAt(Mapping[str, Floats]):
    """The columns of a table at some hours, taken only when asked for."""

    def __init__(self, columns: Mapping[str, Floats], index: Indices) -> None:
        self._columns = columns
        self._index = index

    def __getitem__(self, name: str) -> Floats:
        return gather(self._columns[name], self._index)

    def __iter__(self) -> Iterator[str]:
        return iter(self._columns)

    def __len__(self) -> int:
        return len(self._columns)

    def get(self, name: str, default: Floats | None = None) -> Floats | None:  # type: ignore[override]
        """Return the column at those hours, or the default."""
        return self[name] if name in self._columns else default
