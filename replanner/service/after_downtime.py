"""What is still worth doing when it comes late, and what is dropped: told either way.

Nothing here was asked whether it ran; it compares the instant a thing was due with the present
one. What is late says so; what is past is dropped with its reason; of several of a kind only the
newest is done.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from replanner.advice.figures import Figures
from replanner.advice.words import Words
from replanner.clock import require_aware
from replanner.post import DueKind

# A minute's tick, a queue of riders before this one: nothing a rider would call late. Assumption.
ON_TIME = timedelta(minutes=5)

# How long a thing is of use where nothing else ends it. Assumptions, apart from the first:
# somebody at home is told of an overdue rider within half a day or is past waiting for us. An
# evening plan without a known departure is over by next morning; a check by the next one.
_USEFUL_FOR: Mapping[DueKind, timedelta] = {
    DueKind.OVERDUE: timedelta(hours=12),
    DueKind.EVENING: timedelta(hours=12),
    DueKind.MORNING: timedelta(minutes=45),
    DueKind.ROAD_CHECK: timedelta(minutes=45),
}


class Act(StrEnum):
    """What to do with something due."""

    DO = "do"
    DO_LATE = "do late"
    DROP = "drop"


class Why(StrEnum):
    """Why something is dropped."""

    LEFT = "left"  # the rider has left: the day is being ridden
    ARRIVED = "arrived"
    TOO_OLD = "too old"
    NEWER = "newer"  # a newer one of its kind is done instead


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What to do with something due, how late it is, and why it is dropped (None: it is not)."""

    act: Act
    due: datetime
    now: datetime
    why: Why | None = None

    @property
    def late(self) -> timedelta:
        """How much later than due it is."""
        return self.now - self.due


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """Something that was due for one rider or group.

    `departure` is the leaving of the day it is about, `arrival` the coming in; None: not known.
    """

    kind: DueKind
    due: datetime
    departure: datetime | None = None
    arrival: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CaughtUp:
    """What is to be done, oldest first and at most one of a kind, and what is dropped."""

    do: tuple[tuple[Waiting, Verdict], ...]
    dropped: tuple[tuple[Waiting, Verdict], ...]


def useful_until(waiting: Waiting) -> datetime | None:
    """Return the instant from which something is of no use any more; None: always of use.

    An evening plan and a morning check serve until the rider leaves, a road check until he is
    in, a word that somebody is overdue for twelve hours, housekeeping for ever.
    """
    end = _end_of_use(waiting)[0]
    if end is not None:
        return require_aware("departure or arrival", end)
    lasts = _USEFUL_FOR.get(waiting.kind)
    return None if lasts is None else require_aware("due", waiting.due) + lasts


def _end_of_use(waiting: Waiting) -> tuple[datetime | None, Why]:
    if waiting.kind in {DueKind.EVENING, DueKind.MORNING}:
        return waiting.departure, Why.LEFT
    if waiting.kind is DueKind.ROAD_CHECK:
        return waiting.arrival, Why.ARRIVED
    return None, Why.TOO_OLD


def catch_up(waiting: Waiting, now: datetime) -> Verdict:
    """Return whether something due is done, done late, or dropped.

    Raises
    ------
    ValueError
        If it is not due yet.
    """
    now, due = require_aware("now", now), require_aware("due", waiting.due)
    if now < due:
        raise ValueError(f"{waiting.kind} is due at {due.isoformat()}, not at {now.isoformat()}")
    until = useful_until(waiting)
    if until is not None and now >= until:
        end, why = _end_of_use(waiting)
        return Verdict(act=Act.DROP, due=due, now=now, why=Why.TOO_OLD if end is None else why)
    act = Act.DO if now - due <= ON_TIME else Act.DO_LATE
    return Verdict(act=act, due=due, now=now)


def newest_useful(waiting: Sequence[Waiting], now: datetime) -> CaughtUp:
    """Return what of a rider's or group's waiting things is still done: the newest of each kind.

    Everything given comes back once, done or dropped.
    """
    do: dict[DueKind, tuple[Waiting, Verdict]] = {}
    dropped = []
    for one in sorted(waiting, key=lambda one: one.due, reverse=True):
        verdict = catch_up(one, now)
        if verdict.act is not Act.DROP and one.kind in do:
            verdict = Verdict(act=Act.DROP, due=verdict.due, now=verdict.now, why=Why.NEWER)
        if verdict.act is Act.DROP:
            dropped.append((one, verdict))
        else:
            do[one.kind] = (one, verdict)
    return CaughtUp(do=tuple(reversed(do.values())), dropped=tuple(reversed(dropped)))


def late_line(verdict: Verdict, figures: Figures) -> str:
    """Return that something comes late, and by how much; empty when it does not."""
    if verdict.act is not Act.DO_LATE:
        return ""
    how_late = figures.age(verdict.due, verdict.now)
    return figures.words.say("This comes {how_late} late.", how_late=how_late)


def dropped_line(dropped: Sequence[tuple[Waiting, Verdict]], words: Words) -> str:
    """Return in one line what a rider did not get and will not; empty when nothing is missing.

    What a newer one stands for and what a rider never sees is not told.
    """
    kinds = Counter(one.kind for one, verdict in dropped if verdict.why is not Why.NEWER)
    told = tuple(
        words.count(one, many, kinds[kind], n=str(kinds[kind]))
        for kind, (one, many) in _NAMES.items()
        if kinds[kind]
    )
    return words.say("Not sent in time: {missing}.", missing=words.listed(told)) if told else ""


_NAMES: Mapping[DueKind, tuple[str, str]] = {
    DueKind.EVENING: ("{n} evening plan", "{n} evening plans"),
    DueKind.MORNING: ("{n} morning check", "{n} morning checks"),
    DueKind.ROAD_CHECK: ("{n} check on the road", "{n} checks on the road"),
    DueKind.OVERDUE: ("{n} overdue nudge", "{n} overdue nudges"),
}
