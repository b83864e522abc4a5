"""What the hours of a piece say whichever way it is ridden: each thing is worked out once."""

from dataclasses import replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from replanner.hazards.by_minute import OF_THE_MINUTE, MinuteLevels, minute_levels
from replanner.hazards.halts import weather_fits
from replanner.hazards.limits import Limits
from replanner.hazards.model import (
    Booleans,
    Floats,
    Hazard,
    Indices,
    Party,
    Reading,
    Resolution,
)
from replanner.hazards.pace import pace_factor
from replanner.hazards.register import HAZARDS
from replanner.hazards.scene import Scene, first_member
from replanner.trip.model import Halt

_BY_HEADING = tuple(each for each in OF_THE_MINUTE if each.by_heading)
_IN_BOTH_WAYS = tuple(each for each in OF_THE_MINUTE if not each.by_heading)
_OF_THE_HOUR = tuple(each for each in HAZARDS if each.resolution is Resolution.HOUR)

HourReadings = list[tuple[Hazard, Reading]]


class Paces(NamedTuple):
    """How many times the dry minutes a piece takes, hour by hour.

    Parameters
    ----------
    distinct : ndarray, shape (V,)
        Each pace there is, the slowest of all last.
    number : ndarray of int, shape (..., N + 1)
        Which of them holds in each hour of riding; the last stands for hours outside the table.
    """

    distinct: Floats
    number: Indices


class BothWays:
    """The pace, the readings and the halts of one piece for one party, hour by hour.

    Parameters
    ----------
    scene : Scene
        The piece in either way; the other has the same hours.
    """

    def __init__(self, scene: Scene, party: Party, limits: Limits) -> None:
        self._scene = replace(scene, stretch=replace(scene.stretch, headings_deg=()))
        self._party, self._limits = party, limits
        self._readings: dict[str, Reading | None] = {}
        self._first: dict[str, Reading] = {}
        self._halts: dict[Halt, Booleans] = {}
        self._last_minute = -1
        self._minutes = scene.hourly
        self._minute_levels: list[MinuteLevels] = []

    @cached_property
    def paces(self) -> Paces:
        """The paces; hours that are not known have the slowest there is."""
        hourly = pace_factor(self._scene.stretch, self._scene.hourly, self._party, self._limits)
        distinct = np.unique(hourly)
        number = np.full((*hourly.shape[:-1], hourly.shape[-1] + 1), distinct.size - 1)
        number[..., :-1] = np.searchsorted(distinct, hourly)
        return Paces(distinct, number)

    def readings(self, scene: Scene) -> HourReadings:
        """Return what hazards of the hour say of the piece, ridden as the scene shows it."""
        found = []
        for hazard in _OF_THE_HOUR:
            reading = self._reading(hazard, scene)
            if reading is not None:
                found.append((hazard, reading))
        return found

    def _reading(self, hazard: Hazard, scene: Scene) -> Reading | None:
        if hazard.by_heading:
            return self._ask(hazard, scene)
        if hazard.name not in self._readings:
            self._readings[hazard.name] = self._ask(hazard, self._scene)
        return self._readings[hazard.name]

    def _ask(self, hazard: Hazard, scene: Scene) -> Reading | None:
        return hazard.assess(scene.stretch, scene.hourly, self._party, self._limits)

    def minute_levels(
        self, scene: Scene, members: tuple[int, ...], last: int
    ) -> list[MinuteLevels]:
        """Return what hazards of the minute say of the piece, ridden as the scene shows it.

        Of every minute of the hours of riding, and of later ones up to the last that is asked
        about: late riders may still be on the piece when its table of hours has ended.
        """
        hours = scene.hourly
        if last > self._last_minute:
            self._last_minute = max(60 * (hours.memory + hours.time.size), last)
            self._minutes = scene.at(np.arange(60.0 * hours.memory, self._last_minute + 1.0))
            self._minute_levels = self._ask_about(_IN_BOTH_WAYS, self._scene, members)
        return self._minute_levels + self._ask_about(_BY_HEADING, scene, members)

    def _ask_about(
        self, hazards: tuple[Hazard, ...], scene: Scene, members: tuple[int, ...]
    ) -> list[MinuteLevels]:
        begin = 60 * scene.hourly.memory
        return minute_levels(
            hazards, scene.stretch, self._minutes, begin, members, self._party, self._limits
        )

    @cached_property
    def _scene_of_first_member(self) -> Scene:
        return self._scene.of_first_member()

    def of_first_member(self, scene: Scene) -> Scene:
        """Return the piece ridden as the scene shows it, with the first member's hours alone."""
        return replace(self._scene_of_first_member, stretch=scene.stretch, piece=scene.piece)

    def readings_of_first_member(self, readings: HourReadings) -> HourReadings:
        """Return readings of the piece, copied for the first member alone: shape (N,)."""
        for hazard, reading in readings:
            if hazard.by_heading or hazard.name not in self._first:
                self._first[hazard.name] = Reading(
                    first_member(reading.level).copy(),
                    first_member(reading.value).copy(),
                    reading.limit,
                )
        return [(hazard, self._first[hazard.name]) for hazard, _ in readings]

    def halt_fits(self, halt: Halt) -> Booleans:
        """Return the hours of riding, shape (..., N), whose weather suits a halt on the piece."""
        if halt not in self._halts:
            self._halts[halt] = weather_fits(halt, self._scene.hourly, self._limits)
        return self._halts[halt]
