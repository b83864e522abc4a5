"""The worst of runs of neighbouring values, many runs at once."""

import numpy as np

from replanner.hazards.model import Floats, Indices


def worst_of_runs(values: Floats, first: Indices, length: Indices) -> Floats:
    """Return the largest value of each run, NaN where one of them is.

    The worst of 2, 4, 8, ... in a row is worked out for all values; a run is two of these that
    overlap (Bender and Farach-Colton, The LCA problem revisited, 2000).

    Parameters
    ----------
    values : ndarray, shape (..., K)
    first, length : ndarray of int, shape (C,)
        Where each run begins, and of how many values it is: at least one each.

    Returns
    -------
    ndarray, shape (..., C)
    """
    row = np.ascontiguousarray(values.T)  # neighbours are taken whole
    found = np.empty((first.size, *row.shape[1:]))
    power = np.frexp(length)[1] - 1  # 2**power <= length < 2**(power + 1)
    for each in range(int(power.max(initial=-1)) + 1):
        if each:
            half = 1 << (each - 1)
            row = np.maximum(row[:-half], row[half:])
        runs = (power == each).nonzero()[0]
        begin = first[runs]
        other = begin + length[runs] - (1 << each)
        found[runs] = np.maximum(row.take(begin, axis=0), row.take(other, axis=0))
    return found.T
