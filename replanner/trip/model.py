"""The tour as the rider wrote it: immutable, checked, free of weather and of file formats.

Lengths are kilometres on the road and metres in height or width, durations minutes, directions
degrees clockwise from true north. Fractions run from 0 at a leg's start to 1 at its end, in the
forward way. A tuple that is empty means "none given"; a value that is None means "not known".
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from enum import IntEnum, StrEnum
from zoneinfo import ZoneInfo

from replanner.geodesy import Point
from replanner.units import UnitSystem

PlaceId = str
LegId = str


class LegKind(StrEnum):
    """What a leg is to the rider; the trade's words."""

    TRANSIT = "transit"  # just gets you there
    PASS = "pass"  # noqa: S105 - a mountain pass, not a password
    LOOP = "loop"
    COAST_LANE = "coast lane"
    SPUR = "spur"  # dead end, there and back
    CROSSING = "crossing"  # ferry with sailings
    STOP = "stop"  # cafe, sight, viewpoint, fuel: start and end are one place


class Exposure(IntEnum):
    """How open a stretch lies to wind and to a fall."""

    SHELTERED = 1
    OPEN = 2  # open coast, headland
    EXPOSED = 3  # pass, range, bridge, causeway


class SurfaceClass(StrEnum):
    """What the wheels feel; derived from the OSM `surface` value."""

    SEALED = "sealed"
    GRAVEL = "gravel"
    TRACK = "track"  # earth, grass, clay: treacherous when wet
    WATER = "water"  # carried by a ferry


# OSM key `surface`, values in common use (OpenStreetMap wiki, Key:surface); grouping is ours.
SURFACES: Mapping[str, SurfaceClass] = {
    **dict.fromkeys(
        ("asphalt", "paved", "concrete", "chipseal", "paving_stones", "sett", "metal", "wood"),
        SurfaceClass.SEALED,
    ),
    **dict.fromkeys(
        ("gravel", "fine_gravel", "compacted", "pebblestone", "unpaved", "rock"),
        SurfaceClass.GRAVEL,
    ),
    **dict.fromkeys(
        ("ground", "dirt", "earth", "grass", "clay", "mud", "sand"), SurfaceClass.TRACK
    ),
    "water": SurfaceClass.WATER,
}


class Way(IntEnum):
    """In which direction a leg is ridden."""

    FORWARD = 0
    REVERSE = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A named point: a town, a junction, a summit."""

    id: PlaceId
    name: str
    point: Point


@dataclass(frozen=True, slots=True, kw_only=True)
class LooseChippings:
    """A surface dressing: loose from the day it is laid until swept, or until assumed swept."""

    laid: date
    assumed_until: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Road:
    """What the road is like on a stretch.

    Parameters
    ----------
    surface : str
        OSM `surface` value, a key of `SURFACES`.
    width_m : float or None
        Usable width. [m]
    steepest_grade_percent : float or None
        Steepest grade, unsigned. [%]
    exposure : Exposure
    drop : bool
        A drop to one side without a barrier.
    trees : bool
        Shaded by trees: dries slowly, animals come out.
    elevation_m : float or None
        Highest point of the stretch. [m]
    headings_deg : tuple of float
        Directions of travel the stretch takes, forward way; empty: taken from the track or the
        places it runs by. [deg]
    chippings : LooseChippings or None
    """

    surface: str = "asphalt"
    width_m: float | None = None
    steepest_grade_percent: float | None = None
    exposure: Exposure = Exposure.SHELTERED
    drop: bool = False
    trees: bool = False
    elevation_m: float | None = None
    headings_deg: tuple[float, ...] = ()
    chippings: LooseChippings | None = None

    @property
    def surface_class(self) -> SurfaceClass:
        """What the wheels feel."""
        return SURFACES[self.surface]


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A stretch of a leg with a road of its own, from one fraction of the leg to another."""

    name: str
    from_fraction: float
    to_fraction: float
    road: Road
    place: PlaceId | None = None  # where it lies; None: taken from the leg's line


@dataclass(frozen=True, slots=True, kw_only=True)
class Join:
    """Where a stand-in is joined from a decision point, and what it still takes from there."""

    place: PlaceId
    riding_minutes: float
    distance_km: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StandIn:
    """The leg ridden instead, with the places where it can still be joined."""

    leg: LegId
    joins: tuple[Join, ...] = ()


class WindowEffect(StrEnum):
    """What a window of the week does to a passage inside it."""

    OPEN = "open"  # may only be passed inside a window that is open
    CLOSED = "closed"  # may not be passed inside
    SLOW = "slow"  # costs minutes inside
    AVOID = "avoid"  # better not inside


@dataclass(frozen=True, slots=True, kw_only=True)
class WeeklyWindow:
    """Opening hours, a gate, a market, log trucks, coach hours: weekdays by local wall time.

    Parameters
    ----------
    name : str
        What it is, e.g. "gate". Windows of one leg with one name and effect OPEN are
        alternatives: inside any of them is open.
    effect : WindowEffect
    weekdays : frozenset of int
        0 = Monday .. 6 = Sunday.
    opens, closes : datetime.time
        Local; `closes` before `opens` runs past midnight.
    fractions : tuple of float
        Where on the leg it applies; empty: the whole leg.
    way : Way or None
        Applies to one way only; None: both.
    added_minutes : float
        For SLOW. [min]
    """

    name: str
    effect: WindowEffect
    weekdays: frozenset[int] = frozenset(range(7))
    opens: time
    closes: time
    fractions: tuple[float, ...] = ()
    way: Way | None = None
    added_minutes: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TideTable:
    """When a flooded stretch can be crossed, from a local table; margin kept at both ends."""

    fractions: tuple[float, ...]
    open_utc: tuple[tuple[datetime, datetime], ...]
    margin_minutes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sailing:
    """Departures on given weekdays, local wall time, one way of the crossing."""

    way: Way
    weekdays: frozenset[int]
    departures: tuple[time, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ferry:
    """What a crossing needs: be there `boarding_minutes` before one of the sailings.

    `gust_limit` is the gust at which the boat may stop [m/s]; None: not known. `in_queue`: the
    riders stand there, and want no time to spare any more.
    """

    sailings: tuple[Sailing, ...]
    boarding_minutes: float
    gust_limit: float | None = None
    in_queue: bool = False


class HaltKind(StrEnum):
    """Why the rider halts on a leg."""

    VISIT = "visit"
    CAFE = "cafe"
    FUEL = "fuel"
    PHOTO = "photo"
    DRONE = "drone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Halt:
    """A halt on a leg: a photo stop, a visit, a walk.

    Parameters
    ----------
    fraction : float
        Where on the leg, forward way.
    minutes : float
    kind : HaltKind
    optional : bool
        Left out at hours when it is not worth its minutes.
    worth_minutes : float
        Minutes of plain riding the rider would give for it, conditions being right.
    light_from_deg : tuple of float or None
        The arc (from, to; clockwise) the sun should stand in for the picture; None: any.
    gust_limit : float or None
        The maker's figure for a drone. [m/s]
    hours : WeeklyWindow or None
        When a halt that may be left out is open, of effect OPEN: made only where all of it lies
        inside. Hours of a halt that is always made are a window of its leg.
    """

    place: PlaceId
    fraction: float
    minutes: float
    kind: HaltKind
    optional: bool = False
    worth_minutes: float = 0.0
    light_from_deg: tuple[float, float] | None = None
    gust_limit: float | None = None
    hours: WeeklyWindow | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """A piece of road worth a name.

    Parameters
    ----------
    start, end : PlaceId
        One place for loops, spurs and stops.
    riding_minutes : float
        On a dry road in daylight, without halts. For a crossing: quay to quay; for a stop: its
        length. [min]
    worth_minutes : float
        Minutes of plain riding the rider would give to ride it.
    must : bool
        Has to be ridden (it or, where it has one, its stand-in) on a day that lists it.
    one_way : bool
        True: the forward way only.
    road : Road
        What holds wherever no section says otherwise.
    via : tuple of PlaceId
        Places it runs by, in order.
    track : tuple of Point
        A recorded line; empty: the places are joined by straight lines.
    last_light : str
        "civil dusk", or "sunset-30" for legs not ridden in the last half hour of sun.
    far_end : float
        Of a spur: where on it the riders turn; behind them at 0 and below.
    """

    id: LegId
    name: str
    kind: LegKind
    start: PlaceId
    end: PlaceId
    riding_minutes: float
    distance_km: float
    worth_minutes: float = 0.0
    must: bool = False
    one_way: bool = False
    road: Road = field(default_factory=Road)
    sections: tuple[Section, ...] = ()
    via: tuple[PlaceId, ...] = ()
    track: tuple[Point, ...] = ()
    stand_in: StandIn | None = None
    before: tuple[LegId, ...] = ()  # this leg comes before those
    after: tuple[LegId, ...] = ()  # as written; those legs have it in `before` as well
    windows: tuple[WeeklyWindow, ...] = ()
    tides: TideTable | None = None
    ferry: Ferry | None = None
    halts: tuple[Halt, ...] = ()
    animals: bool = False
    phone: bool = True
    last_light: str = "civil dusk"
    remark: str = ""
    far_end: float = 0.5

    @property
    def ways(self) -> tuple[Way, ...]:
        """The ways it may be ridden."""
        return (Way.FORWARD,) if self.one_way else (Way.FORWARD, Way.REVERSE)

    def ends(self, way: Way) -> tuple[PlaceId, PlaceId]:
        """Return where it begins and ends when ridden that way."""
        return (self.start, self.end) if way is Way.FORWARD else (self.end, self.start)


@dataclass(frozen=True, slots=True, kw_only=True)
class Connector:
    """Plain road between two places, both ways. `riding_minutes` None: there is no road."""

    between: tuple[PlaceId, PlaceId]
    riding_minutes: float | None
    distance_km: float | None = None
    estimated: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Base:
    """Where the riders sleep, with the local dates of the nights and the check-in hours."""

    place: PlaceId
    nights: tuple[date, ...]
    check_in_from: time | None = None
    reception_until: time | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """One local day of the tour.

    Parameters
    ----------
    start, end : PlaceId
        The bases, or the tour's own start and end.
    own_order : tuple of LegId
        The rider's own plan for the day, in order: the baseline every change is measured by.
    optional : tuple of LegId
        Further legs that may be ridden on this day.
    own_departure : datetime.time or None
        When the rider would leave anyway, local: the baseline for "leave later"; None: the
        earliest departure, or civil dawn.
    earliest_departure, latest_departure, latest_arrival : datetime.time or None
        Local; None: from civil dawn, any time, by the hard limit of the settings after dusk.
    """

    date: date
    start: PlaceId
    end: PlaceId
    own_order: tuple[LegId, ...]
    optional: tuple[LegId, ...] = ()
    own_departure: time | None = None
    earliest_departure: time | None = None
    latest_departure: time | None = None
    latest_arrival: time | None = None

    @property
    def legs(self) -> tuple[LegId, ...]:
        """Every leg that may be ridden on this day, own order first."""
        return self.own_order + tuple(leg for leg in self.optional if leg not in self.own_order)


class Experience(StrEnum):
    """How long somebody has ridden; under three seasons is a newer rider."""

    NEWER = "newer"
    EXPERIENCED = "experienced"


class Tyres(StrEnum):
    """What is on the wheels."""

    ROAD = "road"
    MIXED = "mixed"
    OFF_ROAD = "off-road"


class TyreWear(StrEnum):
    """Worn is under 3 mm, new is the first 150 km; both slip in the wet."""

    NEW = "new"
    SOUND = "sound"
    WORN = "worn"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rider:
    """Somebody who rides along, without a name: what scales the limits.

    `own_limits` maps a limit's name in `config/limits.toml` to the rider's own (caution, avoid,
    no-go) in that limit's unit; they can only be stricter than the defaults.
    """

    id: str
    leader: bool = False
    experience: Experience = Experience.EXPERIENCED
    machine_mass_kg: float = 240.0
    tall_load: bool = False  # high screen or tall panniers
    tyres: Tyres = Tyres.MIXED
    tyre_wear: TyreWear = TyreWear.SOUND
    pillion: bool = False
    full_luggage: bool = False
    tank_range_km: float | None = None
    own_limits: Mapping[str, tuple[float | None, float | None, float | None]] = field(
        default_factory=dict
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Tour:
    """Everything the rider wrote, consistent: every id used exists."""

    name: str
    zone: ZoneInfo
    places: Mapping[PlaceId, Place]
    legs: Mapping[LegId, Leg]
    days: tuple[Day, ...]
    riders: tuple[Rider, ...]
    bases: tuple[Base, ...] = ()
    connectors: tuple[Connector, ...] = ()
    units: UnitSystem = UnitSystem.METRIC
    invented: bool = False  # a demonstration, marked so wherever it is shown

    def day(self, when: date) -> Day:
        """Return the day of that local date; raises KeyError if the tour has none."""
        for day in self.days:
            if day.date == when:
                return day
        raise KeyError(when)
