"""What the instants of a passage say of a piece: sun and dusk, and what riders have reported.

Hazards of the minute are asked once for each passage that differs, whoever of the members makes
it, and shown no weather at first: most say nothing then, and no weather could change that. Those
that asked for weather and would say something are asked again, with the weather of every member.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.judging import Judging
from replanner.hazards.model import Booleans, Floats, Hazard, Indices, Resolution
from replanner.hazards.passage import ColumnsAt
from replanner.hazards.register import HAZARDS
from replanner.hazards.scene import Scene

OF_THE_MINUTE = tuple(each for each in HAZARDS if each.resolution is Resolution.PASSAGE)


@dataclass(frozen=True, slots=True, kw_only=True)
class MinuteSays:
    """What one hazard says of some of the passages, C of them: the worst instant of each.

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
    judging: Judging,
    scene: Scene,
    members: tuple[int, ...],
    moments: Floats,
    stand_in: Booleans,
) -> Iterator[MinuteSays]:
    """Ask every hazard of the minute about passages; those that say nothing are left out.

    Parameters
    ----------
    members : tuple of int
        The leading axes of the weather.
    moments : ndarray, shape (P, U)
        The instants of each passage, in minutes since the first hour of the scene.
    stand_in : ndarray of bool, shape (U,)
        Whether a stand-in can be ridden instead.
    """
    instants = scene.at(moments.ravel())
    unseen = ColumnsAt({}, np.zeros(moments.size, np.int64))
    hidden = instants.with_columns(unseen)
    for hazard in OF_THE_MINUTE:
        unseen.asked.clear()
        reading = hazard.assess(scene.stretch, hidden, judging.party, judging.limits)
        if reading is None:
            continue
        level, unknown = _worst_instant(reading.level, moments.shape, ())
        passages = ((level > 0) | unknown).nonzero()[0]
        if passages.size == 0:
            continue
        if unseen.asked:
            chosen = np.arange(moments.size).reshape(moments.shape)[:, passages]
            weather = instants.only(chosen.ravel())
            reading = hazard.assess(scene.stretch, weather, judging.party, judging.limits)
            if reading is None:
                continue
            level, unknown = _worst_instant(reading.level, chosen.shape, members)
        else:
            level, unknown = level[passages], unknown[passages]
        response = judging.response(hazard, level, stand_in[passages])
        place = np.full(moments.shape[1], passages.size)
        place[passages] = np.arange(passages.size)
        yield MinuteSays(
            hazard=hazard, place=place, response=_ended(response), unknown=_ended(unknown)
        )


def _ended(values: NDArray[Any]) -> NDArray[Any]:
    """Return the values with a zero at the end of the last axis."""
    found = np.zeros((*values.shape[:-1], values.shape[-1] + 1), values.dtype)
    found[..., :-1] = values
    return found


def _worst_instant(
    level: Floats, shape: tuple[int, ...], members: tuple[int, ...]
) -> tuple[Floats, Booleans]:
    """Return the worst known level of each passage, 0 where none is, and whether any is not known.

    `level` is that of instants, shape (..., P * U); `shape` is (P, U). Both are (U,), or (M, U).
    """
    if level.ndim > 1:
        level = np.broadcast_to(level, (*members, level.shape[-1])).reshape(-1, *shape)
    else:
        level = level.reshape(shape)
    worst = level.max(axis=-2)
    if not np.isnan(worst).any():
        return worst, np.zeros(worst.shape, np.bool_)
    known = np.fmax.reduce(level, axis=-2)
    return np.where(np.isnan(known), 0.0, known), np.asarray(np.isnan(level).any(axis=-2))
