"""What a line of the rider means, as data. `trial` is a what-if: shown, kept only after an ok."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, time

from replanner.dialogue.road_intent import RoadWord
from replanner.dialogue.topics import Topic
from replanner.trip.model import LegId


@dataclass(frozen=True, slots=True)
class Plain:
    """A topic that needs nothing else said."""

    topic: Topic


@dataclass(frozen=True, slots=True)
class Skip:
    """Leave legs out."""

    legs: tuple[LegId, ...]
    trial: bool = False


@dataclass(frozen=True, slots=True)
class Ride:
    """Ride legs all the same."""

    legs: tuple[LegId, ...]
    trial: bool = False


@dataclass(frozen=True, slots=True)
class Close:
    """Legs are closed; `until`: the last day it was said of, None: not said."""

    legs: tuple[LegId, ...]
    until: date | None = None


@dataclass(frozen=True, slots=True)
class Reopen:
    """Legs said to be closed are open after all."""

    legs: tuple[LegId, ...]


@dataclass(frozen=True, slots=True)
class IsOpen:
    """Whether legs are open; none named: all."""

    legs: tuple[LegId, ...]


@dataclass(frozen=True, slots=True)
class ToDay:
    """Ride a leg on another day; no leg: swap the whole day with that one."""

    leg: LegId | None
    day: date
    trial: bool = False


@dataclass(frozen=True, slots=True)
class SwapLegs:
    """Exchange two legs. `in_order`: not an exchange, the first before the second."""

    first: LegId
    second: LegId
    in_order: bool = False
    trial: bool = False


@dataclass(frozen=True, slots=True)
class LeaveAt:
    """Leave at a local wall time."""

    wall: time
    trial: bool = False


@dataclass(frozen=True, slots=True)
class KeepOrder:
    """Ride the own order."""


@dataclass(frozen=True, slots=True)
class WhyLeg:
    """The reason for what was done with a leg."""

    leg: LegId


@dataclass(frozen=True, slots=True)
class WeatherOn:
    """What the plan knows of the weather on a leg."""

    leg: LegId


@dataclass(frozen=True, slots=True)
class Late:
    """So many minutes late; None: not said how many."""

    minutes: float | None


@dataclass(frozen=True, slots=True)
class PlanDay:
    """Plan now: that day, None: the day spoken about."""

    day: date | None


@dataclass(frozen=True, slots=True)
class LogDay:
    """Legs ridden, and legs missed with the rider's own remark on each."""

    ridden: tuple[LegId, ...]
    missed: tuple[tuple[LegId, str], ...]


@dataclass(frozen=True, slots=True)
class Option:
    """One answer to a question: as shown, and the line that says it without doubt."""

    label: str
    says: str


@dataclass(frozen=True, slots=True)
class Which:
    """Several things fit: ask. `about` is what is asked for."""

    about: Topic
    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class UnknownName:
    """No leg has that name; the nearest two are told."""

    said: str
    near: tuple[LegId, ...]


@dataclass(frozen=True, slots=True)
class UnknownDay:
    """The tour has no such day."""

    said: str


@dataclass(frozen=True, slots=True)
class NotUnderstood:
    """Nothing fits; the topics nearest to what was typed."""

    near: tuple[Topic, ...]


@dataclass(frozen=True, slots=True)
class Doubtful:
    """An agreement asked as a question ("ok?"): nothing is accepted on it."""


Intent = (
    Plain
    | Skip
    | Ride
    | Close
    | Reopen
    | IsOpen
    | ToDay
    | SwapLegs
    | LeaveAt
    | KeepOrder
    | WhyLeg
    | WeatherOn
    | Late
    | RoadWord
    | PlanDay
    | LogDay
    | Which
    | UnknownName
    | UnknownDay
    | NotUnderstood
    | Doubtful
)


_TOPICS: Mapping[type, Topic] = {
    Skip: Topic.SKIP,
    Ride: Topic.RIDE,
    Close: Topic.CLOSED,
    Reopen: Topic.OPENED,
    IsOpen: Topic.IS_OPEN,
    LeaveAt: Topic.LEAVE_AT,
    KeepOrder: Topic.KEEP,
    WhyLeg: Topic.WHY_LEG,
    WeatherOn: Topic.WEATHER_LEG,
    Late: Topic.LATE,
    PlanDay: Topic.PLAN_NOW,
    LogDay: Topic.LOG,
}


def topic_of(intent: Intent) -> Topic | None:
    """Return what an intent is about; None where nothing was understood for sure."""
    match intent:
        case Plain(topic) | RoadWord(topic=topic):
            return topic
        case SwapLegs(in_order=in_order):
            return Topic.IN_ORDER if in_order else Topic.SWAP_LEGS
        case ToDay(leg=leg):
            return Topic.SWAP_DAY if leg else Topic.SWAP_WHOLE_DAY
        case _:
            return _TOPICS.get(type(intent))
