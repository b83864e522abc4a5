"""Roads from a point that is no place of the tour: estimates, held to what the tour knows."""

from replanner.geodesy import Point, geodesic
from replanner.trip.connectors import connect, day_places
from replanner.trip.model import Connector, Day, PlaceId, Tour
from replanner.trip.timing import Speeds


def roads_from(
    tour: Tour, here: PlaceId, point: Point, day: Day, speeds: Speeds, detour_factor: float
) -> tuple[Connector, ...]:
    """Estimate the road from a point to each place of a day.

    The shortest line times the detour factor, at the connector speed, but never shorter than the
    tour's own roads allow: if the road from a near place takes an hour, that place can't be near
    and the far one too (triangle inequality). The point lies on the shore of the nearest place:
    where no road leads from there, none leads from the point.

    Returns
    -------
    tuple of Connector
        Marked as estimated; without minutes where there is no road.
    """
    places = day_places(tour, day)
    known = tuple(dict.fromkeys((*places, *_nearest_first(tour, point)[:1])))
    table = connect(tour, known, speeds, detour_factor)
    straight = {
        place: geodesic(point, tour.places[place].point).distance / 1000.0 * detour_factor
        for place in known
    }
    minutes = {place: km / speeds.connector * 60.0 for place, km in straight.items()}
    nearest = min(known, key=lambda place: straight[place])
    roads = []
    for place in places:
        if table.between(nearest, place) is None:
            roads.append(Connector(between=(here, place), riding_minutes=None, estimated=True))
            continue
        told = [
            beyond - minutes[other]
            for other in known
            if (beyond := table.between(other, place)) is not None
        ]
        least = max(minutes[place], *told)
        km = straight[place] * least / minutes[place] if minutes[place] > 0 else 0.0
        roads.append(
            Connector(between=(here, place), riding_minutes=least, distance_km=km, estimated=True)
        )
    return tuple(roads)


def _nearest_first(tour: Tour, point: Point) -> list[PlaceId]:
    return sorted(tour.places, key=lambda place: geodesic(point, tour.places[place].point).distance)
