"""What the hazards say of one piece as one member passes it, at each start: level, figure, hour."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from replanner.hazards.limits import Limit
from replanner.hazards.model import Booleans, Floats, Hazard, Reading
from replanner.hazards.passage import gather, worst_around

Readings = Sequence[tuple[Hazard, Reading]]


class Judged(NamedTuple):
    """What some hazards say of one piece at each start.

    Parameters
    ----------
    hazards, limits : tuple, length Z
    level : ndarray, shape (Z, S)
        The worst known, 0 where none is.
    unknown : ndarray of bool, shape (Z, S)
    value : ndarray, shape (Z, S)
        The figure that was worst.
    minute : ndarray, shape (Z, S)
        When it stands, since the first hour of the table. [min]
    gap : ndarray, shape (Z, S)
        When it is not known, since the first hour of the table. [min]
    """

    hazards: tuple[Hazard, ...]
    limits: tuple[Limit, ...]
    level: Floats
    unknown: Booleans
    value: Floats
    minute: Floats
    gap: Floats

    def and_by(self, other: "Judged") -> "Judged":
        """Return what these hazards say, then others."""
        return Judged(
            self.hazards + other.hazards,
            self.limits + other.limits,
            *(np.concatenate(each) for each in zip(self[2:], other[2:], strict=True)),
        )


def judged_by_hour(readings: Readings, enter: Floats, leave: Floats, before: int) -> Judged:
    """Judge hazards of the hour: the worst from the hour before to the hour after.

    Parameters
    ----------
    readings : sequence of (Hazard, Reading)
        Of shape (N,).
    enter, leave : ndarray, shape (S,)
        [min]
    before : int
        How many hours after minute 0 the readings begin.
    """
    hazards, limits = _of(readings)
    shape = (0, 0) if not readings else (len(readings), readings[0][1].level.size)
    levels, values = np.empty(shape), np.empty(shape)
    for at, (_, reading) in enumerate(readings):
        levels[at], values[at] = reading.level, reading.value
    worst = worst_around(levels, enter, leave, before)
    return Judged(
        hazards,
        limits,
        worst.level,
        worst.unknown,
        gather(values, worst.hour),
        np.asarray(60.0 * (worst.hour + before), np.float64),
        np.asarray(60.0 * (worst.gap + before), np.float64),
    )


def judged_by_minute(readings: Readings, moments: Floats) -> Judged:
    """Judge hazards of the minute: the worst instant of each passage.

    Of equal levels the figure furthest beyond the limit counts.

    Parameters
    ----------
    readings : sequence of (Hazard, Reading)
        Of shape (P, S).
    moments : ndarray, shape (P, S)
        The instants of the readings. [min]
    """
    hazards, limits = _of(readings)
    parts: list[list[Floats]] = [[], [], [], [], []]
    for _, reading in readings:
        for part, found in zip(parts, _worst_moment(reading, moments), strict=True):
            part.append(found)
    starts = moments.shape[1:]
    stacked = [np.stack(part) if part else np.zeros((0, *starts)) for part in parts]
    level, unknown, value, minute, gap = stacked
    return Judged(hazards, limits, level, unknown.astype(np.bool_), value, minute, gap)


def _of(readings: Readings) -> tuple[tuple[Hazard, ...], tuple[Limit, ...]]:
    return (
        tuple(hazard for hazard, _ in readings),
        tuple(reading.limit for _, reading in readings),
    )


def _worst_moment(
    reading: Reading, moments: Floats
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Return level, unknown, value and minute of the worst instant, and when it is unknown.

    Each of shape (S,).
    """
    given = reading.level
    missing = np.isnan(given)
    level = np.where(missing, 0.0, given)
    value = reading.value
    beyond = value if reading.limit.rising else -value
    highest = level.max(axis=0)
    counts = (level == highest) & ~np.isnan(beyond)
    at = np.where(counts, beyond, -np.inf).argmax(axis=0)
    here = np.arange(highest.size)
    return (
        highest,
        np.asarray(missing.any(axis=0), np.float64),
        value[at, here],
        moments[at, here],
        moments[missing.argmax(axis=0), here],
    )
