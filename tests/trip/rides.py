"""Simulated rides along the lines of a tour's legs, as a phone would tell them. INVENTED."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

import numpy as np

from replanner.files.limits_toml import read_limits
from replanner.files.tour_toml import load_tour
from replanner.geodesy import Point
from replanner.trip.model import Tour, Way
from replanner.trip.passage import in_way
from replanner.trip.progress import Progress, advance
from replanner.trip.stretches import leg_line, point_at
from replanner.trip.timing import Speeds

METRES_PER_DEGREE = 111_320.0  # of latitude; only noise is scaled by it
ROOT = Path(__file__).parents[2]


@cache
def demo() -> Tour:
    """Return the demo tour."""
    limits = read_limits(ROOT / "config" / "limits.toml")
    return load_tour(ROOT / "demo" / "tour.toml", Speeds(), limits.limits)


@dataclass
class Phone:
    """Tells positions every so many seconds with a receiver's error, normal, in metres."""

    tour: Tour
    at: datetime
    rng: np.random.Generator
    seconds: float = 60.0
    noise_m: float = 15.0

    def along(
        self, leg: str, way: Way = Way.FORWARD, first: float = 0.0, last: float = 1.0
    ) -> Iterator[tuple[Point, datetime]]:
        """Ride from one fraction of the way ridden to another, back if it lies behind."""
        whole = self.tour.legs[leg]
        line = leg_line(self.tour, whole)
        minutes = whole.riding_minutes * abs(last - first)
        steps = max(int(minutes * 60.0 / self.seconds), 1)
        for step in range(steps + 1):
            share = first + (last - first) * step / steps
            yield self.here(point_at(line, in_way(share, way)))
            self.at += timedelta(minutes=minutes / steps)

    def here(self, point: Point) -> tuple[Point, datetime]:
        north, east = self.rng.normal(0.0, self.noise_m, 2) / METRES_PER_DEGREE
        east /= np.cos(np.radians(point.latitude))
        return Point(point.latitude + north, point.longitude + east, point.elevation), self.at

    def wait(self, minutes: float) -> None:
        self.at += timedelta(minutes=minutes)


def followed(
    tour: Tour, legs: tuple[str, ...], positions: Iterator[tuple[Point, datetime]],
    progress: Progress | None = None,
) -> Progress:  # fmt: skip
    found = progress or Progress()
    for point, at in positions:
        found = advance(found, tour, legs, point, at)
    return found
