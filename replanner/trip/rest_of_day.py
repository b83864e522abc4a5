"""What is left of a day under way: a tour and a day that begin where the riders are.

What has been ridden is gone from it, a must that was ridden is done, and the leg the riders are
on (or their way back over it) comes first, as a leg in its own right.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from replanner.errors import NoPlanError
from replanner.geodesy import Point
from replanner.trip.edits import Demands
from replanner.trip.fuel import ridden_since_full, told_km
from replanner.trip.model import Connector, Day, LegId, Place, PlaceId, Tour
from replanner.trip.on_the_map import roads_from
from replanner.trip.part_of_leg import LEAST_SHARE, rest_of_leg, way_back
from replanner.trip.passage import in_way
from replanner.trip.stretches import leg_line, point_at
from replanner.trip.timing import Speeds
from replanner.trip.underway import OnLeg, Underway

HERE: PlaceId = "here"
"""The place where riders are who are at no place of the tour."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RestOfDay:
    """What is left of a day.

    Parameters
    ----------
    tour, day
        As the rest of the day is planned on.
    demands : Demands
        Those that still mean something.
    start : datetime
        When it begins, UTC.
    first : LegId or None
        What has to be ridden first: the rest of the leg the riders are on, under its own name, or
        their way back over it, called as `back_over` says.
    """

    tour: Tour
    day: Day
    demands: Demands
    start: datetime
    first: LegId | None


def back_over(leg: LegId) -> LegId:
    """Return what the way back over a leg is called."""
    return f"{leg} back"


def rest_of_day(
    tour: Tour, day: Day, demands: Demands, speeds: Speeds, detour_factor: float
) -> RestOfDay:
    """Return what is left of a day from where the riders are.

    A leg whose stand-in was ridden is done as well; none of these is offered on later days. A leg
    the riders are on goes to its end, unless they turn back or it is closed: then they ride the
    way back to its start first and the leg is given up; as a must it passes to its stand-in.
    Roads from a point that is no place are estimates.

    Parameters
    ----------
    demands : Demands
        Its `underway` says where and when.

    Raises
    ------
    NoPlanError
        If the riders ride on only on another local day.
    ValueError
        If the demands hold no day under way, or it names no such leg or place.
    """
    underway = demands.underway
    if underway is None:
        raise ValueError("the day is not under way")
    if underway.ready.astimezone(tour.zone).date() != day.date:
        raise NoPlanError(
            "nothing is left of the day: you ride on only on another one",
            where=day.date.isoformat(),
            mend="plan that day",
        )
    settled = _settled(tour, underway, demands.closed)
    done = _done(tour, settled.ridden)
    since_full, told = ridden_since_full(day, underway), told_km(day, underway)
    tank = replace(underway, tank_km=since_full, tank_told_km=told)
    left = _without(replace(demands, underway=tank), done)
    tour = _riding(_less(_boarding(tour, underway), day, done), day, underway.riding)
    if settled.on_leg is not None:
        return _on_leg(tour, day, left, settled, settled.on_leg)
    start = settled.place
    if start is None:
        start, tour = HERE, _with_here(tour, settled.point, day, speeds, detour_factor)
    rest = _from(tour.day(day.date), start, settled.ready, tour)
    return RestOfDay(
        tour=_with_day(tour, rest), day=rest, demands=left, start=settled.ready, first=None
    )


def _settled(tour: Tour, underway: Underway, closed: frozenset[LegId]) -> Underway:
    """Return where the riders are, a leg not begun or at its end told as its place."""
    told = (underway.on_leg, underway.place, underway.point)
    if sum(one is not None for one in told) != 1:
        raise ValueError("exactly one of on_leg, place and point says where the riders are")
    if underway.place is not None and underway.place not in tour.places:
        raise ValueError(f"there is no place {underway.place!r}")
    on = underway.on_leg
    if on is None:
        return underway
    if on.leg not in tour.legs:
        raise ValueError(f"there is no leg {on.leg!r}")
    start, end = tour.legs[on.leg].ends(on.way)
    begun = in_way(on.fraction, on.way)
    if begun >= 1.0 - LEAST_SHARE:
        return replace(underway, on_leg=None, place=end, ridden=underway.ridden | {on.leg})
    if begun <= LEAST_SHARE:
        return replace(underway, on_leg=None, place=start)
    return replace(underway, turning_back=underway.turning_back or on.leg in closed)


def _done(tour: Tour, ridden: frozenset[LegId]) -> frozenset[LegId]:
    """Return what is done: what was ridden, and what it stood in for."""
    stood_in = {
        leg.id
        for leg in tour.legs.values()
        if leg.stand_in is not None and leg.stand_in.leg in ridden
    }
    return ridden | stood_in


def _without(demands: Demands, done: frozenset[LegId]) -> Demands:
    """Return the demands that still mean something: nothing of what is done, no past departure."""
    departure, underway = demands.departure, demands.underway
    if departure is not None and underway is not None and departure <= underway.ready:
        departure = None
    return replace(
        demands,
        departure=departure,
        forced=demands.forced - done,
        left_out=demands.left_out - done,
        moved=frozenset((leg, to) for leg, to in demands.moved if leg not in done),
    )


def _less(tour: Tour, day: Day, done: frozenset[LegId]) -> Tour:
    """Return the tour without what is done, from that day on."""
    days = tuple(
        replace(one, own_order=_but(one.own_order, done), optional=_but(one.optional, done))
        if one.date >= day.date
        else one
        for one in (day if other.date == day.date else other for other in tour.days)
    )
    return replace(tour, days=days)


def _boarding(tour: Tour, underway: Underway) -> Tour:
    """Return the tour in which those who stand in the queue need no more time to board."""
    crossing = None if underway.boarding is None else tour.legs[underway.boarding]
    if crossing is None or crossing.ferry is None:
        return tour
    ferry = replace(crossing.ferry, boarding_minutes=0.0, in_queue=True)
    at_once = replace(crossing, ferry=ferry)
    return replace(tour, legs={**tour.legs, crossing.id: at_once})


def _riding(tour: Tour, day: Day, riding: tuple[LegId, ...]) -> Tour:
    """Return the tour with the order the riders are in as the own order of the day.

    What the file has in the day's order beside it comes last; a stand-in that is ridden stands
    for its leg.
    """
    here = tour.day(day.date)
    stands_for = {
        one.leg: name for name in here.own_order if (one := tour.legs[name].stand_in) is not None
    }
    order = [
        leg if leg in here.legs or stands_for.get(leg) in riding else stands_for.get(leg, leg)
        for leg in riding
    ]
    own = tuple(dict.fromkeys((*(leg for leg in order if leg in here.legs), *here.own_order)))
    return _with_day(tour, replace(here, own_order=own, optional=_but(here.optional, own)))


def _but(legs: Iterable[LegId], done: Collection[LegId]) -> tuple[LegId, ...]:
    return tuple(leg for leg in legs if leg not in done)


def _on_leg(tour: Tour, day: Day, demands: Demands, underway: Underway, on: OnLeg) -> RestOfDay:
    """Return the rest of a day that begins on a leg: the rest of it, or the way back, first."""
    leg = tour.legs[on.leg]
    here = Place(id=HERE, name=leg.name, point=point_at(leg_line(tour, leg), on.fraction))
    if underway.turning_back:
        name = back_over(leg.id)
        part = way_back(tour, leg, on.way, on.fraction, name=name, start=HERE)
        demands = replace(
            demands,
            left_out=demands.left_out | {leg.id},
            forced=demands.forced - {leg.id},
            moved=frozenset(pair for pair in demands.moved if pair[0] != leg.id),
        )
    else:
        name = leg.id
        part = rest_of_leg(tour, leg, on.way, on.fraction, name=name, start=HERE)
        demands = replace(demands, left_out=demands.left_out - {leg.id})
    rest = _from(tour.day(day.date), HERE, underway.ready, tour)
    others = _but(rest.own_order, frozenset({name}))
    rest = replace(rest, own_order=(name, *others), optional=_but(rest.optional, frozenset({name})))
    first = replace(part.leg, before=_after(tour, name))
    places = {**tour.places, **{place.id: place for place in (here, *part.places)}}
    tour = replace(tour, places=places, legs={**tour.legs, name: first})
    return RestOfDay(
        tour=_with_day(tour, rest),
        day=rest,
        demands=demands,
        start=underway.ready,
        first=name,
    )


def _after(tour: Tour, first: LegId) -> tuple[LegId, ...]:
    """Return every other leg: whatever is ridden on the day comes after it."""
    return tuple(leg for leg in tour.legs if leg != first)


def _from(day: Day, start: PlaceId, ready: datetime, tour: Tour) -> Day:
    """Return the day as it begins at a place, whenever the riders are ready."""
    return replace(
        day,
        start=start,
        own_departure=None,
        earliest_departure=ready.astimezone(tour.zone).time(),
        latest_departure=None,
    )


def _with_day(tour: Tour, day: Day) -> Tour:
    days = tuple(day if other.date == day.date else other for other in tour.days)
    return replace(tour, days=days)


def _with_here(
    tour: Tour, point: Point | None, day: Day, speeds: Speeds, detour_factor: float
) -> Tour:
    """Return the tour with the point where the riders are as a place, and the roads from it."""
    if point is None:
        raise ValueError("nothing says where the riders are")
    roads: tuple[Connector, ...] = roads_from(tour, HERE, point, day, speeds, detour_factor)
    here = Place(id=HERE, name=HERE, point=point)
    return replace(tour, places={**tour.places, HERE: here}, connectors=(*tour.connectors, *roads))
