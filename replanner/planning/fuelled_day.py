"""A built day and its tank: what its ways take, the day split by levels, what it lacks."""

from dataclasses import replace

import numpy as np

from replanner.planning.build import BuiltDay, BuiltLeg
from replanner.planning.build_way import BuiltWay
from replanner.planning.problem import DaySolution
from replanner.planning.tank import Ride, Split, Tank
from replanner.trip.fuel import stretches_km, usable_km
from replanner.trip.model import Leg


def tank_of(built: BuiltDay, begun_km: float = 0.0) -> Tank | None:
    """Return the smallest tank on a day's roads.

    Parameters
    ----------
    begun_km : float
        Ridden since it was full when the day begins. [km]

    Returns
    -------
    Tank or None
        None: no rider gives a range, or no plan of the day could ever run dry.
    """
    usable = usable_km(built.tour)
    if usable is None:
        return None
    tank = Tank(
        usable_km=usable,
        rides=tuple(tuple(_ride(one.leg, way) for way in one.ways) for one in built.legs),
        road_km=built.connector_km,
        begun_km=begun_km,
    )
    return None if tank.never_binds() else tank


def split_day(built: BuiltDay, day: Split) -> BuiltDay:
    """Return a built day split by levels: all that is told of its ways and roads stays."""
    pairs = np.ix_(day.places, day.places)
    return replace(
        built,
        problem=day.problem,
        legs=tuple(
            BuiltLeg(leg=one.leg, ways=tuple(one.ways[way] for way in ways))
            for one, ways in zip(built.legs, day.ways, strict=True)
        ),
        places=tuple(built.places[place] for place in day.places),
        connector_minutes=built.connector_minutes[pairs],
        connector_estimated=built.connector_estimated[pairs],
        connector_km=built.connector_km[pairs],
        whole=built,
        pauses={
            (here, there): built.pauses[one, other]
            for here, one in enumerate(day.places)
            for there, other in enumerate(day.places)
            if (one, other) in built.pauses
        },
    )


def since_full(
    built: BuiltDay, plan: DaySolution, begun_km: float
) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Return how much has been ridden on each leg of a plan since the tank was full.

    Returns
    -------
    tuple of tuple of (float, float)
        By leg of the plan: points of the way ridden, in order, with the kilometres there; a pump is
        told twice.
    """
    roads, place, km = built.connector_km, built.problem.start_place, begun_km
    found: list[tuple[tuple[float, float], ...]] = []
    for visit in plan.visits:
        way, leg = built.way(visit.leg, visit.way), built.legs[visit.leg].leg
        ends = built.problem.legs[visit.leg].ways[visit.way]
        km += float(roads[place, ends.start]) if place != ends.start else 0.0
        points = [(0.0, km)]
        *to_pumps, last = stretches_km(leg, way.pumps)
        for pump, stretch in zip(way.pumps, to_pumps, strict=True):
            points += [(pump, km + stretch), (pump, 0.0)]
            km = 0.0
        km += last
        found.append((*points, (1.0, km)))
        place = ends.end
    return tuple(found)


def _ride(leg: Leg, way: BuiltWay) -> Ride:
    before, *others = stretches_km(leg, way.pumps)
    if not others:
        return Ride(before=before)
    return Ride(before=before, between=max(others[:-1], default=0.0), after=others[-1])
