"""What can be told of one piece: the first member's weather, judged when somebody asks.

Most starts of most legs are never told of. What is kept for them are copies of the first member's
hours, so that no table is kept alive.
"""

from dataclasses import dataclass

import numpy as np

from replanner.hazards.both_ways import BothWays, HourReadings
from replanner.hazards.by_minute import OF_THE_MINUTE
from replanner.hazards.judged import Judged, judged_by_hour, judged_by_minute
from replanner.hazards.judging import Judging
from replanner.hazards.model import Booleans, Floats
from replanner.hazards.passage import instants
from replanner.hazards.passages import Passages
from replanner.hazards.scene import Scene


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldPiece:
    """A piece as the first member passes it, for each start.

    Parameters
    ----------
    scene : Scene
        With the hours of the first member alone.
    readings : list of (Hazard, Reading)
        What hazards of the hour say of the hours of riding, each of shape (N,).
    enter, leave : ndarray, shape (S,)
        `leave` at the latest. [min]
    longest : float
        The longest passage of any member. [min]
    stand_in : ndarray of bool, shape (S,)
    """

    judging: Judging
    scene: Scene
    readings: HourReadings
    enter: Floats
    leave: Floats
    longest: float
    stand_in: Booleans

    @classmethod
    def of(
        cls,
        judging: Judging,
        scene: Scene,
        both: BothWays,
        readings: HourReadings,
        passages: Passages,
        leave: Floats,
        stand_in: Booleans | None,
    ) -> "ToldPiece":
        """Keep what is needed of a piece whose passages were judged."""
        number = passages.number[0]
        return cls(
            judging=judging,
            scene=both.of_first_member(scene),
            readings=both.readings_of_first_member(readings),
            enter=passages.enter[number],
            leave=leave[number],
            longest=float((leave - passages.enter).max()),
            stand_in=np.zeros(number.shape, np.bool_) if stand_in is None else stand_in[number],
        )

    @property
    def section(self) -> str:
        """The name of the piece."""
        return self.scene.stretch.name

    @property
    def first_hour(self) -> np.datetime64:
        """From which minutes count."""
        return self.scene.first_hour

    def judged(self) -> Judged:
        """Ask every hazard that can touch the piece."""
        hourly = judged_by_hour(self.readings, self.enter, self.leave, self.scene.hourly.memory)
        moments = instants(self.enter, self.leave, self.longest)
        passing = self.scene.at(moments.ravel())
        by_minute = []
        for hazard in OF_THE_MINUTE:
            reading = hazard.assess(
                self.scene.stretch, passing, self.judging.party, self.judging.limits
            )
            if reading is not None:
                by_minute.append((hazard, reading))
        return hourly.and_by(judged_by_minute(by_minute, moments))
