"""Where on the tour a position is: on a leg of the day, at a place, or off the route."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from replanner.geodesy import Point
from replanner.trip.leg_lines import Spot, line_of, metres_apart
from replanner.trip.model import LegId, PlaceId, Tour, Way
from replanner.trip.passage import in_way
from replanner.trip.underway import OnLeg, Underway

# At a town, a junction, a car park. Assumption.
PLACE_WITHIN_M = 400.0
# Two legs this alike are told apart by what was ridden before, else not at all. Assumption.
_ALIKE = 1.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Whereabouts:
    """Where riders are, as far as a position tells.

    At most one of `on_leg` and `place` is given; neither: off the route.

    Parameters
    ----------
    distance_m : float
        From the leg's line or the place; off the route: from the nearest of either. [m]
    way_known : bool
        Whether the way they ride `on_leg` is more than a guess.
    sure : bool
        False where another leg fits about as well.
    """

    point: Point
    on_leg: OnLeg | None = None
    place: PlaceId | None = None
    distance_m: float
    way_known: bool = False
    sure: bool = True


def locate(
    tour: Tour, legs: Sequence[LegId], point: Point, *, near: OnLeg | None = None
) -> Whereabouts:
    """Return where a position is on the legs of a day.

    Ends of legs count as places, other places are met on a leg. A leg the riders are known to be
    on is believed as long as the position fits it, at the spot nearest to where they were, ahead
    of them in the way they ride. Otherwise the leg whose line is nearest, as widths go, counts;
    of equals the first in `legs`; one that may be ridden one way only or has been followed tells
    the way.

    Parameters
    ----------
    legs : sequence of LegId
        Of the day, planned ones in their order first.
    near : OnLeg or None
        Where the riders were last known to be: `Progress.on`.
    """
    held = None if near is None or near.leg not in tour.legs else _held(tour, near, point)
    if held is not None and not _at_end(tour, near, point):
        return held
    place = _place(tour, legs, point)
    if place is not None:
        return Whereabouts(point=point, place=place[0], distance_m=place[1])
    found = [(leg, spot) for leg in dict.fromkeys(legs) for spot in _on(tour, leg, point)]
    if not found:
        return Whereabouts(point=point, distance_m=_nearest(tour, legs, point))
    leg, spot = min(found, key=lambda one: one[1].distance_m / one[1].within_m)
    others = [s.distance_m / s.within_m for other, s in found if other != leg]
    known = len(tour.legs[leg].ways) == 1
    return Whereabouts(
        point=point,
        on_leg=OnLeg(leg=leg, way=Way.FORWARD, fraction=spot.fraction),
        distance_m=spot.distance_m,
        way_known=known,
        sure=min(others, default=2.0) > _ALIKE * spot.distance_m / spot.within_m,
    )


def underway_at(
    where: Whereabouts, at: datetime, ridden: frozenset[LegId], *, live: bool
) -> Underway:
    """Return a day under way from where riders are found to be, riding on at once."""
    return Underway(
        at=at,
        ready=at,
        ridden=ridden,
        on_leg=where.on_leg,
        place=where.place,
        point=where.point if where.on_leg is None and where.place is None else None,
        live=live,
    )


def _held(tour: Tour, near: OnLeg, point: Point) -> Whereabouts | None:
    """Return the position as one on the leg they were on; None: it does not fit it."""
    spots = _on(tour, near.leg, point)
    if not spots:
        return None
    reached = in_way(near.fraction, near.way)

    def onward(spot: Spot) -> tuple[bool, float]:
        ahead = in_way(spot.fraction, near.way) - reached
        return ahead < -_JITTER, abs(ahead)

    spot = min(spots, key=onward)
    return Whereabouts(
        point=point,
        on_leg=OnLeg(leg=near.leg, way=near.way, fraction=spot.fraction),
        distance_m=spot.distance_m,
        way_known=True,
    )


_JITTER = 0.02  # of a leg: what a position may seem to go back


def _at_end(tour: Tour, near: OnLeg | None, point: Point) -> bool:
    """Return whether a position is at the end of the leg they were on, most of it behind them."""
    if near is None or in_way(near.fraction, near.way) < 0.5:  # noqa: PLR2004 - half of it
        return False
    end = tour.places[tour.legs[near.leg].ends(near.way)[1]].point
    return metres_apart(point, end) <= PLACE_WITHIN_M


def _on(tour: Tour, leg: LegId, point: Point) -> list[Spot]:
    line = line_of(tour, tour.legs[leg])
    return [] if line is None else [spot for spot in line.spots(point) if spot.on]


def _ends(tour: Tour, legs: Iterable[LegId]) -> tuple[PlaceId, ...]:
    return tuple(dict.fromkeys(end for leg in legs for end in tour.legs[leg].ends(Way.FORWARD)))


def _place(tour: Tour, legs: Sequence[LegId], point: Point) -> tuple[PlaceId, float] | None:
    """Return the nearest end of a leg, or other place off all legs, that is near enough."""
    inner = {via for leg in legs for via in tour.legs[leg].via}
    places = (*_ends(tour, legs), *(place for place in tour.places if place not in inner))
    near = [
        (place, metres)
        for place in dict.fromkeys(places)
        if (metres := metres_apart(point, tour.places[place].point)) <= PLACE_WITHIN_M
    ]
    return min(near, key=lambda one: one[1], default=None)


def _nearest(tour: Tour, legs: Sequence[LegId], point: Point) -> float:
    """Return how far the nearest leg or place is. [m]."""
    lines = (line_of(tour, tour.legs[leg]) for leg in legs)
    roads = [spot.distance_m for line in lines if line is not None for spot in line.spots(point)]
    places = [metres_apart(point, place.point) for place in tour.places.values()]
    return min((*roads, *places), default=float("inf"))
