"""What the minutes of a passage say of a piece: sun and dusk, and what riders have reported.

Hazards of the minute are asked once about every whole minute in which the piece may be ridden. A
passage has the worst of its minutes, from the one it begins in to the one it ends in.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import prod
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.judging import Judging
from replanner.hazards.limits import Limits
from replanner.hazards.model import (
    Booleans,
    Conditions,
    Floats,
    Hazard,
    Indices,
    Party,
    Resolution,
    Stretch,
)
from replanner.hazards.register import HAZARDS
from replanner.hazards.runs import worst_of_runs

OF_THE_MINUTE = tuple(each for each in HAZARDS if each.resolution is Resolution.PASSAGE)

# What sums of minutes may err by: a passage that ends on the minute does not reach the next.
_DUST = 1e-6


class Minutes(NamedTuple):
    """The whole minutes of some passages, shape (U,) each: from the first to the last."""

    first: Indices
    last: Indices


def minutes_of(enter: Floats, leave: Floats) -> Minutes:
    """Return the minutes that passages touch.

    Parameters
    ----------
    enter, leave : ndarray, shape (U,)
        When each begins and ends. [min]
    """
    first = np.floor(enter + _DUST).astype(np.int64)
    return Minutes(first, np.maximum(np.ceil(leave - _DUST).astype(np.int64), first))


@dataclass(frozen=True, slots=True, kw_only=True)
class MinuteLevels:
    """What one hazard says of the minutes in which a piece may be ridden.

    Parameters
    ----------
    begin : int
        The first minute, since the first hour of the scene.
    before : ndarray of int, shape (N + 1,)
        Of how many of the minutes before each of N it says anything, and of how many of all.
    level : ndarray, shape (K,), or (M, K) where members differ
        Of those K; NaN where it is not known.
    """

    hazard: Hazard
    begin: int
    before: Indices
    level: Floats

    def runs(self, minutes: Minutes) -> tuple[Indices, Indices]:
        """Return at which of the K each passage begins, and how many of them it has."""
        first = self.before.take(minutes.first - self.begin)
        return first, self.before.take(minutes.last - self.begin + 1) - first


def minute_levels(
    hazards: Iterable[Hazard],
    stretch: Stretch,
    minutes: Conditions,
    begin: int,
    members: tuple[int, ...],
    party: Party,
    limits: Limits,
) -> list[MinuteLevels]:
    """Ask hazards about minutes; one that says nothing is left out.

    Parameters
    ----------
    minutes : Conditions
        Of N minutes one after the other.
    begin : int
        The first of them, since the first hour of the scene.
    members : tuple of int
        The leading axes of the weather.
    """
    found = []
    for hazard in hazards:
        reading = hazard.assess(stretch, minutes, party, limits)
        if reading is None:
            continue
        level, at = reading.level, reading.at
        if level.ndim > 1:
            of_members = np.broadcast_to(level, (*members, level.shape[-1]))
            level = of_members.reshape(prod(members), level.shape[-1])
        if at is None:
            says = level != 0  # where it is not known as well
            at = (says.any(axis=0) if says.ndim > 1 else says).nonzero()[0]
            level = level[..., at]
        if at.size > 0:
            before = np.zeros(minutes.time.size + 1, np.int64)
            before[at + 1] = 1
            found.append(
                MinuteLevels(hazard=hazard, begin=begin, before=before.cumsum(), level=level)
            )
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class MinuteSays:
    """What one hazard says of some of the passages, C of them: the worst minute of each.

    Parameters
    ----------
    place : ndarray of int, shape (U,)
        Which of the C each passage is; C where it says nothing, which is level 0.
    response : ndarray, shape (C + 1,), or (M, C + 1) where members differ
        0 where nothing is known.
    unknown : ndarray of bool, same shape
    """

    hazard: Hazard
    place: Indices
    response: Floats
    unknown: Booleans

    @property
    def says(self) -> Booleans:
        """Of which passages it says anything, shape (U,)."""
        return np.asarray(self.place < self.response.shape[-1] - 1)

    def at(self, values: NDArray[Any], passage: Indices, member: Indices) -> NDArray[Any]:
        """Return its response, or whether it is unknown, for passages and who makes them."""
        place = self.place.take(passage)
        if values.ndim == 1:
            return np.asarray(values.take(place))
        return np.asarray(values.take(place + values.shape[1] * member))


def minute_says(
    judging: Judging, levels: Iterable[MinuteLevels], minutes: Minutes, stand_in: Booleans
) -> Iterator[MinuteSays]:
    """Return what hazards of the minute say of passages; those that say nothing are left out.

    Parameters
    ----------
    levels : iterable of MinuteLevels
        Of all minutes that the passages touch.
    minutes : Minutes
        Those of each passage, since the first hour of the scene.
    stand_in : ndarray of bool, shape (U,)
        Whether a stand-in can be ridden instead.
    """
    for each in levels:
        first, length = each.runs(minutes)
        passages = length.nonzero()[0]
        if passages.size == 0:
            continue
        level, unknown = _worst(each.level, first[passages], length[passages])
        response = judging.response(each.hazard, level, stand_in[passages])
        place = np.full(length.shape, passages.size)
        place[passages] = np.arange(passages.size)
        yield MinuteSays(
            hazard=each.hazard, place=place, response=_ended(response), unknown=_ended(unknown)
        )


def _ended(values: NDArray[Any]) -> NDArray[Any]:
    """Return the values with a zero at the end of the last axis."""
    found = np.zeros((*values.shape[:-1], values.shape[-1] + 1), values.dtype)
    found[..., :-1] = values
    return found


def _worst(level: Floats, first: Indices, length: Indices) -> tuple[Floats, Booleans]:
    """Return the worst known level of each run, 0 where none is, and whether any is not known."""
    worst = worst_of_runs(level, first, length)
    unknown = np.isnan(worst)
    if unknown.any():
        worst = worst_of_runs(np.nan_to_num(level), first, length)
    return worst, unknown
