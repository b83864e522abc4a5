"""Moves by slot of arriving, for going forward with whole rows of slots at once.

Times that fall during the day make several slots of leaving arrive in one; each look takes one of
them for all moves that have so many.
"""

from dataclasses import dataclass

import numpy as np

from replanner.planning.day_arrays import IMPOSSIBLE, Indices
from replanner.planning.exact_prices import Values
from replanner.planning.problem import Slots


@dataclass(frozen=True, slots=True)
class Look:
    """For some moves: the slot of leaving and the worth, by slot of arriving.

    Where nothing arrives the slot of leaving is T and the worth -inf. `every` tells that `moves`
    are all there are.
    """

    moves: Indices
    every: bool
    leaving: Slots
    worth: Values


Looks = list[Look]


def looks_of(arrival: Slots, worth: Values) -> Looks:
    """Turn moves round, shape (moves, slots); the first look takes the first slot of leaving."""
    moves, slots = arrival.shape
    order = np.argsort(arrival, axis=1, kind="stable")
    sorted_ = np.take_along_axis(arrival, order, axis=1)
    position = np.arange(slots)
    new = np.diff(sorted_, axis=1, prepend=-1) != 0
    depth = position - np.maximum.accumulate(np.where(new, position, 0), axis=1)
    depth[sorted_ == slots] = -1
    looks: Looks = []
    for now in range(int(depth.max(initial=-1)) + 1):
        move, at = np.nonzero(depth == now)
        some = np.unique(move)
        leaving = np.full((len(some), slots), slots)
        gain = np.full((len(some), slots), IMPOSSIBLE)
        row, left = np.searchsorted(some, move), order[move, at]
        leaving[row, sorted_[move, at]] = left
        gain[row, sorted_[move, at]] = worth[move, left]
        looks.append(Look(some, len(some) == moves, leaving, gain))
    return looks
