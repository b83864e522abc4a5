"""What can be told of one piece: the first member's weather, judged when somebody asks.

Most starts of most legs are never told of. What is kept for them are copies of the first member's
hours, so that no table is kept alive.
"""

from dataclasses import dataclass

import numpy as np

from replanner.hazards.both_ways import BothWays, HourReadings
from replanner.hazards.by_minute import OF_THE_MINUTE, minutes_of
from replanner.hazards.judged import Judged, judged_by_hour, judged_by_minute
from replanner.hazards.judging import Judging
from replanner.hazards.model import Booleans, Floats, Hazard, Reading
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
    stand_in : ndarray of bool, shape (S,)
    of_the_minute : tuple of Hazard
        Hazards of the minute that are asked as well.
    """

    judging: Judging
    scene: Scene
    readings: HourReadings
    enter: Floats
    leave: Floats
    stand_in: Booleans
    of_the_minute: tuple[Hazard, ...] = OF_THE_MINUTE

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
        """Ask every hazard that can touch the piece; those of the minute that say something."""
        hourly = judged_by_hour(self.readings, self.enter, self.leave, self.scene.hourly.memory)
        moments = self._moments()
        begin = float(moments.min())
        minutes = self.scene.at(np.arange(begin, moments.max() + 1.0))
        place = (moments - begin).astype(np.int64)
        by_minute = []
        for hazard in self.of_the_minute:
            reading = hazard.assess(
                self.scene.stretch, minutes, self.judging.party, self.judging.limits
            )
            if reading is not None and reading.level.any():
                level, value, limit, _ = reading.everywhere(minutes.time.size)
                by_minute.append((hazard, Reading(level[place], value[place], limit)))
        return hourly.and_by(judged_by_minute(by_minute, moments))

    def _moments(self) -> Floats:
        """Return the minutes of each passage, the last again where others have more, (P, S)."""
        first, last = minutes_of(self.enter, self.leave)
        count = np.arange(int((last - first).max()) + 1)
        return np.asarray(np.minimum(first + count[:, None], last), np.float64)
