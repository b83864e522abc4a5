"""Which passages of a piece differ, and which of them each start of each member is.

All members begin with the same starts, and weather slows riding by a few steps only: a thousand
starts of fifty members make some thousand passages that differ, not fifty thousand. What hangs on
the time alone is worked out for these, U of them, and each start of each member, (M, S), takes it.
"""

from typing import NamedTuple

import numpy as np

from replanner.hazards.model import Booleans, Floats, Indices
from replanner.hazards.passage import alike


class Passages(NamedTuple):
    """When a piece is passed, and by whom.

    Parameters
    ----------
    enter, minutes, halted : ndarray, shape (U,)
        When it is entered, since the first hour of the scene; how long is ridden and halted. [min]
    number : ndarray of int, shape (M, S)
        Which passage each start of each member is; each passage is one of them at least.
    """

    enter: Floats
    minutes: Floats
    halted: Floats
    number: Indices

    @property
    def leave(self) -> Floats:
        """When it is left if no break is taken, shape (U,), in minutes."""
        return self.enter + self.minutes + self.halted

    def told_apart(self, by: Indices | Booleans, ways: int) -> tuple["Passages", Indices]:
        """Return the passages told apart by something, and what that is for each of them.

        Parameters
        ----------
        by : ndarray of int, broadcastable to (M, S)
            From 0 to below `ways`.
        """
        each = self.number * ways
        each += by
        found = alike(each, self.enter.size * ways)
        before = found.distinct // ways
        apart = Passages(
            self.enter[before], self.minutes[before], self.halted[before], found.number
        )
        return apart, found.distinct % ways


def entered(enter: Floats, members: int) -> Passages:
    """Return the passages of a piece that all members enter at the same times, shape (S,)."""
    nothing = np.zeros(enter.shape)
    number = np.broadcast_to(np.arange(enter.size), (members, enter.size))
    return Passages(enter, nothing, nothing, number)


def cells(place: Indices, number: Indices, step: int) -> Indices:
    """Return where in a flat table each start of each member stands, shape (M, S).

    Parameters
    ----------
    place : ndarray of int, shape (U,)
        Where each passage stands for the first member.
    step : int
        How much further on the next member's row lies; 0 where all share one.
    """
    at = place.take(number)
    if step:
        at += step * np.arange(number.shape[0])[:, None]
    return at
