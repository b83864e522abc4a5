"""Daylight and the position of the sun at a point, on the safe side."""

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Daylight:
    """The light of one local day at one point; UTC instants, None where the event does not occur.

    Rounded inwards to the minute: the usable window is never longer than the real one.
    `always_light`: the sun stays above -6 degrees all day; `never_light`: it stays below.
    """

    date: date
    civil_dawn: datetime | None
    sunrise: datetime | None
    sunset: datetime | None
    civil_dusk: datetime | None
    always_light: bool = False
    never_light: bool = False
