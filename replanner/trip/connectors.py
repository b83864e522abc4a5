"""Plain road between the places of a day: what the rider gave, else an estimate marked as one.

An estimate is the shortest line on the ellipsoid times a detour factor, at the connector speed.
It must not run over water: the two quays of a crossing are never joined by one, nor are two
shores that only a crossing joins.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from replanner.geodesy import geodesic
from replanner.trip.model import Day, PlaceId, Tour
from replanner.trip.timing import Speeds
from replanner.trip.water import Water
from replanner.units import Floats

# The shortest line to the road: roads in hilly country are about 1.3 to 1.5 times as long.
# Assumption; a coast of inlets can be far worse, which is why estimates are told as such.
DETOUR_FACTOR = 1.4


@dataclass(frozen=True, slots=True)
class ConnectorTable:
    """Connectors between places, both ways.

    Parameters
    ----------
    places : tuple of PlaceId, length P
    minutes : ndarray, shape (P, P)
        Symmetric, zero on the diagonal; NaN where there is no road. [min]
    estimated : ndarray of bool, shape (P, P)
        True where the minutes are an estimate.
    distance_km : ndarray, shape (P, P)
        NaN where not known. [km]
    """

    places: tuple[PlaceId, ...]
    minutes: Floats
    estimated: NDArray[np.bool_]
    distance_km: Floats

    def index(self, place: PlaceId) -> int:
        """Return the row of a place; raises ValueError if it has none."""
        return self.places.index(place)

    def between(self, start: PlaceId, end: PlaceId) -> float | None:
        """Return the minutes between two places; None: there is no road."""
        minutes = float(self.minutes[self.index(start), self.index(end)])
        return None if np.isnan(minutes) else minutes


def day_places(tour: Tour, day: Day) -> tuple[PlaceId, ...]:
    """Return the places where a day's legs and their stand-ins begin or end, its own ends first."""
    found: dict[PlaceId, None] = dict.fromkeys((day.start, day.end))
    for leg_id in day.legs:
        leg = tour.legs[leg_id]
        found |= dict.fromkeys((leg.start, leg.end))
        if leg.stand_in is not None:
            other = tour.legs[leg.stand_in.leg]
            found |= dict.fromkeys((other.start, other.end))
            found |= dict.fromkeys(join.place for join in leg.stand_in.joins)
    return tuple(found)


def connect(
    tour: Tour,
    places: Sequence[PlaceId],
    speeds: Speeds,
    detour_factor: float = DETOUR_FACTOR,
) -> ConnectorTable:
    """Return the connectors between every pair of those places.

    Parameters
    ----------
    tour : Tour
        Its `connectors` come first; a given one without minutes means there is no road.
    places : sequence of PlaceId, length P
        Places of the tour, each once.
    speeds : Speeds
        `speeds.connector` is used for estimates. [km/h]
    detour_factor : float
        Road over shortest line. [1]

    Returns
    -------
    ConnectorTable

    Raises
    ------
    ValueError
        If the detour factor is below 1.
    """
    if not detour_factor >= 1.0:
        raise ValueError(f"detour_factor must be at least 1, got {detour_factor}")
    size = len(places)
    minutes = np.full((size, size), np.nan)
    distance = np.full((size, size), np.nan)
    estimated = np.zeros((size, size), dtype=np.bool_)
    np.fill_diagonal(minutes, 0.0)
    np.fill_diagonal(distance, 0.0)
    given = {frozenset(item.between): item for item in tour.connectors}
    water = Water.of(tour)
    for row, start in enumerate(places):
        for column in range(row + 1, size):
            end = places[column]
            item = given.get(frozenset((start, end)))
            if item is not None:
                found, length, guessed = item.riding_minutes, item.distance_km, item.estimated
            elif water.parts(start, end):
                continue
            else:
                straight = geodesic(tour.places[start].point, tour.places[end].point).distance
                length = straight / 1000.0 * detour_factor
                found, guessed = length / speeds.connector * 60.0, True
            for pair in ((row, column), (column, row)):
                minutes[pair] = np.nan if found is None else found
                distance[pair] = np.nan if length is None else length
                estimated[pair] = guessed
    return ConnectorTable(tuple(places), minutes, estimated, distance)


def joined(tour: Tour, start: PlaceId, end: PlaceId) -> bool:
    """Return whether a connector, given or estimated, joins two places."""
    if start == end:
        return True
    for item in tour.connectors:
        if frozenset(item.between) == frozenset((start, end)):
            return item.riding_minutes is not None
    return not Water.of(tour).parts(start, end)
