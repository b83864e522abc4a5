"""Where a point lies beside a leg: the nearest spots of its line, with their fractions.

A leg with a recorded track is known to within what a receiver errs. Of others only the places they
run by are known, joined straight: the road may swing far out between them, so that a point counts
as on the leg within a share of the distance between two places. All widths are assumptions.
"""

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import hypot

import numpy as np
from numpy.typing import NDArray

from replanner.geodesy import Point, along, geodesic
from replanner.trip.model import Leg, Tour
from replanner.trip.stretches import leg_line
from replanner.trip.track_line import metres_per_degree

Floats = NDArray[np.float64]

RECORDED_WITHIN_M = 250.0  # receiver under cliffs and trees, map error
STRAIGHT_SHARE = 0.2  # of the distance between two places
STRAIGHT_LEAST_M, STRAIGHT_MOST_M = 1000.0, 8000.0
_LONGEST_HOP_M = 500.0  # a straight line of degrees is a shortest line over this far


@dataclass(frozen=True, slots=True)
class Spot:
    """A spot on a leg nearest to a point: fraction in the forward way, distance, what counts."""

    fraction: float
    distance_m: float
    within_m: float

    @property
    def on(self) -> bool:
        """Whether the point counts as on the leg there."""
        return self.distance_m <= self.within_m


@dataclass(frozen=True, slots=True, eq=False)
class LegLine:
    """A leg's line in short hops, H of them.

    Parameters
    ----------
    latitude, longitude, metres : ndarray, shape (H + 1,)
        Ends of the hops, and the metres from the leg's start. [deg], [m]
    within : ndarray, shape (H,)
        How far off a point still counts as on the hop. [m]
    recorded : bool
    """

    latitude: Floats
    longitude: Floats
    metres: Floats
    within: Floats
    recorded: bool

    @property
    def length_m(self) -> float:
        """Length of the line. [m]"""  # noqa: D400 - a unit ends it
        return float(self.metres[-1])

    def spots(self, point: Point) -> tuple[Spot, ...]:
        """Return every spot that is nearer than those beside it, in order along the leg.

        A road there and back has two such spots at one place.
        """
        return _spots(self, point)

    def _find_spots(self, point: Point) -> tuple[Spot, ...]:
        east, north = self._beside(point)
        over, up = np.diff(east), np.diff(north)
        square = over**2 + up**2
        share = -(east[:-1] * over + north[:-1] * up) / np.where(square > 0, square, 1.0)
        share = np.clip(share, 0.0, 1.0)
        distance = np.hypot(east[:-1] + share * over, north[:-1] + share * up)
        padded = np.concatenate([[np.inf], distance, [np.inf]])
        lowest = (padded[1:-1] < padded[:-2]) & (padded[1:-1] <= padded[2:])
        at = self.metres[:-1] + share * np.diff(self.metres)
        return tuple(
            Spot(float(at[n]) / self.length_m, float(distance[n]), float(self.within[n]))
            for n in np.flatnonzero(lowest)
        )

    def _beside(self, point: Point) -> tuple[Floats, Floats]:
        """Return the ends of the hops in the plane that touches the earth at a point. [m]."""
        across, up = metres_per_degree(np.asarray(point.latitude))
        turn = (self.longitude - point.longitude + 180.0) % 360.0 - 180.0
        return turn * across, (self.latitude - point.latitude) * up


@lru_cache(maxsize=256)  # a position is looked for on each leg again and again
def _spots(line: LegLine, point: Point) -> tuple[Spot, ...]:
    return line._find_spots(point)  # noqa: SLF001 - its own cache


def metres_apart(here: Point, there: Point) -> float:
    """Return how far two points are apart, right where that is little. [m].

    In the plane that touches the earth between them, as `trip.track_line`: live positions are
    never asked for twice, and are not to crowd out the lines that `geodesy` keeps.
    """
    across, up = metres_per_degree(np.asarray((here.latitude + there.latitude) / 2.0))
    turn = (there.longitude - here.longitude + 180.0) % 360.0 - 180.0
    return hypot(turn * float(across), (there.latitude - here.latitude) * float(up))


def line_of(tour: Tour, leg: Leg) -> LegLine | None:
    """Return the line of a leg; None: it has no length."""
    return _line(leg_line(tour, leg), bool(leg.track))


@lru_cache(maxsize=256)
def _line(points: tuple[Point, ...], recorded: bool) -> LegLine | None:  # noqa: FBT001 - a cache key
    ends: list[Point] = []
    within: list[float] = []
    metres = [0.0]
    for start, end in pairwise(points):
        length = geodesic(start, end).distance
        if length <= 0:
            continue
        count = max(1, round(length / _LONGEST_HOP_M + 0.5))
        ends += [along(start, end, n / count) for n in range(count)]
        begun = metres[-1]
        metres += [begun + length * (n + 1) / count for n in range(count)]
        wide = float(np.clip(STRAIGHT_SHARE * length, STRAIGHT_LEAST_M, STRAIGHT_MOST_M))
        within += [RECORDED_WITHIN_M if recorded else wide] * count
    if not ends:
        return None
    ends.append(points[-1])
    return LegLine(
        latitude=np.array([point.latitude for point in ends]),
        longitude=np.array([point.longitude for point in ends]),
        metres=np.array(metres),
        within=np.array(within),
        recorded=recorded,
    )
