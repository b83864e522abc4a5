"""Where the sun stands: elevation and azimuth at many instants at once.

Declination and equation of time come from astral and depend on time alone; the rest is
trigonometry on whole arrays. Azimuth is degrees clockwise from true north.
"""

from datetime import UTC, datetime
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from astral.julian import julianday, julianday_to_juliancentury
from astral.sun import eq_of_time, sun_declination
from numpy.typing import NDArray

from replanner.geodesy import Point

Floats = NDArray[np.float64]
Booleans = NDArray[np.bool_]
Instants = NDArray[np.datetime64]

# Declination bends by at most 0.007 degrees a day per day: between 6-hourly nodes a straight
# line errs by less than 0.0001 degrees.
_NODE_SECONDS = 6 * 3600

# Where the sun about stands is kept for every ten minutes. It moves at most 1.26 degrees in five,
# and the air lifts it by at most 0.62.
_ABOUT_SECONDS, _ABOUT_DEGREES = 600, 2.0
_PER_DAY = 86400 // _ABOUT_SECONDS

# Where refraction still lifts the sun's upper limb above the horizon (34' + 16' below it).
_REFRACTION_BELOW = -0.8333


_POLE, _DATE_LINE = 90.0, 180.0  # degrees


class SunPosition(NamedTuple):
    """Apparent elevation and azimuth of the sun's centre in degrees, one shape."""

    elevation: Floats
    azimuth: Floats


def require_on_earth(point: Point) -> Point:
    """Return the point; raise ValueError if its latitude or longitude cannot be (astral would not).

    Examples
    --------
    >>> require_on_earth(Point(91.0, 0.0, 0.0))
    Traceback (most recent call last):
    ValueError: latitude must lie within -90..90 degrees, got 91.0
    """
    if not abs(point.latitude) <= _POLE:
        raise ValueError(f"latitude must lie within -90..90 degrees, got {point.latitude}")
    if not abs(point.longitude) <= _DATE_LINE:
        raise ValueError(f"longitude must lie within -180..180 degrees, got {point.longitude}")
    return point


def sun_position(point: Point, times: Instants) -> SunPosition:
    """Return where the sun stands, lifted by refraction at sea level pressure and 10 degC.

    Parameters
    ----------
    point : Point
    times : ndarray of datetime64, any shape
        UTC.

    Returns
    -------
    SunPosition
        Same shape.

    Raises
    ------
    ValueError
        If the latitude or longitude lies outside the earth.

    References
    ----------
    Refraction: Saemundsson, Sky and Telescope 72 (1986), 70, as quoted in Meeus, Astronomical
    Algorithms, chapter 16 (formula from memory; checked against pvlib in the tests).
    """
    geometric, azimuth = geometric_position(point, times)
    return SunPosition(geometric + _refraction(geometric), azimuth)


def geometric_position(point: Point, times: Instants) -> SunPosition:
    """Return where the sun stands without the air: what rise, set and twilight are defined by."""
    up, north, east = _towards_the_sun(point, times)
    azimuth = whole_turns_off(np.degrees(np.arctan2(east, north)))
    return SunPosition(_elevation(up, north, east), azimuth)


def geometric_elevation(point: Point, times: Instants) -> Floats:
    """Return the elevation of `geometric_position` alone, in degrees."""
    return _elevation(*_towards_the_sun(point, times))


def may_stand_between(point: Point, times: Instants, lowest: float, highest: float) -> Booleans:
    """Return, shape of times, False only where the sun surely is lower or higher, in degrees.

    Cheap: told from where the sun about stands, so that only few instants need a closer look.
    """
    if times.size == 0:
        return np.zeros(times.shape, np.bool_)
    nearest = _nearest(times)
    first, last = int(nearest.min()) // _PER_DAY, int(nearest.max()) // _PER_DAY
    known = [_about(point.latitude, point.longitude, day) for day in range(first, last + 1)]
    about = np.concatenate(known).take(nearest - first * _PER_DAY)
    return np.asarray((about >= lowest - _ABOUT_DEGREES) & (about <= highest + _ABOUT_DEGREES))


def _nearest(times: Instants) -> NDArray[np.int64]:
    seconds = np.asarray(times, dtype="datetime64[s]").astype(np.int64)
    return np.asarray((seconds + _ABOUT_SECONDS // 2) // _ABOUT_SECONDS)


@lru_cache(maxsize=4096)
def _about(latitude: float, longitude: float, day: int) -> Floats:
    """Return the elevation every ten minutes of a day since 1970 UTC, without refraction."""
    seconds = day * 86400 + _ABOUT_SECONDS * np.arange(_PER_DAY)
    return geometric_elevation(Point(latitude, longitude, 0.0), seconds.astype("datetime64[s]"))


def _elevation(up: Floats, north: Floats, east: Floats) -> Floats:
    return np.asarray(np.degrees(np.arctan2(up, np.hypot(north, east))))


def _towards_the_sun(point: Point, times: Instants) -> tuple[Floats, Floats, Floats]:
    """Return the unit vector to the sun: up, north and east."""
    declination, hour_angle = _equatorial(point, times)
    latitude, dec, hour = (
        np.radians(point.latitude),
        np.radians(declination),
        np.radians(hour_angle),
    )
    sin_dec, cos_dec, cos_hour = np.sin(dec), np.cos(dec), np.cos(hour)
    up = np.sin(latitude) * sin_dec + np.cos(latitude) * cos_dec * cos_hour
    north = np.cos(latitude) * sin_dec - np.sin(latitude) * cos_dec * cos_hour
    return up, north, -cos_dec * np.sin(hour)


def hour_angle_of(point: Point, times: Instants) -> Floats:
    """Return the sun's hour angle in -180..180 degrees: 0 at solar noon, positive after it."""
    return _equatorial(point, times)[1]


def _equatorial(point: Point, times: Instants) -> tuple[Floats, Floats]:
    """Return declination and hour angle in degrees, both of the shape of times."""
    require_on_earth(point)
    seconds = seconds_of(times)
    declination, equation_minutes = _declination_and_equation(seconds)
    of_the_day = seconds - 86400.0 * np.floor(seconds / 86400.0)
    solar_minutes = of_the_day / 60.0 + equation_minutes + 4.0 * point.longitude
    return declination, whole_turns_off(solar_minutes / 4.0) - 180.0


def whole_turns_off(degrees: Floats) -> Floats:
    """Return the angle in 0..360 degrees, as `%` does and to the last bit, in half its time.

    For angles from one turn below zero to two above: further off the last bit may differ.
    """
    return np.asarray(degrees - 360.0 * np.floor(degrees / 360.0))


def _refraction(elevation: Floats) -> Floats:
    """Return the lift by refraction; none once the sun is below the horizon."""
    seen = np.maximum(elevation, _REFRACTION_BELOW)
    lift = 1.02 / 60.0 / np.tan(np.radians(seen + 10.3 / (seen + 5.11)))
    return np.where(elevation >= _REFRACTION_BELOW, np.maximum(lift, 0.0), 0.0)


def _declination_and_equation(seconds: Floats) -> tuple[Floats, Floats]:
    """Return declination [deg] and equation of time [min] at seconds since 1970, same shape."""
    if seconds.size == 0:
        return np.zeros(seconds.shape), np.zeros(seconds.shape)
    first = int(seconds.min() // _NODE_SECONDS)
    last = int(seconds.max() // _NODE_SECONDS) + 1
    nodes = np.arange(first, last + 1)
    values = np.array([_at_node(int(node)) for node in nodes])
    at = seconds / _NODE_SECONDS
    return (
        np.asarray(np.interp(at, nodes, values[:, 0])),
        np.asarray(np.interp(at, nodes, values[:, 1])),
    )


@lru_cache(maxsize=4096)
def _at_node(node: int) -> tuple[float, float]:
    moment = datetime.fromtimestamp(node * _NODE_SECONDS, tz=UTC)
    century = julianday_to_juliancentury(julianday(moment))
    return float(sun_declination(century)), float(eq_of_time(century))


def seconds_of(times: Instants) -> Floats:
    """Return seconds since 1970 UTC, same shape."""
    return np.asarray(times, dtype="datetime64[s]").astype(np.int64).astype(np.float64)
