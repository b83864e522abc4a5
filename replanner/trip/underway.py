"""Where the riders are on a day under way, and what they have met: plain data of the road.

A day under way is planned from here on: from a place or from within a leg, without what has been
ridden, with what riders have reported.
"""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from replanner.geodesy import Point
from replanner.trip.model import LegId, PlaceId, Way


@dataclass(frozen=True, slots=True, kw_only=True)
class OnLeg:
    """Somewhere on a leg: `fraction` runs from 0 at the leg's start in the forward way."""

    leg: LegId
    way: Way
    fraction: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Underway:
    """Where and when the rest of the day begins.

    Exactly one of `on_leg`, `place` and `point` says where.

    Parameters
    ----------
    at : datetime
        When the riders were there, UTC-aware.
    ready : datetime
        When they ride on: `at`, or later after a halt, a puncture, a lunch.
    ridden : frozenset of LegId
        Legs of this day that are done, skipped parts of them included.
    on_leg : OnLeg or None
        Within a leg: it is ridden to its end, unless `turning_back`.
    place : PlaceId or None
    point : Point or None
        Off every known leg and place.
    turning_back : bool
        The leg they are on is left the way they came.
    live : bool
        Told by a position shared live, not typed.
    riding : tuple of LegId
        What is ahead of the plan they ride by, in its order: from now on their own order.
    in_the_morning : bool
        Nothing of the day's plan is begun by then, or they were seen to stay: at the start of the
        day the tank is full.
    ridden_minutes : float
        Ridden since the last break by the time `at`, as far as is known. [min]
    tank_km : float or None
        Ridden since the tank was full, as far as is known; None: not known. [km]
    tank_told_km : float or None
        What riders have told of that; `tank_km` beyond it is reckoned by the plan. None: nothing,
        or the plan has since filled up, which nobody has told. [km]
    boarding : LegId or None
        The crossing whose boat they stand in the queue for, at `place`: they were there in time.
    """

    at: datetime
    ready: datetime
    ridden: frozenset[LegId] = frozenset()
    on_leg: OnLeg | None = None
    place: PlaceId | None = None
    point: Point | None = None
    turning_back: bool = False
    live: bool = False
    riding: tuple[LegId, ...] = ()
    in_the_morning: bool = False
    ridden_minutes: float = 0.0
    tank_km: float | None = None
    tank_told_km: float | None = None
    boarding: LegId | None = None

    def ridden_in_one_go(self, break_minutes: float) -> float:
        """Return the minutes ridden without a break when they ride on: 0 if they sat down first."""
        halted = (self.ready - self.at).total_seconds() / 60.0
        return 0.0 if halted >= break_minutes else self.ridden_minutes

    @property
    def gone(self) -> frozenset[LegId]:
        """Legs that are done, or being ridden."""
        return self.ridden | ({self.on_leg.leg} if self.on_leg else frozenset())


class ReportKind(StrEnum):
    """What riders report of a road."""

    CLOSED = "closed"
    GRAVEL = "gravel"  # loose chippings or deep gravel
    MUD = "mud"
    SLIPPERY = "slippery"  # ice, oil, diesel
    WIND = "wind"  # stronger than told
    WET = "wet"
    DRY = "dry"  # believed for the wetness of this leg only
    FOG = "fog"
    NO_SAILING = "no sailing"  # the boat does not go


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What a rider has reported of a leg, until it expires. Who said it is not kept.

    Parameters
    ----------
    level : int
        2 caution, 3 avoid, 4 no-go: how bad it was called. DRY has no level: 0.
    since, until : datetime
        UTC-aware; it counts for passages between them.
    """

    leg: LegId
    kind: ReportKind
    level: int
    since: datetime
    until: datetime
