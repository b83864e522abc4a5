"""What the hazards say of one piece as it is passed.

Hazards of the hour are judged once for all passages that share their hours, those of the minute
at every start.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.limits import Limit
from replanner.hazards.model import Floats, Hazard, Reading
from replanner.hazards.passage import Booleans, Indices, alike, gather, hour_of, worst_of_hours


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What some hazards say of one piece, for each passage that differs to them.

    Parameters
    ----------
    hazards, limits : tuple, length Z
    level : ndarray, shape (Z, ..., U)
        The worst known, 0 where none is.
    unknown : ndarray of bool, shape (Z, ..., U)
    value : ndarray, shape (Z, ..., U)
        The figure that was worst.
    minute : ndarray, shape (Z, ..., U)
        When it stands, since the first hour of the table. [min]
    gap : ndarray, shape (Z, ..., U)
        When it is not known, since the first hour of the table. [min]
    stand_in : ndarray of bool, broadcastable to (..., U)
        Whether a stand-in can be ridden instead.
    passage : ndarray of int, shape (..., S)
        Which of the U passages each start is.
    """

    hazards: tuple[Hazard, ...]
    limits: tuple[Limit, ...]
    level: Floats
    unknown: Booleans
    value: Floats
    minute: Floats
    gap: Floats
    stand_in: Booleans
    passage: Indices

    def at_starts(self, values: NDArray[Any]) -> NDArray[Any]:
        """Return the values of each start: shape (X, ..., U) becomes (X, ..., S)."""
        if self.passage.ndim == 1:
            return np.asarray(values[..., self.passage])
        return np.take_along_axis(values, self.passage[None], axis=-1)

    def of_first_member(self) -> "Judged":
        """Return what is said to the first member, passages (U,) and starts (S,), as copies."""
        return replace(
            self,
            level=first_member(self.level).copy(),
            unknown=first_member(self.unknown).copy(),
            value=first_member(self.value).copy(),
            minute=first_member(self.minute).copy(),
            gap=first_member(self.gap).copy(),
            passage=first_member(self.passage[None])[0].copy(),
        )

    def unknown_throughout(self) -> list[bool]:
        """Return for each hazard whether nothing is known of it at any start."""
        if not self.unknown.any():
            return [False] * len(self.hazards)
        return [bool(each.all()) for each in self.at_starts(self.unknown)]


def first_member(values: NDArray[Any]) -> NDArray[Any]:
    """Return the values of the first member: shape (X, ..., S) becomes (X, S)."""
    return values.reshape(values.shape[0], -1, values.shape[-1])[:, 0]


def judged_by_hour(
    readings: list[tuple[Hazard, Reading]], enter: Floats, leave: Floats, rideable: Booleans
) -> Judged:
    """Judge hazards of the hour, at least one: the worst from the hour before to the hour after.

    Parameters
    ----------
    enter, leave : ndarray, shape (..., S)
        [min]
    rideable : ndarray of bool, broadcastable to (..., S)
        Whether a stand-in can be ridden instead.
    """
    first = hour_of(enter)
    lasts = hour_of(leave) - first
    longest = int(lasts.max()) + 1
    found = alike(2 * (first * longest + lasts) + rideable)
    hours, stand_in = found.distinct // 2, found.distinct % 2 == 1
    first, last = hours // longest, hours // longest + hours % longest
    # only the hours that count are looked at
    begin, end = max(int(first.min()) - 1, 0), max(int(last.max()) + 2, 0)
    shape = np.broadcast_shapes(
        (*enter.shape[:-1], 1), *(reading.level[..., begin:end].shape for _, reading in readings)
    )
    levels, values = np.empty((len(readings), *shape)), np.empty((len(readings), *shape))
    for at, (_, reading) in enumerate(readings):
        levels[at], values[at] = reading.level[..., begin:end], reading.value[..., begin:end]
    worst = worst_of_hours(levels, first - begin, last - begin)
    return Judged(
        hazards=tuple(hazard for hazard, _ in readings),
        limits=tuple(reading.limit for _, reading in readings),
        level=worst.level,
        unknown=worst.unknown,
        value=gather(values, worst.hour),
        minute=np.asarray(60.0 * (worst.hour + begin), np.float64),
        gap=np.asarray(60.0 * (worst.gap + begin), np.float64),
        stand_in=stand_in,
        passage=found.number,
    )


def judged_by_minute(
    readings: list[tuple[Hazard, Reading]], moments: Floats, rideable: Booleans
) -> Judged:
    """Judge hazards of the minute, at least one: the worst instant of each passage.

    Of equal levels the figure furthest beyond the limit counts.

    Parameters
    ----------
    moments : ndarray, shape (P, ..., S)
        The instants of the readings. [min]
    """
    worst = [_worst_moment(reading, moments) for _, reading in readings]
    level, unknown, value, minute, gap = (np.stack(parts) for parts in zip(*worst, strict=True))
    passage = np.broadcast_to(np.arange(moments.shape[-1]), moments.shape[1:])
    return Judged(
        hazards=tuple(hazard for hazard, _ in readings),
        limits=tuple(reading.limit for _, reading in readings),
        level=level,
        unknown=unknown,
        value=value,
        minute=minute,
        gap=gap,
        stand_in=rideable,
        passage=passage,
    )


def _worst_moment(
    reading: Reading, moments: Floats
) -> tuple[Floats, Booleans, Floats, Floats, Floats]:
    """Return level, unknown, value and minute of the worst instant, and when it is unknown.

    Each of shape (..., S).
    """
    missing = np.isnan(reading.level)
    level = np.where(missing, 0.0, reading.level)
    value = np.broadcast_to(reading.value, level.shape)
    beyond = value if reading.limit.rising else -value
    highest = level.max(axis=0)
    counts = (level == highest) & ~np.isnan(beyond)
    at = np.where(counts, beyond, -np.inf).argmax(axis=0)
    # the same place in value and moments, both laid out as (P, ...)
    here = np.arange(highest.size)
    place = at.ravel() * highest.size + here
    first_gap = missing.argmax(axis=0).ravel() * highest.size + here
    minutes = np.broadcast_to(moments, level.shape).ravel()
    return (
        highest,
        np.asarray(missing.any(axis=0)),
        value.ravel()[place].reshape(highest.shape),
        minutes[place].reshape(highest.shape),
        minutes[first_gap].reshape(highest.shape),
    )
