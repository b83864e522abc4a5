"""Distances and bearings on the WGS 84 ellipsoid.

Haversine on a sphere errs by up to 0.56 %; geographiclib solves the ellipsoid to nanometres
(Karney 2013, Algorithms for geodesics, J. Geodesy 87, 43-55).

One evening asks for the same few hundred lines again and again (each leg is cut anew for the
forecast, the hazards and each day it may move to), so what was solved is kept.
"""

from functools import lru_cache
from typing import NamedTuple

from geographiclib.geodesic import Geodesic

_KEPT = 10_000  # lines: a long tour's, some megabytes


class Point(NamedTuple):
    """A point on the earth: latitude and longitude in degrees, elevation in metres."""

    latitude: float
    longitude: float
    elevation: float


class GeodesicLine(NamedTuple):
    """The shortest line between two points: length [m] and first bearing [deg from true north]."""

    distance: float
    bearing: float


@lru_cache(maxsize=_KEPT)
def geodesic(start: Point, end: Point) -> GeodesicLine:
    """Solve the shortest line from start to end on WGS 84; elevations are ignored.

    Returns
    -------
    GeodesicLine
        Distance in metres, bearing at the start in 0..360 degrees.

    Examples
    --------
    >>> geodesic(Point(0, 0, 0), Point(0, 1, 0)).distance.__round__(4)
    111319.4908
    """
    line = Geodesic.WGS84.Inverse(
        start.latitude,
        start.longitude,
        end.latitude,
        end.longitude,
        Geodesic.DISTANCE | Geodesic.AZIMUTH,
    )
    return GeodesicLine(float(line["s12"]), float(line["azi1"]) % 360.0)


@lru_cache(maxsize=_KEPT)
def along(start: Point, end: Point, fraction: float) -> Point:
    """Return the point at a fraction (0..1) of the shortest line; elevation runs straight."""
    inverse = Geodesic.WGS84.InverseLine(
        start.latitude, start.longitude, end.latitude, end.longitude
    )
    here = inverse.Position(inverse.s13 * fraction, Geodesic.LATITUDE | Geodesic.LONGITUDE)
    elevation = start.elevation + (end.elevation - start.elevation) * fraction
    return Point(float(here["lat2"]), float(here["lon2"]), elevation)
