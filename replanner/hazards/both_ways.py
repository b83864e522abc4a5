"""What the hours of a piece say whichever way it is ridden: each thing is worked out once."""

from dataclasses import replace
from functools import cached_property

from replanner.hazards.halts import Booleans, weather_fits
from replanner.hazards.limits import Limits
from replanner.hazards.model import Floats, Hazard, Party, Reading
from replanner.hazards.pace import pace_factor
from replanner.hazards.scene import Scene
from replanner.trip.model import Halt


class BothWays:
    """The pace, the readings and the halts of one piece for one party, hour by hour.

    Parameters
    ----------
    scene : Scene
        The piece in either way; the other has the same hours.
    """

    def __init__(self, scene: Scene, party: Party, limits: Limits) -> None:
        self._stretch = replace(scene.stretch, headings_deg=())
        self._hourly, self._party, self._limits = scene.hourly, party, limits
        self._readings: dict[str, Reading | None] = {}
        self._halts: dict[Halt, Booleans] = {}

    @cached_property
    def pace(self) -> Floats:
        """How many times the dry minutes the piece takes, shape (..., N)."""
        return pace_factor(self._stretch, self._hourly, self._party, self._limits)

    def reading(self, hazard: Hazard, scene: Scene) -> Reading | None:
        """Return what a hazard of the hour says of the piece, ridden as the scene shows it."""
        if hazard.by_heading:
            return hazard.assess(scene.stretch, scene.hourly, self._party, self._limits)
        if hazard.name not in self._readings:
            self._readings[hazard.name] = hazard.assess(
                self._stretch, self._hourly, self._party, self._limits
            )
        return self._readings[hazard.name]

    def halt_fits(self, halt: Halt) -> Booleans:
        """Return the hours, shape (..., N), whose weather suits a halt on the piece."""
        if halt not in self._halts:
            self._halts[halt] = weather_fits(halt, self._hourly, self._limits)
        return self._halts[halt]
