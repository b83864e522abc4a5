"""What a conversation on the road must know of the roads: ends, places on them, fuel, riders."""

from dataclasses import dataclass, field
from itertools import accumulate, pairwise

from replanner.geodesy import Point, geodesic
from replanner.trip.leg_lines import line_of
from replanner.trip.model import Exposure, HaltKind, Leg, LegId, LegKind, PlaceId, Tour, Tyres
from replanner.units import UnitSystem

# Road against the straight line, where no leg is ridden. Assumption, as for roads not given.
_DETOUR = 1.4


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadLeg:
    """A leg as far as words on the road go.

    Parameters
    ----------
    spots : tuple of (PlaceId, float)
        Places it runs by, with their fractions in the forward way.
    fuel : tuple of (PlaceId, float)
        Fuel stops on it, with their fractions.
    drone : tuple of (PlaceId, float or None)
        Where the drone may fly, with the maker's gust limit. [m/s]
    tide_margin_minutes : float or None
        None: no tide crosses it.
    boarding_minutes : float
        Of a crossing: how long before its sailing to be there.
    """

    start: PlaceId
    end: PlaceId
    kind: LegKind = LegKind.TRANSIT
    must: bool = False
    one_way: bool = False
    exposure: Exposure = Exposure.SHELTERED
    distance_km: float = 0.0
    spots: tuple[tuple[PlaceId, float], ...] = ()
    fuel: tuple[tuple[PlaceId, float], ...] = ()
    drone: tuple[tuple[PlaceId, float | None], ...] = ()
    tide_margin_minutes: float | None = None
    boarding_minutes: float = 0.0

    @property
    def round_trip(self) -> bool:
        """Whether it ends where it begins: nobody needs it to get anywhere."""
        return self.start == self.end


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadBook:
    """The roads of a tour, for words.

    Parameters
    ----------
    points : tuple of (PlaceId, Point)
    delicate : bool
        Somebody rides with a pillion or on road tyres.
    range_km : float or None
        Of the smallest tank. [km]
    """

    legs: tuple[tuple[LegId, RoadLeg], ...] = ()
    points: tuple[tuple[PlaceId, Point], ...] = ()
    units: UnitSystem = UnitSystem.METRIC
    delicate: bool = False
    range_km: float | None = None
    stand_ins: frozenset[LegId] = field(default_factory=frozenset)

    def leg(self, leg: LegId) -> RoadLeg | None:
        """Return a leg, None if the tour has it not."""
        return dict(self.legs).get(leg)

    def point(self, place: PlaceId) -> Point | None:
        """Return where a place lies."""
        return dict(self.points).get(place)

    def running_by(self, place: PlaceId) -> tuple[LegId, ...]:
        """Return the legs that begin, end or run by at a place."""
        return tuple(
            name
            for name, leg in self.legs
            if place in (leg.start, leg.end) or place in dict(leg.spots)
        )


def straight_km(here: Point, there: Point) -> float:
    """Return about how far it is by road, from the straight line. [km]."""
    return geodesic(here, there).distance / 1000.0 * _DETOUR


def road_book_of(tour: Tour) -> RoadBook:
    """Take from a tour what words on the road need."""
    ranges = [rider.tank_range_km for rider in tour.riders if rider.tank_range_km is not None]
    return RoadBook(
        legs=tuple((leg.id, _leg(tour, leg)) for leg in tour.legs.values()),
        points=tuple((place.id, place.point) for place in tour.places.values()),
        units=tour.units,
        delicate=any(rider.pillion or rider.tyres is Tyres.ROAD for rider in tour.riders),
        range_km=min(ranges, default=None),
        stand_ins=frozenset(
            leg.stand_in.leg for leg in tour.legs.values() if leg.stand_in is not None
        ),
    )


def _leg(tour: Tour, leg: Leg) -> RoadLeg:
    exposure = max((leg.road.exposure, *(part.road.exposure for part in leg.sections)))
    return RoadLeg(
        start=leg.start,
        end=leg.end,
        kind=leg.kind,
        must=leg.must,
        one_way=leg.one_way,
        exposure=exposure,
        distance_km=leg.distance_km,
        spots=_spots(tour, leg),
        fuel=tuple((h.place, h.fraction) for h in leg.halts if h.kind is HaltKind.FUEL),
        drone=tuple((h.place, h.gust_limit) for h in leg.halts if h.kind is HaltKind.DRONE),
        tide_margin_minutes=leg.tides.margin_minutes if leg.tides else None,
        boarding_minutes=leg.ferry.boarding_minutes if leg.ferry else 0.0,
    )


def _spots(tour: Tour, leg: Leg) -> tuple[tuple[PlaceId, float], ...]:
    """Return the places a leg runs by, each where it lies on the leg's line."""
    if leg.track:
        return _on_track(tour, leg)
    stops = [tour.places[place].point for place in (leg.start, *leg.via, leg.end)]
    lengths = [geodesic(here, there).distance for here, there in pairwise(stops)]
    behind = tuple(accumulate(lengths))
    whole = behind[-1]
    return tuple(
        (place, metres / whole)
        for place, metres in zip(leg.via, behind[:-1], strict=True)
        if whole > 0
    )


def _on_track(tour: Tour, leg: Leg) -> tuple[tuple[PlaceId, float], ...]:
    """Return the places on a recorded line, each at its nearest spot after the one before."""
    line = line_of(tour, leg)
    found: list[tuple[PlaceId, float]] = []
    for place in leg.via if line is not None else ():
        behind = found[-1][1] if found else 0.0
        spots = line.spots(tour.places[place].point) if line is not None else ()
        after = [spot for spot in spots if spot.fraction > behind and spot.on]
        if after:
            found.append((place, min(after, key=lambda spot: spot.distance_m).fraction))
    return tuple(found)
