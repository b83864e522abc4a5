"""What a conversation must know of the tour: names, days, bases; no roads, no weather."""

from dataclasses import dataclass, field
from datetime import date
from zoneinfo import ZoneInfo

from replanner.dialogue.road_book import RoadBook, road_book_of
from replanner.trip.model import LegId, LegKind, PlaceId, Tour


@dataclass(frozen=True, slots=True, kw_only=True)
class BookDay:
    """One day of the tour: its bases and its legs, the rider's own order first."""

    date: date
    start: PlaceId
    end: PlaceId
    own_order: tuple[LegId, ...]
    optional: tuple[LegId, ...] = ()

    @property
    def legs(self) -> tuple[LegId, ...]:
        """Every leg that may be ridden on it."""
        return self.own_order + self.optional

    @property
    def stays(self) -> bool:
        """Whether it ends where it began, so that its loops can be ridden on another day."""
        return self.start == self.end


@dataclass(frozen=True, slots=True, kw_only=True)
class TourBook:
    """The tour as far as words go.

    Parameters
    ----------
    zone : str
        IANA name; what a rider calls 7 is 7 there.
    names : tuple of (LegId, str)
        Every leg of the tour.
    kinds : tuple of (LegId, str)
        What each leg is: "the pass" may be a saddle by name.
    places : tuple of (PlaceId, str)
        Every place.
    days : tuple of BookDay
        In order of date.
    road : RoadBook
        What words on the road need.
    """

    zone: str
    names: tuple[tuple[LegId, str], ...]
    kinds: tuple[tuple[LegId, str], ...] = ()
    places: tuple[tuple[PlaceId, str], ...] = ()
    days: tuple[BookDay, ...] = ()
    road: RoadBook = field(default_factory=RoadBook)

    @property
    def tz(self) -> ZoneInfo:
        """The zone to reckon local times in."""
        return ZoneInfo(self.zone)

    @property
    def crossings(self) -> frozenset[LegId]:
        """Legs that are boats."""
        return frozenset(leg for leg, kind in self.kinds if kind == LegKind.CROSSING.value)

    @property
    def dates(self) -> tuple[date, ...]:
        """The dates of the tour, in order."""
        return tuple(day.date for day in self.days)

    def name(self, leg: LegId) -> str:
        """Return a leg's name, or its id where the tour no longer has it."""
        return dict(self.names).get(leg, leg)

    def place(self, place: PlaceId) -> str:
        """Return a place's name, or its id."""
        return dict(self.places).get(place, place)

    def day(self, when: date) -> BookDay | None:
        """Return that day of the tour, None if it has none."""
        return next((day for day in self.days if day.date == when), None)


def book_of(tour: Tour) -> TourBook:
    """Take from a tour what a conversation about it must know."""
    return TourBook(
        zone=tour.zone.key,
        names=tuple((leg.id, leg.name) for leg in tour.legs.values()),
        kinds=tuple((leg.id, str(leg.kind)) for leg in tour.legs.values()),
        places=tuple((place.id, place.name) for place in tour.places.values()),
        days=tuple(
            BookDay(
                date=day.date,
                start=day.start,
                end=day.end,
                own_order=day.own_order,
                optional=tuple(leg for leg in day.legs if leg not in day.own_order),
            )
            for day in sorted(tour.days, key=lambda day: day.date)
        ),
        road=road_book_of(tour),
    )
