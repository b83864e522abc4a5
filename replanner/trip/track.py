"""A recorded or drawn line, as a GPX file holds it: GPX 1.1's words track, segment, point."""

from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from replanner.geodesy import Point


class TrackPoint(NamedTuple):
    """A point of a line: elevation NaN where not known, UTC-aware instant None where not known."""

    point: Point
    at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """A line with a name.

    Parameters
    ----------
    name : str
        On one line; may be empty.
    segments : tuple of tuple of TrackPoint
        Each in order, each with at least one point; between two segments nothing was recorded.
    planned : bool
        A route, that is a line of turn points to be ridden; False: a track that was recorded.
    """

    name: str
    segments: tuple[tuple[TrackPoint, ...], ...]
    planned: bool = False

    @property
    def points(self) -> tuple[TrackPoint, ...]:
        """Return all points in order."""
        return tuple(point for segment in self.segments for point in segment)
