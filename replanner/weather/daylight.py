"""Daylight at a point, on the safe side.

Everything is decided by the sun's elevation along one solar day, from solar midnight to solar
midnight, never by an event routine: those return the evening before at western longitudes, a
sunset before the sunrise where it falls after local midnight, and invent and deny events for
days near the start of polar day and night. The rider's heights do not matter: a hill behind him
may raise the horizon as much as his own height lowers it.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from replanner.clock import local_instant
from replanner.geodesy import Point
from replanner.weather.sun import (
    Floats,
    Instants,
    SunPosition,
    geometric_elevation,
    hour_angle_of,
    require_on_earth,
    seconds_of,
    sun_position,
)

__all__ = [
    "Daylight",
    "SunPosition",
    "daylight",
    "minutes_to_dusk",
    "minutes_to_sunset",
    "sun_position",
]

# Elevation of the sun's centre by definition: 34' of refraction and 16' of radius for rise and
# set, 6 degrees for civil twilight (USNO). Lifted by what our sun errs at most (measured in
# tests/published/test_sun.py against skyfield), so that the light never ends later than told.
_ERROR = 0.02
SUNSET_ELEVATION = -0.8333 + _ERROR
DUSK_ELEVATION = -6.0 + _ERROR

_HALF_DAY_MINUTES = 12 * 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Daylight:
    """The light of one local day at one point; UTC instants, None where the event does not occur.

    Rounded inwards to the minute: the usable window is never longer than the real one.
    `always_light`: the sun stays above -6 degrees all day; `never_light`: it stays below.
    On the day on which polar day begins or ends only one of a pair of events exists; solar
    midnight stands for the other.
    """

    date: date
    civil_dawn: datetime | None
    sunrise: datetime | None
    sunset: datetime | None
    civil_dusk: datetime | None
    always_light: bool = False
    never_light: bool = False


class _Span(NamedTuple):
    """While the sun is above an elevation on one solar day, rounded inwards; UTC.

    With `always` or `never`, begin and end are the whole solar day and mean no event.
    """

    begin: datetime
    end: datetime
    always: bool
    never: bool


def daylight(point: Point, day: date, zone: ZoneInfo) -> Daylight:
    """Return the light of the solar day that is going on at noon of a local date.

    Parameters
    ----------
    point : Point
    day : date
        Local date; the evening's events may fall after local midnight.
    zone : ZoneInfo
        The zone the date is meant in.

    Raises
    ------
    TypeError
        If `day` is a datetime: its hour would be lost in silence.
    ValueError
        If the point is not on the earth.
    """
    if isinstance(day, datetime):
        raise TypeError(f"day must be a date, got the datetime {day.isoformat()}")
    require_on_earth(point)
    midday = local_instant(day, time(12), zone)
    solar_day = int(_solar_days(point, np.array([midday.replace(tzinfo=None)], "datetime64[s]"))[0])
    sun = _span(point.latitude, point.longitude, solar_day, SUNSET_ELEVATION)
    civil = _span(point.latitude, point.longitude, solar_day, DUSK_ELEVATION)
    has_sun, has_light = not (sun.always or sun.never), not (civil.always or civil.never)
    return Daylight(
        date=day,
        civil_dawn=civil.begin if has_light else None,
        sunrise=sun.begin if has_sun else None,
        sunset=sun.end if has_sun else None,
        civil_dusk=civil.end if has_light else None,
        always_light=civil.always,
        never_light=civil.never,
    )


def minutes_to_dusk(point: Point, times: Instants) -> Floats:
    """Return the minutes from each instant to civil dusk of its solar day.

    Parameters
    ----------
    point : Point
    times : ndarray of datetime64, any shape
        UTC.

    Returns
    -------
    ndarray, same shape
        Negative after dusk (minutes since) and before dawn (minutes still to go). Infinite where
        it is light all day, minus infinite where it never is. [min]

    Raises
    ------
    ValueError
        If the point is not on the earth.
    """
    return _minutes_to_end(point, times, DUSK_ELEVATION)


def minutes_to_sunset(point: Point, times: Instants) -> Floats:
    """Return the minutes from each instant to sunset; signs and shape as `minutes_to_dusk`."""
    return _minutes_to_end(point, times, SUNSET_ELEVATION)


def _minutes_to_end(point: Point, times: Instants, elevation: float) -> Floats:
    require_on_earth(point)
    if times.size == 0:
        return np.empty(times.shape)
    seconds = seconds_of(times)
    solar_days = _solar_day_of(point, seconds)
    first, last = int(solar_days.min()), int(solar_days.max())
    ends = [
        _begin_and_end(_span(point.latitude, point.longitude, solar_day, elevation))
        for solar_day in range(first, last + 1)
    ]
    if first == last:
        ((begin, end),) = ends
    else:
        number = (solar_days - first).astype(np.int64)
        begin, end = (each.take(number) for each in np.array(ends).T)
    since_begin = (seconds - begin) / 60.0
    return np.where(since_begin < 0, since_begin, (end - seconds) / 60.0)


def _begin_and_end(span: _Span) -> tuple[float, float]:
    """Return the seconds since 1970 between which it is light, infinite ones where it always is."""
    if span.always or span.never:
        return -np.inf, np.inf if span.always else -np.inf
    return span.begin.timestamp(), span.end.timestamp()


def _solar_days(point: Point, times: Instants) -> Floats:
    """Return the number of the mean solar day of a longitude, counted from midnight to midnight."""
    return _solar_day_of(point, seconds_of(times))


def _solar_day_of(point: Point, seconds: Floats) -> Floats:
    return np.asarray(np.floor((seconds + 240.0 * point.longitude) / 86400.0))


@lru_cache(maxsize=4096)
def _span(latitude: float, longitude: float, solar_day: int, elevation: float) -> _Span:
    """Find while the sun is above an elevation, by its elevation at every minute of the day."""
    grid, elevations = _elevations(latitude, longitude, solar_day)
    above = elevations - elevation
    morning, evening = above[: _HALF_DAY_MINUTES + 1], above[_HALF_DAY_MINUTES:]
    begin, end = _crossing(morning), _crossing(evening[::-1])
    first, last = (datetime.fromtimestamp(float(grid[at]), tz=UTC) for at in (0, -1))
    return _Span(
        begin=_minute_up(first + timedelta(minutes=begin)),
        end=_minute_down(last - timedelta(minutes=end)),
        always=begin == 0.0 and end == 0.0,
        never=bool(above.max() < 0),
    )


@lru_cache(maxsize=16)  # both ends of the light ask for the same day one after the other
def _elevations(latitude: float, longitude: float, solar_day: int) -> tuple[Floats, Floats]:
    """Return every minute of a solar day, in seconds since 1970, and the sun's elevation then."""
    point = Point(latitude, longitude, 0.0)
    mean_noon = np.array([solar_day * 86400 + 43200 - 240 * longitude]).astype("datetime64[s]")
    noon = seconds_of(mean_noon) - 240.0 * hour_angle_of(point, mean_noon)
    grid = np.round(noon) + 60.0 * np.arange(-_HALF_DAY_MINUTES, _HALF_DAY_MINUTES + 1)
    return grid, geometric_elevation(point, grid.astype("datetime64[s]"))


def _crossing(above: Floats) -> float:
    """Return the index, between nodes, from which values stay at or above zero; 0: they all do."""
    below = np.flatnonzero(above < 0)
    if below.size == 0:
        return 0.0
    at = int(below[-1])
    if at == above.size - 1:
        return float(at)
    return at + float(above[at] / (above[at] - above[at + 1]))


def _minute_down(moment: datetime) -> datetime:
    return moment.replace(second=0, microsecond=0)


def _minute_up(moment: datetime) -> datetime:
    down = _minute_down(moment)
    return down if down == moment else down + timedelta(minutes=1)
