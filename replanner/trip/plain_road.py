"""Plain road to the end of a day as legs that can be judged: nobody has written what it is like.

Taken as an open sealed road on the straight line between two places: where it really runs is not
known. Assumption.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import ceil

import numpy as np

from replanner.trip.connectors import ConnectorTable
from replanner.trip.model import Exposure, Leg, LegId, LegKind, PlaceId, Road, Section, Tour

# Weather is asked for about this often along it, and not more often than that. Assumptions.
_EVERY_KM, _MOST_PARTS = 25.0, 6
_OPEN_ROAD = Road(exposure=Exposure.OPEN)


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
        km = minutes if np.isnan(km) else km  # no length known: 60 km/h
        name = f"road from {start}"
        legs[name] = _road(tour, name, start, end, minutes, km)
        if connectors.estimated[row, column]:
            estimated.add(name)
    return PlainRoads(legs, frozenset(estimated))


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
