"""Where things of a day lie on its picture: which hours are shown, which marks are told."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple

from replanner.advice.briefing import Briefing, DayHours
from replanner.advice.message_lines import way_out_at
from replanner.advice.telling import Telling

_HOUR = timedelta(hours=1)
_BESIDE = timedelta(minutes=30)
# Light this long after being in still matters: what is spare ends there. Assumption.
_LIGHT_WITHIN = timedelta(hours=4)
_EMPTY_DAY = timedelta(hours=12)
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """The chart's place on the sheet, and the hours it shows.

    `top` and `bottom` are in pixels from the top of the sheet.
    """

    briefing: Briefing
    hours: DayHours
    top: float
    bottom: float

    @property
    def begin(self) -> datetime:
        """Return the first instant shown."""
        first, _ = self._ridden()
        dawn = self.briefing.light.sunrise
        if dawn is not None and first - _LIGHT_WITHIN / 2 <= dawn < first:
            first = dawn
        return first - _BESIDE

    @property
    def end(self) -> datetime:
        """Return the last instant shown."""
        _, last = self._ridden()
        light = self.briefing.light
        for ends in (light.sunset, light.civil_dusk):
            if ends is not None and last < ends <= last + _LIGHT_WITHIN:
                last = ends
        return last + _BESIDE

    def _ridden(self) -> tuple[datetime, datetime]:
        """Return from when to when there is something to show, rides or else daylight."""
        briefing = self.briefing
        begins = [leg.start for leg in briefing.legs]
        ends = [leg.end for leg in briefing.legs]
        begins += [briefing.departure] if briefing.departure else []
        ends += [briefing.arrival] if briefing.arrival else []
        light = briefing.light
        if not begins:
            begins = [moment for moment in (light.sunrise, light.civil_dawn) if moment]
        if not ends:
            ends = [moment for moment in (light.sunset, light.civil_dusk) if moment]
        first = min(begins) if begins else max(ends, default=briefing.made_at) - _EMPTY_DAY
        return first, max(ends) if ends and max(ends) > first else first + _EMPTY_DAY

    def y(self, moment: datetime) -> float:
        """Return how far down an instant lies, cut off at the chart's ends. [px]."""
        share = (moment - self.begin) / (self.end - self.begin)
        return self.top + min(max(share, 0.0), 1.0) * (self.bottom - self.top)

    def ticks(self, zone_hour: int) -> list[datetime]:
        """Return the whole hours shown; `zone_hour` is the offset's odd part. [s]."""
        first = self.begin.replace(minute=0, second=0, microsecond=0)
        first -= timedelta(seconds=zone_hour)
        found = [first + n * _HOUR for n in range(int((self.end - first) / _HOUR) + 2)]
        return [tick for tick in found if self.begin <= tick <= self.end]


class Mark(NamedTuple):
    """An instant of its own, with the letter that stands for it in the chart."""

    letter: str
    at: datetime
    text: str


def marks_of(telling: Telling) -> list[Mark]:
    """Return turn-back times and decision points by the hour."""
    briefing, say = telling.briefing, telling.words.say
    found: list[tuple[datetime, str]] = [
        (point.latest, way_out_at(telling, point)) for point in briefing.decision_points
    ]
    for leg in briefing.legs:
        if leg.turn_back is not None:
            time = telling.figures.clock(leg.turn_back)
            name = telling.leg(leg.id, 24)
            found.append((leg.turn_back, say("{time} turn back: {leg}", time=time, leg=name)))
    return [
        Mark(letter, at, text) for letter, (at, text) in zip(_LETTERS, sorted(found), strict=False)
    ]
