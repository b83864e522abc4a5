"""The shape of a tour file: one table per thing a rider writes, with the bounds of each figure.

Only what can be told of a value by itself is checked here; how the parts fit together is checked
by `trip.checks`. Bounds are physical or plainly impossible to exceed on a road, our assumption.
"""

import re
from datetime import date, datetime, time
from typing import Annotated, Any, Literal, TypeVar
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, BeforeValidator, Field

from replanner.errors import nearest
from replanner.files.shape import Table, plain_error
from replanner.trip.model import (
    SURFACES,
    Experience,
    HaltKind,
    LegKind,
    Tyres,
    TyreWear,
    WindowEffect,
)
from replanner.units import UnitSystem

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def _zone(name: str) -> str:
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        raise plain_error(
            f"time zone {name[:40]!r} is not known", 'write it like "Pacific/Auckland"'
        ) from error
    return name


def _surface(value: str) -> str:
    if value not in SURFACES:
        raise plain_error(f"surface {value[:40]!r} is not known", nearest(value, SURFACES))
    return value


def _clock(value: Any) -> time:
    if isinstance(value, time) and value.tzinfo is None:
        return value
    if isinstance(value, str) and re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", value, re.ASCII):
        return time.fromisoformat(value)
    raise plain_error(f"{value!r} is no time of day", 'write it like "08:15"')


def _day(value: Any) -> date:
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    if isinstance(value, str) and re.fullmatch(r"\d{4}-\d{2}-\d{2}", value, re.ASCII):
        try:
            return date.fromisoformat(value)
        except ValueError:
            pass
    raise plain_error(f"{value!r} is no date", "write it like 2027-04-01")


def _moment(value: Any) -> datetime:
    if isinstance(value, datetime):
        return value
    if isinstance(value, str):
        try:
            return datetime.strptime(value, "%Y-%m-%d %H:%M")  # noqa: DTZ007 - local to the tour
        except ValueError:
            pass
    raise plain_error(f"{value!r} is no local date and time", 'write it like "2027-04-01 07:40"')


def _weekdays(value: Any) -> frozenset[int]:
    """Read "mon-fri", "sat sun", "fri-mon" (over the weekend) or "daily"."""
    wrong = plain_error(
        f"{value!r} are no weekdays", 'write them like "mon-fri", "sat sun", "daily"'
    )
    if not isinstance(value, str):
        raise wrong
    if value.strip().lower() == "daily":
        return frozenset(range(7))
    found: set[int] = set()
    for word in value.replace(",", " ").lower().split():
        first, dash, last = word.partition("-")
        if first not in WEEKDAYS or (dash and last not in WEEKDAYS):
            raise wrong
        start = WEEKDAYS.index(first)
        length = (WEEKDAYS.index(last) - start) % 7 if dash else 0
        found |= {(start + step) % 7 for step in range(length + 1)}
    if not found:
        raise wrong
    return frozenset(found)


def _last_light(value: str) -> str:
    if value != "civil dusk" and not re.fullmatch(r"sunset-\d{1,3}", value, re.ASCII):
        raise plain_error(f"{value[:40]!r} is no light limit", 'write "civil dusk" or "sunset-30"')
    return value


Name = Annotated[str, Field(min_length=1, max_length=80)]
Id = Annotated[str, Field(min_length=1, max_length=40)]
Zone = Annotated[str, AfterValidator(_zone)]
Surface = Annotated[str, AfterValidator(_surface)]
Clock = Annotated[time, BeforeValidator(_clock)]
LocalDay = Annotated[date, BeforeValidator(_day)]
Moment = Annotated[datetime, BeforeValidator(_moment)]
Weekdays = Annotated[frozenset[int], BeforeValidator(_weekdays)]
LastLight = Annotated[str, AfterValidator(_last_light)]
ExposureWord = Literal["sheltered", "open", "exposed"]
WayWord = Literal["forward", "reverse"]
T = TypeVar("T")
Word = Annotated[T, Field(strict=False)]  # an enumeration that may be written as its word

Fraction = Annotated[float, Field(ge=0, le=1)]
Minutes = Annotated[float, Field(ge=0, le=1440)]
Kilometres = Annotated[float, Field(ge=0, le=2000)]
Latitude = Annotated[float, Field(ge=-90, le=90)]
Longitude = Annotated[float, Field(ge=-180, le=180)]
Elevation = Annotated[float, Field(ge=-450, le=6000)]  # Dead Sea shore to the highest roads
Bearing = Annotated[float, Field(ge=0, le=360)]
Gust = Annotated[float, Field(gt=0, le=60)]


class ChippingsShape(Table):
    """Loose chippings after a surface dressing."""

    laid: LocalDay
    assumed_until: LocalDay


class RoadShape(Table):
    """What a road is like; a key left out of a section is as on the leg."""

    surface: Surface | None = None
    width_m: Annotated[float, Field(gt=0, le=60)] | None = None
    steepest_grade_percent: Annotated[float, Field(ge=0, le=40)] | None = None
    exposure: ExposureWord | None = None
    drop: bool | None = None
    trees: bool | None = None
    elevation_m: Elevation | None = None
    headings_deg: list[Bearing] | None = None
    chippings: ChippingsShape | None = None


class SectionShape(RoadShape):
    """A stretch of a leg that differs from the leg's own road."""

    name: Name
    from_fraction: Fraction
    to_fraction: Fraction
    place: Id | None = None


class JoinShape(Table):
    """A place where a stand-in can still be joined, and what it takes from there."""

    place: Id
    riding_minutes: Minutes
    distance_km: Kilometres


class StandInShape(Table):
    """The leg ridden instead."""

    leg: Id
    joins: list[JoinShape] = Field(default_factory=list)


class WindowShape(Table):
    """Weekly hours: opening hours, a gate, a market, log trucks, coaches, works."""

    name: Name
    effect: Word[WindowEffect]
    weekdays: Weekdays = frozenset(range(7))
    opens: Clock
    closes: Clock
    fractions: list[Fraction] = Field(default_factory=list)
    way: WayWord | None = None
    added_minutes: Minutes = 0.0


class TidesShape(Table):
    """A local table of the hours in which a flooded stretch is dry."""

    fractions: list[Fraction] = Field(min_length=1)
    margin_minutes: Minutes
    open: list[Annotated[list[Moment], Field(min_length=2, max_length=2)]] = Field(min_length=1)


class SailingShape(Table):
    """Departures of one way on some weekdays."""

    way: WayWord
    weekdays: Weekdays = frozenset(range(7))
    departures: list[Clock] = Field(min_length=1)


class FerryShape(Table):
    """What a crossing needs."""

    boarding_minutes: Minutes
    gust_limit_ms: Gust | None = None
    sailings: list[SailingShape] = Field(default_factory=list)


class HoursShape(Table):
    """When a halt is open."""

    opens: Clock
    closes: Clock
    weekdays: Weekdays = frozenset(range(7))


class HaltShape(Table):
    """A halt on a leg."""

    place: Id
    fraction: Fraction
    minutes: Minutes
    kind: Word[HaltKind]
    optional: bool = False
    worth_minutes: Minutes = 0.0
    light_from_deg: Annotated[list[Bearing], Field(min_length=2, max_length=2)] | None = None
    gust_limit_ms: Gust | None = None
    hours: HoursShape | None = None


class LegShape(RoadShape):
    """A piece of road worth a name."""

    name: Name
    kind: Word[LegKind]
    start: Id
    end: Id
    distance_km: Kilometres
    riding_minutes: Annotated[float, Field(ge=0, le=1440)] | None = None
    worth_minutes: Annotated[float, Field(ge=0, le=1440)] = 0.0
    must: bool = False
    one_way: bool = False
    via: list[Id] = Field(default_factory=list)
    track: list[Annotated[list[float], Field(min_length=3, max_length=3)]] = Field(
        default_factory=list
    )
    sections: list[SectionShape] = Field(default_factory=list)
    stand_in: StandInShape | None = None
    before: list[Id] = Field(default_factory=list)
    after: list[Id] = Field(default_factory=list)
    windows: list[WindowShape] = Field(default_factory=list)
    tides: TidesShape | None = None
    ferry: FerryShape | None = None
    halts: list[HaltShape] = Field(default_factory=list)
    animals: bool = False
    phone: bool = True
    last_light: LastLight = "civil dusk"
    remark: str = ""


class PlaceShape(Table):
    """A named point."""

    name: Name
    latitude: Latitude
    longitude: Longitude
    elevation_m: Elevation


class ConnectorShape(Table):
    """Plain road between two places; `road = false` says that there is none."""

    between: Annotated[list[Id], Field(min_length=2, max_length=2)]
    riding_minutes: Minutes | None = None
    distance_km: Kilometres | None = None
    road: bool = True


class BaseShape(Table):
    """Where the riders sleep."""

    place: Id
    nights: list[LocalDay] = Field(min_length=1)
    check_in_from: Clock | None = None
    reception_until: Clock | None = None


class DayShape(Table):
    """One day of the tour."""

    start: Id
    end: Id
    own_order: list[Id] = Field(default_factory=list)
    optional: list[Id] = Field(default_factory=list)
    earliest_departure: Clock | None = None
    own_departure: Clock | None = None
    latest_departure: Clock | None = None
    latest_arrival: Clock | None = None


class OwnLimitShape(Table):
    """A rider's own thresholds; only stricter ones count."""

    caution: float | None = None
    avoid: float | None = None
    no_go: float | None = None


class RiderShape(Table):
    """Somebody who rides along."""

    id: Id
    leader: bool = False
    experience: Word[Experience] = Experience.EXPERIENCED
    machine_mass_kg: Annotated[float, Field(ge=60, le=600)] = 240.0
    tall_load: bool = False
    tyres: Word[Tyres] = Tyres.MIXED
    tyre_wear: Word[TyreWear] = TyreWear.SOUND
    pillion: bool = False
    full_luggage: bool = False
    tank_range_km: Annotated[float, Field(ge=30, le=2000)] | None = None
    own_limits: dict[str, OwnLimitShape] = Field(default_factory=dict)


class TourShape(Table):
    """A whole tour file."""

    name: Name
    zone: Zone
    units: Word[UnitSystem] = UnitSystem.METRIC
    invented: bool = False
    places: dict[Id, PlaceShape] = Field(default_factory=dict)
    legs: dict[Id, LegShape] = Field(default_factory=dict)
    connectors: list[ConnectorShape] = Field(default_factory=list)
    bases: list[BaseShape] = Field(default_factory=list)
    riders: list[RiderShape] = Field(default_factory=list)
    days: dict[LocalDay, DayShape] = Field(default_factory=dict)
