"""The answer of one evening as data: everything the message, JSON and the conversation need.

All instants are UTC-aware; texts that come from the tour file (names) are as the rider wrote
them. Nothing here is worded: wording is `advice.text`. A thing that is not known is None.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from itertools import pairwise

from replanner.planning.demand import Demand
from replanner.trip.model import LegId, PlaceId, Way
from replanner.units import UnitSystem
from replanner.weather.hourly import Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class HazardNote:
    """The worst hazard of a leg: name, figure, threshold, unit inside, valid hour, where.

    `also` is what must not be lost behind it: behind one that is not known the worst known one,
    behind a known one the first that is not.
    """

    name: str
    value: float | None
    limit: float | None
    unit: str
    hour: datetime
    section: str
    unknown: bool
    also: "HazardNote | None" = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutHalt:
    """A halt wished for that is shut when the riders pass; None: no hours that day."""

    place: str
    kind: str
    passed: datetime
    opens: datetime | None
    closes: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedLeg:
    """A leg of the plan, timed to the minute."""

    id: LegId
    name: str
    kind: str
    way: Way
    start: datetime
    end: datetime
    severity: float
    hazard: HazardNote | None
    turn_back: datetime | None
    sailing: datetime | None = None
    halts: tuple[tuple[str, datetime], ...] = ()  # place halted at, and when it is reached
    halt_kinds: tuple[str, ...] = ()  # `trip.model.HaltKind` of each halt; fewer: not known
    note: str = ""  # a window met, in the rider's own words
    pumps: tuple[tuple[str, datetime], ...] = ()  # of the halts: fuel that only the tank demands
    # breaks beside halts, on it and up to the next leg: place ("": none of the tour), beginning
    breaks: tuple[tuple[str, datetime], ...] = ()
    # where in the way ridden they are when, in order; evenly between; none: evenly all along
    course: tuple[tuple[float, datetime], ...] = ()
    # kilometres ridden since the tank was full there, a pump told twice; none: not known
    since_full: tuple[tuple[float, float], ...] = ()
    shut: tuple[ShutHalt, ...] = ()  # left out for their hours

    def share_by(self, moment: datetime) -> float:
        """Return how much of the leg is behind the riders at an instant, 0 to 1."""
        for (here, before), (there, after) in pairwise(self._course):
            if before <= moment < after:
                return here + (there - here) * ((moment - before) / (after - before))
        return 0.0 if moment < self.start else 1.0

    def reached_at(self, share: float) -> datetime:
        """Return when the riders come to where so much of the leg is behind them."""
        for (here, before), (there, after) in pairwise(self._course):
            if here <= share <= there:
                way = (share - here) / (there - here) if there > here else 0.0
                return before + (after - before) * way
        return self.start if share < 0.0 else self.end

    def rides_on_at(self, moment: datetime) -> datetime:
        """Return when they ride on who stand still on the leg at an instant; else the instant."""
        for (here, before), (there, after) in pairwise(self._course):
            if here == there and before <= moment < after:
                return after
        return moment

    def tank_km(self, share: float) -> float | None:
        """Return what has been ridden since the tank was full, so much of the leg being behind."""
        for (here, before), (there, after) in pairwise(self.since_full):
            if here <= share < there:
                return before + (after - before) * (share - here) / (there - here)
        return self.since_full[-1][1] if self.since_full else None

    @property
    def begun_km(self) -> float | None:
        """What has been ridden since the tank was full where it begins, before any pump there."""
        return self.since_full[0][1] if self.since_full else None

    def fills_up_by(self, share: float) -> bool:
        """Tell whether the plan has filled the tank on it, so much of the leg being behind."""
        points = pairwise(here for here, _ in self.since_full)
        return any(here == there <= share for here, there in points)

    @property
    def _course(self) -> tuple[tuple[float, datetime], ...]:
        return self.course or ((0.0, self.start), (1.0, self.end))

    @property
    def halts_by_kind(self) -> tuple[tuple[str, str, datetime], ...]:
        """Each halt's kind, place and when it is reached; "": of a kind that is not known."""
        kinds = (*self.halt_kinds, *("" for _ in self.halts))
        return tuple((kind, *halt) for kind, halt in zip(kinds, self.halts, strict=False))


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedRoad:
    """Plain road of the plan from place to place, judged by the weather at both.

    `waits`: the riders wait where it begins until `leave`, since it would be worse at once.
    """

    start: str
    end: str
    leave: datetime
    arrive: datetime
    severity: float
    hazard: HazardNote | None
    waits: bool = False
    estimated: bool = False


class HurdleKind(StrEnum):
    """What can end a plan or stand against a leg."""

    HAZARD = "hazard"  # no-go
    WINDOW = "window"
    TIDE = "tide"
    SAILING = "sailing"
    LIGHT = "light"  # a leg's own last light
    HALT = "halt"  # its halts are worth nothing any more
    DUSK = "dusk"
    LATEST_ARRIVAL = "latest arrival"
    RECEPTION = "reception"
    DARKNESS = "darkness"
    END_OF_DAY = "end of the day"
    TIME = "time"
    TANK = "tank"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hurdle:
    """A limit in the way: which, on which leg (None: being in), and when it is met.

    `name` is that of a window, as the rider wrote it.
    """

    kind: HurdleKind
    leg: LegId | None = None
    name: str = ""
    at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A leg not ridden, why, and what riding it all the same would cost (None: impossible)."""

    id: LegId
    name: str
    reason: HazardNote | None
    cause: str  # "hazard", "no time", "not worth it", "stand-in", "asked", "closed", "other day",
    # "fuel"
    price_minutes: float | None
    to_ride_it: Hurdle | None = None  # for impossible ones: what would have to change first
    moved_to: date | None = None


class ChangeKind(StrEnum):
    """How the plan differs from the rider's own order."""

    MOVED = "moved"
    LEFT_OUT = "left out"
    STAND_IN = "stand-in"
    OTHER_DAY = "other day"
    DEPARTURE = "departure"
    ADDED = "added"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change against the own order; `worth_minutes` is what undoing it alone would lose.

    None: undoing it alone leaves no plan at all.
    """

    kind: ChangeKind
    leg: LegId | None
    worth_minutes: float | None
    reason: HazardNote | None
    own_start: datetime | None = None
    new_start: datetime | None = None
    other_leg: LegId | None = None
    to_day: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnOrder:
    """What keeping the own order means. value None: it cannot be ridden; `breaks` says where."""

    value_minutes: float | None
    severity: float
    worst_leg: LegId | None
    worst: HazardNote | None
    worst_start: datetime | None = None
    breaks: Hurdle | None = None


class BetterKind(StrEnum):
    """What makes a second plan the better one."""

    MILDER = "milder"  # its worst leg meets less than forecast
    WORSE = "worse"  # the worst leg of the plan meets more than forecast
    WISH = "wish"  # nothing but to like its legs better


@dataclass(frozen=True, slots=True, kw_only=True)
class BetterWhen:
    """When a second plan is the better one, and the leg whose weather decides it."""

    kind: BetterKind
    leg: LegId | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanB:
    """The best plan that differs in a way that matters."""

    departure: datetime
    arrival: datetime
    legs: tuple[PlannedLeg, ...]
    value_minutes: float
    better_when: BetterWhen | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionPoint:
    """Where to choose between a leg and its stand-in, and until when."""

    leg: LegId
    place: PlaceId
    place_name: str
    latest: datetime
    rule: HazardNote | None  # what to look for there
    instead: LegId
    instead_name: str
    arrival_instead: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Odds:
    """How sure the plan is to hold, of what the members say; `estimated` without real ones.

    Parameters
    ----------
    members : int
    plan_holds : float
        Chance, above 0 and below 1 (`advice.lead.chance`).
    by_leg : mapping of LegId to float
        Chance that each leg is milder than avoid.
    """

    members: int
    plan_holds: float
    by_leg: Mapping[LegId, float]
    estimated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """The decision between plan and plan B can wait; told only where that is worth something.

    Parameters
    ----------
    gain_minutes : float
        Expected gain over the members of knowing which one comes before choosing: the most that
        waiting can gain. [min]
    decide_by : datetime
        Until then nothing of either plan has to be done.
    members : int
    other_share : float
        Share of members in which plan B is the better one.
    estimated : bool
        Without a real ensemble.
    """

    gain_minutes: float
    decide_by: datetime
    members: int
    other_share: float
    estimated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class DayLight:
    """Local light of the day at start (morning) and end (evening); None: does not occur.

    `never_light`: there is no dusk because the sun stays below -6 degrees where the day ends.
    """

    civil_dawn: datetime | None
    sunrise: datetime | None
    sunset: datetime | None
    civil_dusk: datetime | None
    never_light: bool = False


class Decision(StrEnum):
    """Line one of the message."""

    AS_PLANNED = "as planned"
    AS_ASKED = "as asked"  # the rider's wishes shape the day, nothing was changed beyond them
    SWAP = "swap"
    LEAVE_LATER = "leave later"
    LEAVE_EARLIER = "leave earlier"
    STAND_IN = "stand-in"
    LEAVE_OUT = "leave out"
    MOVE_DAY = "other day"
    ADD = "add"
    REST_DAY = "rest day"
    NO_WAY = "no way"


@dataclass(frozen=True, slots=True, kw_only=True)
class LegHours:
    """What a leg meets on its worst stretch, as the plan judged it.

    The worst from the hour before it is passed to the hour after, as all hazards are judged; where
    the plan was decided by a gust or rain of its own reckoning, that one.

    Parameters
    ----------
    stretch : str
        Name of the worst stretch: where severity is highest when passed; of several the one that
        the plan's reason names, else the windiest.
    elevation_m : float or None
        Its highest point. [m]
    rain : float or None
        [mm/h]
    wind_speed_of_gust : float or None
        [m/s]
    """

    leg: LegId
    stretch: str
    elevation_m: float | None
    rain: float | None
    wind_speed_of_gust: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DayHours:
    """Rain and gusts over the day, H hours.

    Parameters
    ----------
    hours : tuple of datetime
        Whole hours, UTC-aware, without gaps: from the hour before leaving to the hour after being
        in. Each figure covers the hour that starts there.
    legs_at : tuple of LegId, length H
        Whose worst stretch the figures of an hour are of: the leg ridden longest in it; between
        legs the next one; after the last one that.
    rain : tuple of float or None, length H
        [mm/h]
    wind_speed_of_gust : tuple of float or None, length H
        The gust, or the mean wind where that is larger. [m/s]
    legs : tuple of LegHours
        In riding order.
    """

    hours: tuple[datetime, ...]
    legs_at: tuple[LegId, ...]
    rain: tuple[float | None, ...]
    wind_speed_of_gust: tuple[float | None, ...]
    legs: tuple[LegHours, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HomeWay:
    """The safest quick way to the day's end from where the riders are.

    Parameters
    ----------
    legs : tuple of str
        Names of the legs it takes, in order; the rest is plain road.
    severity : float
        The worst met on the legs.
    road_minutes : float
        Of it on plain road, judged as an open sealed road on the straight line. [min]
    estimated : bool
        Whether some of that is an estimate.
    turning_back : bool
        Back over the leg they are on.
    in_time : bool
        Whether it keeps the day's own hard limit, `limit`.
    km : float
        How long it is. [km]
    fill_up_at : tuple of str
        Places on it where the smallest tank has to be filled.
    short_km : float or None
        How far what is left in the tank falls short, to the next pump or home; 0.0: it lasts, or
        no rider gives a range; None: nobody knows what is left. [km]
    """

    departure: datetime
    arrival: datetime
    legs: tuple[str, ...]
    severity: float
    worst: HazardNote | None
    road_minutes: float
    estimated: bool
    turning_back: bool
    in_time: bool
    limit: datetime
    km: float = 0.0
    fill_up_at: tuple[str, ...] = ()
    short_km: float | None = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class OverDays:
    """Days weighed together that cannot all have a plan by the forecast as it stands.

    A day that only lacks one by what the forecast may still turn to is not among them.

    Parameters
    ----------
    without_plan : tuple of date
        Those that have none, the briefing's own among them where it has none.
    demands : tuple of (date or None, Demand)
        What cannot hold together: of a day, or of any of the days (None), whoever rides the legs
        they share. The tanks are not looked at.
    fewest : bool
        Whether any fewer of these demands can hold together; False: not known.
    fuel : bool
        No demands but the smallest tank: with fuel enough every day would have a plan.
    no_go_roads : tuple of date
        Those of the days without a plan of which every plan rides plain road that is no-go.
    """

    without_plan: tuple[date, ...]
    demands: tuple[tuple[date | None, Demand], ...]
    fewest: bool
    fuel: bool
    no_go_roads: tuple[date, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Briefing:
    """One day's plan with all that is said about it."""

    tour: str
    invented: bool
    zone: str  # IANA name; every instant is told in it
    units: UnitSystem
    language: str
    date: date
    made_at: datetime
    base_from: str
    base_to: str
    decision: Decision
    departure: datetime | None
    arrival: datetime | None
    light: DayLight
    spare_minutes: float | None
    spare_limit: Hurdle | None
    value_minutes: float | None
    proven: bool
    bound_minutes: float | None
    legs: tuple[PlannedLeg, ...]
    left_out: tuple[LeftOut, ...]
    changes: tuple[Change, ...]
    own_order: OwnOrder
    plan_b: PlanB | None
    decision_points: tuple[DecisionPoint, ...]
    odds: Odds | None
    warnings: tuple[str, ...] | None  # None: no warning service was asked
    blame: tuple[Demand, ...] = ()  # where there is no plan: what cannot hold together
    blame_fewest: bool = False  # whether any fewer of these demands can; False: not known
    # None: every day weighed has a plan, or only this one lacks it, by its own demands or tank
    over_days: OverDays | None = None
    cautions: tuple[str, ...]  # keys of `advice.cautions`, the day's own first
    unknown: tuple[str, ...]  # hazards that could not be judged for want of data
    origin: Origin
    plan_stale: bool = False  # the last good plan sent again because no new one could be made
    stale_cause: str = ""
    next_check: datetime | None = None  # None: nobody looks again unless asked
    tonight: LegId | None = None  # a short loop better ridden on the arrival evening
    way_home: HomeWay | None = None  # of a day under way; None: no way is known, or not under way
    waiting: Waiting | None = None  # None: choosing in the morning gains nothing worth telling
    early_minutes: float | None = None  # waited for the first leg when left as told [min]
    hours: DayHours | None = None  # for the picture; None: not kept
    names: Mapping[LegId, str] = field(default_factory=dict)  # of all legs spoken of by id alone
    roads: tuple[PlannedRoad, ...] | None = None  # None: nobody has looked at the plain roads


def briefing_names(briefing: Briefing) -> dict[LegId, str]:
    """Return the names of all legs a briefing speaks of."""
    names = dict(briefing.names) | {leg.id: leg.name for leg in briefing.legs}
    names |= {leg.id: leg.name for leg in briefing.left_out}
    names |= {point.instead: point.instead_name for point in briefing.decision_points}
    return names
