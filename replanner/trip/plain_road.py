"""Plain road as legs that can be judged: nobody has written what it is like.

Taken as an open sealed road on the straight line between two places, or round one place: where it
really runs is not known. Assumption.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import ceil

import numpy as np

from replanner.geodesy import Point
from replanner.trip.connectors import ConnectorTable
from replanner.trip.model import Exposure, Leg, LegId, LegKind, PlaceId, Road, Section, Tour
from replanner.trip.stretches import PointId, point_key

# Weather is asked for about this often along it, and not more often than that. Assumptions.
_EVERY_KM, _MOST_PARTS = 25.0, 6
_OPEN_ROAD = Road(exposure=Exposure.OPEN)
# As fast as plain road of unknown length is taken to be. Assumption.
_KM_AN_HOUR = 60.0


@dataclass(frozen=True, slots=True)
class PlainRoads:
    """Roads to one place as legs; `estimated` tells which have no more than estimated minutes."""

    legs: Mapping[LegId, Leg]
    estimated: frozenset[LegId]


def roads_to(
    tour: Tour, end: PlaceId, starts: Iterable[PlaceId], connectors: ConnectorTable
) -> PlainRoads:
    """Return the plain road from each place to one place as a leg.

    Parameters
    ----------
    connectors : ConnectorTable
        Holds all these places; where it has no road there is none.
    """
    legs: dict[LegId, Leg] = {}
    estimated: set[LegId] = set()
    for start in dict.fromkeys(starts):
        minutes = connectors.between(start, end)
        if start == end or minutes is None:
            continue
        row, column = connectors.index(start), connectors.index(end)
        km = float(connectors.distance_km[row, column])
        km = minutes / 60.0 * _KM_AN_HOUR if np.isnan(km) else km
        name = f"road from {start}"
        legs[name] = _road(tour, name, start, end, minutes, km)
        if connectors.estimated[row, column]:
            estimated.add(name)
    return PlainRoads(legs, frozenset(estimated))


def road_round(tour: Tour, place: PlaceId) -> Leg:
    """Return an hour of plain road round a place as a leg; which way it leads is not known."""
    return Leg(
        id=f"road round {place}",
        name=tour.places[place].name,
        kind=LegKind.TRANSIT,
        start=place,
        end=place,
        riding_minutes=60.0,
        distance_km=_KM_AN_HOUR,
        one_way=True,
        road=_OPEN_ROAD,
    )


def road_points(tour: Tour, places: Iterable[PlaceId]) -> dict[PointId, Point]:
    """Return the points whose weather plain road round some places is judged by."""
    return {point_key(tour.places[place].point): tour.places[place].point for place in places}


def _road(tour: Tour, name: LegId, start: PlaceId, end: PlaceId, minutes: float, km: float) -> Leg:
    parts = min(max(1, ceil(km / _EVERY_KM)), _MOST_PARTS)
    return Leg(
        id=name,
        name=tour.places[end].name,
        kind=LegKind.TRANSIT,
        start=start,
        end=end,
        riding_minutes=minutes,
        distance_km=km,
        one_way=True,
        road=_OPEN_ROAD,
        sections=tuple(
            Section(
                name=tour.places[end].name,
                from_fraction=n / parts,
                to_fraction=(n + 1) / parts,
                road=_OPEN_ROAD,
            )
            for n in range(parts)
        ),
    )
