"""A track as short hops between its points, asked how near each comes to a place, and when.

Distances are taken in the plane that touches the WGS 84 ellipsoid in the middle of what is asked
about, by its two radii of curvature: along a leg that reaches a degree north to south the few
hundred metres that matter err by one in a hundred (tests/trip/test_track_match.py holds them
against geographiclib).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from replanner.geodesy import Point, along, geodesic
from replanner.trip.track import Track, TrackPoint

Floats = NDArray[np.float64]

# WGS 84: semi-major axis and flattening (NGA.STND.0036).
_AXIS_M = 6378137.0
_FLATTENING = 1.0 / 298.257223563
_ECCENTRICITY_2 = _FLATTENING * (2.0 - _FLATTENING)
# In the middle latitudes a plane of this size errs by millimetres.
_PLANE_WITHIN_M = 10_000.0
_FEWEST_POINTS = 2

# A leg's line is met point by point: this far apart, and not more of them than this.
_STEP_M, _MOST_POINTS = 50.0, 250
_CLOSE_M = 1000.0
# A hop is cut into parts not longer than this, so that the order of what it passes is kept; a
# line that is drawn round the world is cut less finely.
_HOP_M, _MOST_PARTS = 100.0, 40_000


def points_along(line: Sequence[Point]) -> tuple[Point, ...]:
    """Return points evenly along a line, both ends among them, 50 m apart or 250 of them."""
    hops = [(here, there, geodesic(here, there).distance) for here, there in pairwise(line)]
    total = sum(length for _, _, length in hops)
    count = min(max(int(total / _STEP_M), 1), _MOST_POINTS - 1)
    found: list[Point] = []
    reached = 0.0
    for here, there, length in hops:
        while length > 0 and len(found) < count and len(found) * total / count < reached + length:
            share = (len(found) * total / count - reached) / length
            found.append(along(here, there, share))
        reached += length
    return (*found, line[-1])


def track_km(track: Track) -> float:
    """Return how long a track is, without what was not recorded. [km]."""
    line = TrackLine.of(track)
    return 0.0 if line is None else float(line.length.sum()) / 1000.0


@dataclass(frozen=True, slots=True)
class TrackLine:
    """The hops of a track in order, H of them.

    Parameters
    ----------
    latitude, longitude, seconds : ndarray, shape (2, H)
        At the beginning and the end of each hop; seconds since 1970 UTC, NaN where not known.
    begin : ndarray, shape (H,)
        Metres from the beginning of the track, straight over where nothing was recorded. [m]
    length : ndarray, shape (H,)
        [m]
    """

    latitude: Floats
    longitude: Floats
    seconds: Floats
    begin: Floats
    length: Floats

    @classmethod
    def of(cls, track: Track) -> "TrackLine | None":
        """Return the hops of a track; None if it has none."""
        points = track.points
        if len(points) < _FEWEST_POINTS:
            return None
        rows = np.array([_row(point) for point in points]).T
        lengths = _lengths(rows)
        reached = np.concatenate([[0.0], np.cumsum(lengths)])
        recorded = np.ones(lengths.size, np.bool_)
        recorded[np.cumsum([len(segment) for segment in track.segments])[:-1] - 1] = False
        if not recorded.any():
            return None
        parts = np.where(recorded, _parts(lengths), 0)
        whole = np.repeat(np.arange(parts.size), parts)
        step = np.arange(whole.size) - np.repeat(np.cumsum(parts) - parts, parts)
        share = np.stack([step, step + 1]) / parts[whole]
        turn = np.diff(rows)
        turn[1] = _turned(turn[1])
        latitude, longitude, seconds = rows[:, None, whole] + share * turn[:, None, whole]
        length = lengths[whole] / parts[whole]
        return cls(latitude, longitude, seconds, reached[whole] + step * length, length)

    def distances(self, places: Sequence[Point]) -> Floats:
        """Return how near each hop comes to each of N places: shape (N, H).

        Infinite for hops that are further than a kilometre from all of them. [m]
        """
        found = np.full((len(places), self.length.size), np.inf)
        plane = _Plane.around(places)
        spots = [plane.of(np.asarray(p.latitude), np.asarray(p.longitude)) for p in places]
        east, north = plane.of(self.latitude, self.longitude)
        close = np.flatnonzero(
            _within(east, [float(spot[0]) for spot in spots])
            & _within(north, [float(spot[1]) for spot in spots])
        )
        east, north = east[:, close], north[:, close]
        over, up = np.diff(east, axis=0)[0], np.diff(north, axis=0)[0]
        square = over**2 + up**2
        for row, (x, y) in zip(found, spots, strict=True):
            share = _share(east[0] - x, north[0] - y, over, up, square)
            row[close] = np.hypot(east[0] - x + share * over, north[0] - y + share * up)
        return found

    def metres_between(self, first: int, last: int) -> float:
        """Return the length of the track from one hop to another, both counted whole. [m]."""
        return float(self.begin[last] + self.length[last] - self.begin[first])

    def instant(self, place: Point, hop: int) -> datetime | None:
        """Return when a hop comes nearest to a place, to the second; None: not known."""
        plane = _Plane.around([place])
        east, north = plane.of(self.latitude[:, hop], self.longitude[:, hop])
        x, y = plane.of(np.asarray(place.latitude), np.asarray(place.longitude))
        over, up = east[1] - east[0], north[1] - north[0]
        share = float(_share(east[0] - x, north[0] - y, over, up, over**2 + up**2))
        seconds = self.seconds[0, hop] + share * (self.seconds[1, hop] - self.seconds[0, hop])
        return None if np.isnan(seconds) else datetime.fromtimestamp(round(seconds), tz=UTC)


@dataclass(frozen=True, slots=True)
class _Plane:
    """A plane that touches the earth in the middle of some places."""

    longitude: float
    metres_east: float  # of a degree
    metres_north: float

    @classmethod
    def around(cls, places: Sequence[Point]) -> "_Plane":
        latitudes = [place.latitude for place in places]
        across, up = metres_per_degree(np.asarray((min(latitudes) + max(latitudes)) / 2.0))
        return cls(places[0].longitude, float(across), float(up))

    def of(self, latitude: Floats, longitude: Floats) -> tuple[Floats, Floats]:
        """Return how far east of the plane's meridian and north of the equator points lie. [m]."""
        east = _turned(longitude - self.longitude) * self.metres_east
        return east, np.asarray(latitude * self.metres_north)


def _within(ends: Floats, spots: list[float]) -> NDArray[np.bool_]:
    """Return which hops, ends of shape (2, H), come near the range of some spots."""
    near = (ends.max(axis=0) >= min(spots) - _CLOSE_M) & (ends.min(axis=0) <= max(spots) + _CLOSE_M)
    return np.asarray(near)


def _share(east: Floats, north: Floats, over: Floats, up: Floats, square: Floats) -> Floats:
    """Return how far along hops, as begun and as they run, the origin is nearest, 0..1."""
    share = -(east * over + north * up) / np.where(square > 0, square, 1.0)
    return np.asarray(np.clip(share, 0.0, 1.0))


def metres_per_degree(latitude: Floats) -> tuple[Floats, Floats]:
    """Return the metres of a degree of longitude and of latitude, by the radii of curvature."""
    turn = np.radians(latitude)
    stretch = 1.0 - _ECCENTRICITY_2 * np.sin(turn) ** 2
    prime_vertical = _AXIS_M / np.sqrt(stretch)
    meridian = _AXIS_M * (1.0 - _ECCENTRICITY_2) / stretch**1.5
    return np.radians(prime_vertical * np.cos(turn)), np.radians(meridian)


def _lengths(rows: Floats) -> Floats:
    """Return the metres between points, rows of latitude and longitude: shape (2+, N), (N-1,).

    Short ones in the plane of their middle, long ones by the geodesic: a recorder writes a point
    a second, which is too many to solve on the ellipsoid.
    """
    latitude, longitude = rows[0], rows[1]
    across, up = metres_per_degree((latitude[1:] + latitude[:-1]) / 2.0)
    lengths = np.hypot(_turned(np.diff(longitude)) * across, np.diff(latitude) * up)
    for at in np.flatnonzero(lengths > _PLANE_WITHIN_M):
        here, there = (Point(latitude[n], longitude[n], 0.0) for n in (at, at + 1))
        lengths[at] = geodesic(here, there).distance
    return np.asarray(lengths)


def _parts(lengths: Floats) -> NDArray[np.int64]:
    longest = max(_HOP_M, float(lengths.sum()) / _MOST_PARTS)
    return np.asarray(np.maximum(np.ceil(lengths / longest), 1.0), np.int64)


def _row(point: TrackPoint) -> tuple[float, float, float]:
    at = np.nan if point.at is None else point.at.timestamp()
    return (point.point.latitude, point.point.longitude, at)


def _turned(degrees: Floats) -> Floats:
    """Return differences of longitude the short way round, -180..180."""
    return np.asarray((degrees + 180.0) % 360.0 - 180.0)
