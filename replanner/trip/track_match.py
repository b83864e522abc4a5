"""Which known legs a recorded track ran along, in which order and way, and when.

A leg with a recorded line is matched by its line: points along it are met by the track, in order.
A leg of which only places are known is matched by these: each is met in order, and the road
between is about as long as the leg is. Without a line two roads between the same places cannot be
told apart but by their length.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from replanner.geodesy import Point
from replanner.trip.model import Leg, LegId, LegKind, Tour, Way
from replanner.trip.track import Track
from replanner.trip.track_line import Floats, TrackLine, points_along

# All of these are assumptions, no source. A recorder under trees or cliffs errs by tens of
# metres, a road's line drawn from a map as much; a place is a town, a junction, a car park.
LINE_WITHIN_M = 150.0
PLACE_WITHIN_M = 400.0
# Less of the line than this, or a road so much shorter or longer, is another ride.
LEAST_COVERED = 0.8
LENGTH_WITHIN = 0.35
# Two ways this alike are told apart by which was ridden through first.
_ALIKE = 0.02
# Of the shorter of two legs matched by places, as much of it ridden at once is one road.
_SAME_ROAD = 0.5

_FEWEST_PLACES = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchedLeg:
    """A leg a track ran along.

    Parameters
    ----------
    covered : float
        Share of its line, or of its places, that was met in order, `LEAST_COVERED` to 1.
    start, end : datetime or None
        When its ends were passed, UTC; None where the track has no times there.
    by_line : bool
        Matched by its recorded line; False: by its places, which is less sure.
    """

    leg: LegId
    way: Way
    covered: float
    start: datetime | None
    end: datetime | None
    by_line: bool


@dataclass(frozen=True, slots=True)
class _Found:
    """A match with where on the track it lies: first and last hop, and the metres between."""

    match: MatchedLeg
    first: int
    last: int
    metres: float
    places: int


def legs_on_track(tour: Tour, track: Track) -> tuple[MatchedLeg, ...]:
    """Return the legs a track ran along, in the order they were ridden through.

    A leg ridden several times is told once, for the first time. Stops are no roads and are not
    matched; neither is a leg that begins and ends at one place of which nothing else is known.
    """
    line = TrackLine.of(track)
    if line is None:
        return ()
    found = [
        match
        for leg in tour.legs.values()
        if leg.kind is not LegKind.STOP and (match := _matched(tour, leg, line))
    ]
    kept = [one for one in found if not any(_better(other, one, tour) for other in found)]
    return tuple(one.match for one in sorted(kept, key=lambda one: (one.last, one.first)))


def _matched(tour: Tour, leg: Leg, line: TrackLine) -> _Found | None:
    """Return the match of the way that covers more; of two alike the one done first."""
    points: Sequence[Point] = points_along(leg.track) if leg.track else _places(tour, leg)
    if len(set(points)) < _FEWEST_PLACES:
        return None
    metres = line.distances(points)
    if not np.mean((metres <= _within(leg)).any(axis=1)) >= _least(leg):
        return None
    found = [
        match
        for way in leg.ways
        if (match := _ridden(leg, way, line, points[:: _STEPS[way]], metres[:: _STEPS[way]]))
    ]
    if not found:
        return None
    most = max(match.match.covered for match in found)
    alike = [match for match in found if match.match.covered >= most - _ALIKE]
    return min(alike, key=lambda match: match.last)


_STEPS = {Way.FORWARD: 1, Way.REVERSE: -1}


def _within(leg: Leg) -> float:
    return LINE_WITHIN_M if leg.track else PLACE_WITHIN_M


def _least(leg: Leg) -> float:
    return LEAST_COVERED if leg.track else 1.0


def _ridden(
    leg: Leg, way: Way, line: TrackLine, points: Sequence[Point], metres: Floats
) -> _Found | None:
    """Return the match of one way; points and distances, shape (N, H), in the order ridden."""
    met, first, last = _in_order(metres <= _within(leg))
    covered = met / len(points)
    if covered < _least(leg):
        return None
    first, last = _nearest(metres, _within(leg), first, last)
    length = line.metres_between(first, last)
    if not leg.track and not _about_as_long(length, leg.distance_km * 1000.0):
        return None
    start, end = line.instant(points[0], first), line.instant(points[-1], last)
    if start is not None and end is not None and start > end:  # a clock set on the way
        start = end = None
    match = MatchedLeg(
        leg=leg.id, way=way, covered=covered, start=start, end=end, by_line=bool(leg.track)
    )
    return _Found(match, first, last, length, len(points))


def _nearest(metres: Floats, within: float, first: int, last: int) -> tuple[int, int]:
    """Return the hops nearest to both ends, of those that pass them at this time."""
    begin = first
    while begin > 0 and metres[0, begin - 1] <= within:
        begin -= 1
    over = last
    while over + 1 < metres.shape[1] and metres[-1, over + 1] <= within:
        over += 1
    nearest_start = begin + int(metres[0, begin : first + 1].argmin())
    return nearest_start, last + int(metres[-1, last : over + 1].argmin())


def _places(tour: Tour, leg: Leg) -> tuple[Point, ...]:
    return tuple(tour.places[place].point for place in (leg.start, *leg.via, leg.end))


def _about_as_long(metres: float, leg_metres: float) -> bool:
    return abs(metres - leg_metres) <= LENGTH_WITHIN * leg_metres


def _in_order(near: NDArray[np.bool_]) -> tuple[int, int, int]:
    """Find how many points can be met in order, and where on the track.

    Parameters
    ----------
    near : ndarray of bool, shape (N, H)
        Whether each of N points is near each of H hops of the track.

    Returns
    -------
    tuple of int
        The most points that are met on hops that never go back; the hop of the first and of the
        last of them, the last being as early as can be and the first as late as can be.
    """
    best = _most_met(near)
    met = int(best[-1])
    last = int(np.searchsorted(best, met))
    backwards = _most_met(near[::-1, : last + 1][:, ::-1])
    first = last - int(np.searchsorted(backwards, met))
    return met, first, last


def _most_met(near: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Return the most points met in order up to and with each hop, shape (H,)."""
    best = np.zeros(near.shape[1], np.int32)
    for here in near:
        best = np.maximum.accumulate(best + here)
    return best


def _better(other: _Found, one: _Found, tour: Tour) -> bool:
    """Return whether `one`, known by places only, is the same ride as a better match."""
    if one.match.by_line or other is one:
        return False
    shared = min(one.last, other.last) - max(one.first, other.first) + 1
    shorter = min(one.last - one.first, other.last - other.first) + 1
    if shared < _SAME_ROAD * shorter:
        return False
    ends = {tour.legs[found.match.leg].start for found in (one, other)}
    ends |= {tour.legs[found.match.leg].end for found in (one, other)}
    if len(ends) > _FEWEST_PLACES:  # not the same two ends: one may well hold the other
        return False
    return _rank(other, tour) > _rank(one, tour)


def _rank(found: _Found, tour: Tour) -> tuple[bool, int, float, LegId]:
    wanted = tour.legs[found.match.leg].distance_km * 1000.0
    return (found.match.by_line, found.places, -abs(found.metres - wanted), found.match.leg)
