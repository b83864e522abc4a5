"""Figures as the rider reads them: own units, local 24-hour time, rounded to the careful side."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from babel.dates import format_date, format_skeleton
from babel.numbers import format_decimal

from replanner.advice.numerals import figure_words, time_words
from replanner.advice.words import Words
from replanner.units import METRES_PER_FOOT, METRES_PER_MILE, UnitSystem


class Scale(NamedTuple):
    """How a unit inside is shown: shown = value * factor + offset, to `digits` decimals.

    Speeds are said without their unit, as riders do: "gust forty-five".
    """

    written: str
    spoken: str
    one: str  # spoken, for exactly one
    factor: float = 1.0
    offset: float = 0.0
    digits: int = 0


_SAME: Mapping[str, Scale] = {
    "min": Scale("{n} min", "{n} minutes", "{n} minute"),
    "h": Scale("{n} h", "{n} hours", "{n} hour"),
    "d": Scale("{n} days", "{n} days", "{n} day"),
    "%": Scale("{n} %", "{n} percent", "{n} percent"),
    "deg": Scale("{n} degrees", "{n} degrees", "{n} degree"),
    "1": Scale("{n}", "{n}", "{n}", digits=1),
    "J/kg": Scale("{n} J/kg", "{n} joules a kilo", "{n} joule a kilo"),
}

# Conversion factors: units.py; degF = degC * 9/5 + 32.
SCALES: Mapping[UnitSystem, Mapping[str, Scale]] = {
    UnitSystem.METRIC: {
        **_SAME,
        "m/s": Scale("{n} km/h", "{n}", "{n}", 3.6),
        "km/h": Scale("{n} km/h", "{n}", "{n}"),
        "degC": Scale("{n} °C", "{n} degrees", "{n} degree"),
        "mm": Scale("{n} mm", "{n} millimetres", "{n} millimetre", digits=1),
        "mm/h": Scale("{n} mm/h", "{n} millimetres an hour", "{n} millimetre an hour", digits=1),
        "m": Scale("{n} m", "{n} metres", "{n} metre", digits=-1),
        "km": Scale("{n} km", "{n} kilometres", "{n} kilometre"),
    },
    UnitSystem.IMPERIAL: {
        **_SAME,
        "m/s": Scale("{n} mph", "{n}", "{n}", 3600.0 / METRES_PER_MILE),
        "km/h": Scale("{n} mph", "{n}", "{n}", 1000.0 / METRES_PER_MILE),
        "degC": Scale("{n} °F", "{n} degrees", "{n} degree", 1.8, 32.0),
        "mm": Scale("{n} in", "{n} inches", "{n} inch", 1.0 / 25.4, digits=2),
        "mm/h": Scale("{n} in/h", "{n} inches an hour", "{n} inch an hour", 1.0 / 25.4, digits=2),
        "m": Scale("{n} ft", "{n} feet", "{n} foot", 1.0 / METRES_PER_FOOT, digits=-1),
        "km": Scale("{n} mi", "{n} miles", "{n} mile", 1000.0 / METRES_PER_MILE),
    },
}
_MOST_DIGITS = 4
_WEEK = 7  # days: within it a weekday tells which day is meant
_A_DAY = 24.0  # hours
_TINY = 1e-6  # figures this close to a round one are that one: 13.41 m/s is 30 mph


class Shown(NamedTuple):
    """A value and its limit in the rider's unit, as numbers to `digits` decimals."""

    value: float | None
    limit: float | None
    digits: int


def scale_of(unit: str, system: UnitSystem) -> Scale:
    """Return how a unit is shown; one that is not known is shown as it is."""
    plain = unit.replace("{", "").replace("}", "")
    told = f"{{n}} {plain}".strip()
    return SCALES[system].get(unit, Scale(told, told, told, digits=1))


def careful(
    value: float | None, limit: float | None, scale: Scale, *, falling: bool = False
) -> Shown:
    """Round a value towards the danger and its limit to the nearest, and keep them apart.

    A value beyond its limit is always shown beyond it, one that keeps it never is.

    Parameters
    ----------
    value, limit : float or None
        In the unit inside; not finite means not known.
    scale : Scale
    falling : bool
        A smaller value is worse.
    """
    value, limit = _known(value), _known(limit)
    shown_limit = None if limit is None else limit * scale.factor + scale.offset
    shown_value = None if value is None else value * scale.factor + scale.offset
    digits = _digits(scale.digits, [x for x in (shown_limit, shown_value) if x is not None])
    step = 10.0**-digits
    if shown_limit is not None:
        shown_limit = round(shown_limit / step) * step
    if shown_value is not None:
        round_to_danger = math.floor if falling else math.ceil
        nudge = _TINY if falling else -_TINY
        shown_value = round_to_danger(shown_value / step + nudge) * step
    if (
        value is not None
        and limit is not None
        and shown_value is not None
        and shown_limit is not None
    ):
        worse = -step if falling else step
        over = value < limit if falling else value > limit
        beyond = (shown_value - shown_limit) / worse
        if over and beyond < 1:
            shown_value = shown_limit + worse
        elif not over and beyond > 0:
            shown_value = shown_limit
    return Shown(shown_value, shown_limit, digits)


def _known(figure: float | None) -> float | None:
    return figure if figure is not None and math.isfinite(figure) else None


def _digits(wanted: int, figures: list[float]) -> int:
    digits = wanted
    sizes = [abs(figure) for figure in figures if abs(figure) > _TINY]
    while sizes and digits < _MOST_DIGITS and round(min(sizes), digits) == 0:
        digits += 1
    return digits


@dataclass(frozen=True, slots=True)
class Figures:
    """Figures of one day in one rider's units and language.

    Parameters
    ----------
    words : Words
    units : UnitSystem
    zone : ZoneInfo
    day : datetime.date
        Times on another local date are told with their weekday.
    """

    words: Words
    units: UnitSystem
    zone: ZoneInfo
    day: date

    def local(self, moment: datetime, *, up: bool = False) -> datetime:
        """Return the local time to the minute: cut off, or rounded up (for arrivals)."""
        seconds = timedelta(seconds=moment.second, microseconds=moment.microsecond)
        if seconds and up:
            moment += timedelta(minutes=1)
        return (moment - seconds).astimezone(self.zone)

    def clock(self, moment: datetime, *, up: bool = False) -> str:
        """Return the local 24-hour time, with the weekday where it is another day's."""
        local = self.local(moment, up=up)
        return self._on_its_day(local, f"{local:%H:%M}")

    def _on_its_day(self, local: datetime, time: str) -> str:
        """Return the time with the weekday where it is another day's, the date if far away."""
        day = local.date()
        if day == self.day:
            return time
        if abs((day - self.day).days) < _WEEK:
            return self.words.say("{weekday} {time}", weekday=self.weekday(day), time=time)
        return self.words.say("{date} {time}", date=self.date(day), time=time)

    def weekday(self, day: date) -> str:
        """Return the short weekday, e.g. "Fri"."""
        return format_date(day, "EEE", locale=self.words.locale)

    def full_weekday(self) -> str:
        """Return the weekday of the day itself, e.g. "Friday"."""
        return format_date(self.day, "EEEE", locale=self.words.locale)

    def date(self, day: date) -> str:
        """Return weekday, day and month, e.g. "Fri 16 Oct"."""
        return str(format_skeleton("MMMEd", day, locale=self.words.locale))

    def number(self, figure: float, digits: int = 0) -> str:
        """Return a number as the language writes it, without idle zeros."""
        rounded = round(figure, digits) + 0.0  # no "-0"
        pattern = "#,##0" + ("." + "#" * digits if digits > 0 else "")
        return format_decimal(rounded, format=pattern, locale=self.words.locale)

    def measure(self, shown: float, digits: int, scale: Scale) -> str:
        """Return a figure in the rider's unit with the unit."""
        return self.words.say(scale.written, n=self.number(shown, digits))

    def minutes(self, minutes: float) -> str:
        """Return whole minutes, cut off towards less: time in hand is never overstated."""
        return self.measure(math.floor(minutes + _TINY), 0, _SAME["min"])

    def cost(self, minutes: float) -> str:
        """Return a price or worth in whole minutes, to the nearest, without its sign."""
        return self.measure(math.floor(abs(minutes) + 0.5), 0, _SAME["min"])

    def span(self, hours: float) -> str:
        """Return over how many hours something is summed, before the thing: "24-h"."""
        return self.words.say("{n}-h", n=self.number(hours))

    def age(self, since: datetime, now: datetime) -> str:
        """Return how old something is: minutes below two hours, hours beyond, rounded up.

        Empty where it is newer than `now`, as in a replay: it has no age then.
        """
        minutes = (now - since).total_seconds() / 60.0
        if minutes < 0:
            return ""
        if minutes < 120:  # noqa: PLR2004 - two hours
            return self.measure(math.ceil(minutes), 0, _SAME["min"])
        return self.measure(math.ceil(minutes / 60.0 - _TINY), 0, _SAME["h"])


@dataclass(frozen=True, slots=True)
class SpokenFigures(Figures):
    """The same figures in full words, for a synthesiser."""

    def clock(self, moment: datetime, *, up: bool = False) -> str:
        """Return the local 24-hour time in words, with the weekday where it is another day's."""
        local = self.local(moment, up=up)
        return self._on_its_day(local, time_words(local.hour, local.minute, self.words))

    def weekday(self, day: date) -> str:
        """Return the full weekday."""
        return format_date(day, "EEEE", locale=self.words.locale)

    def date(self, day: date) -> str:
        """Return the full weekday; a plan is never further away than it tells."""
        return self.weekday(day)

    def number(self, figure: float, digits: int = 0) -> str:
        """Return a number in words."""
        return figure_words(f"{round(figure, digits) + 0.0:.{max(digits, 0)}f}", self.words)

    def measure(self, shown: float, digits: int, scale: Scale) -> str:
        """Return a figure in the rider's unit in words."""
        told = scale.one if shown == 1 else scale.spoken
        return self.words.say(told, n=self.number(shown, digits))

    def span(self, hours: float) -> str:
        """Return over how many hours something is summed, as one says it: "day's rain"."""
        if hours == _A_DAY:
            return self.words.say("day's")
        return self.words.say("{n}-hour", n=self.number(hours))
