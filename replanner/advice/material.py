"""What has changed between two plans of a day that is worth a message; mostly nothing.

A small shift of an hour is noise; what counts is a leg that has become worse or better by a class,
a plain road that has become worse, another set or order of legs, or times that moved by more than
a rider would shrug off.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from replanner.advice.briefing import Briefing, Decision, LeftOut, PlannedLeg, PlannedRoad
from replanner.advice.telling import Telling, written
from replanner.advice.wording import level_word
from replanner.advice.words import Words
from replanner.hazards.model import AVOID, CAUTION, NO_GO
from replanner.trip.model import LegId

# By how much a time has to move before it is told. Assumption.
TOLD_FROM_MINUTES = 20.0
_STEPS = (CAUTION, AVOID, NO_GO)
_MOST_LEGS = 2
_NAME = 22  # characters of a name


@dataclass(frozen=True, slots=True, kw_only=True)
class LegChange:
    """A leg whose class has changed.

    Parameters
    ----------
    was, now : int
        Class before and after: 0 go, 1 caution, 2 avoid, 3 no-go.
    cause : str
        Name of the hazard that decides it now, "" where none does.
    """

    leg: LegId
    was: int
    now: int
    cause: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadChange:
    """The worst plain road of a day, and the classes of the worst before and after."""

    road: PlannedRoad
    was: int
    now: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """What has changed. At least one of these says something.

    Parameters
    ----------
    lost : bool
        No plan holds any more.
    classes : tuple of LegChange
        The worst first.
    gone, new : tuple of LegId
        Legs not ridden any more, in the order they had; legs ridden now and not before.
    reordered : bool
        The legs ridden in both have changed places.
    departure, arrival : datetime or None
        The new one, where it has moved by more than the threshold.
    spare_minutes : float or None
        What the day can still lose now, where it has shrunk by more than the threshold.
    road : RoadChange or None
        The worst plain road, where it has become worse by a class.
    """

    lost: bool = False
    classes: tuple[LegChange, ...] = ()
    gone: tuple[LegId, ...] = ()
    new: tuple[LegId, ...] = ()
    reordered: bool = False
    departure: datetime | None = None
    arrival: datetime | None = None
    spare_minutes: float | None = None
    road: RoadChange | None = None

    def __bool__(self) -> bool:
        return self != Material()

    @property
    def urgent(self) -> bool:
        """Whether a leg or plain road has become no-go, or no plan is left."""
        roads = () if self.road is None else (self.road,)
        return self.lost or any(one.now == len(_STEPS) > one.was for one in (*self.classes, *roads))


def severity_class(severity: float) -> int:
    """Return the class of a severity: 0 go, 1 caution, 2 avoid, 3 no-go."""
    return sum(severity >= step for step in _STEPS)


def material_change(
    before: Briefing, after: Briefing, *, minutes: float = TOLD_FROM_MINUTES
) -> Material | None:
    """Return what has changed from one plan to another; None: nothing worth a word.

    Parameters
    ----------
    before, after : Briefing
        Of the same day.
    minutes : float
        Times that moved by no more than this are the same. [min]
    """
    if after.decision is Decision.NO_WAY:
        return None if before.decision is Decision.NO_WAY else Material(lost=True)
    was, now = _by_id(before.legs), _by_id(after.legs)
    both = [leg for leg in was if leg in now]
    found = Material(
        classes=_classes(was, now),
        gone=tuple(leg for leg in was if leg not in now),
        new=tuple(leg for leg in now if leg not in was),
        reordered=both != [leg for leg in now if leg in was],
        departure=_moved(before.departure, after.departure, minutes),
        arrival=_moved(before.arrival, after.arrival, minutes),
        spare_minutes=_less(before.spare_minutes, after.spare_minutes, minutes),
        road=_worse_road(before, after),
    )
    return found or None


def _by_id(legs: Iterable[PlannedLeg]) -> dict[LegId, PlannedLeg]:
    return {leg.id: leg for leg in legs}


def _classes(was: dict[LegId, PlannedLeg], now: dict[LegId, PlannedLeg]) -> tuple[LegChange, ...]:
    found = [
        LegChange(
            leg=leg,
            was=severity_class(was[leg].severity),
            now=severity_class(planned.severity),
            cause=planned.hazard.name if planned.hazard else "",
        )
        for leg, planned in now.items()
        if leg in was
    ]
    changed = [one for one in found if one.was != one.now]
    return tuple(sorted(changed, key=lambda one: (-one.now, one.was)))


def _worse_road(before: Briefing, after: Briefing) -> RoadChange | None:
    """Return the worst plain road where it is worse by a class; that it is better wakes nobody."""
    if before.roads is None or after.roads is None:  # nobody has looked at one of them
        return None
    worst = max(after.roads, key=lambda road: road.severity, default=None)
    if worst is None:
        return None
    was = severity_class(max((road.severity for road in before.roads), default=0.0))
    now = severity_class(worst.severity)
    return RoadChange(road=worst, was=was, now=now) if now > was else None


def _moved(was: datetime | None, now: datetime | None, minutes: float) -> datetime | None:
    if was is None or now is None:
        return None
    return now if abs((now - was).total_seconds()) > 60.0 * minutes else None


def _less(was: float | None, now: float | None, minutes: float) -> float | None:
    """Return what is to spare now where it has shrunk; that there is more wakes nobody."""
    if was is None or now is None:
        return None
    return now if was - now > minutes else None


def material_line(
    change: Material, before: Briefing, after: Briefing, words: Words | None = None
) -> str:
    """Return what has changed and why, in one line.

    Examples
    --------
    "CHANGE: Hask Saddle no-go at 14:00 gust 70, limit 45 km/h, was caution. Leave 09:00, not
    08:30. Rest as sent."
    """
    then, telling = written(before, words), written(after, words)
    say, clock = telling.words.say, telling.figures.clock
    if change.lost:
        return say(
            "CHANGE: the plan does not hold any more. No way is left for {date}.",
            date=telling.figures.date(after.date),
        )
    facts = [_class_words(telling, one) for one in change.classes[:_MOST_LEGS]]
    facts += [_gone_words(then, telling, leg) for leg in change.gone[:_MOST_LEGS]]
    if change.road is not None:
        facts.append(_road_words(telling, change.road))
    for leg in change.new[:_MOST_LEGS]:
        planned = telling.planned(leg)
        if planned is not None:
            start = clock(planned.start)
            facts.append(say("{leg} at {time} is new", leg=telling.leg(leg, _NAME), time=start))
    if change.reordered:
        order = ", ".join(telling.leg(leg.id, _NAME) for leg in after.legs)
        facts.append(say("new order {legs}", legs=order))
    if change.departure is not None and before.departure is not None:
        facts.append(
            say(
                "leave {time}, not {old}", time=clock(change.departure), old=clock(before.departure)
            )
        )
    if change.arrival is not None:
        facts.append(say("in by {time}", time=clock(change.arrival, up=True)))
    if change.spare_minutes is not None:
        facts.append(say("{n} to spare", n=telling.figures.minutes(change.spare_minutes)))
    return say("CHANGE: {facts}. Rest as sent.", facts="; ".join(facts))


def _class_words(telling: Telling, change: LegChange) -> str:
    say, planned = telling.words.say, telling.planned(change.leg)
    level = level_word((0.0, *_STEPS)[change.now], telling.words)
    old = level_word((0.0, *_STEPS)[change.was], telling.words)
    name = telling.leg(change.leg, _NAME)
    if planned is None or planned.hazard is None:
        return say("{leg} {level}, was {old}", leg=name, level=level, old=old)
    reason = telling.reason(planned.hazard, width=0)
    return say("{leg} {level} {reason}, was {old}", leg=name, level=level, reason=reason, old=old)


def _road_words(telling: Telling, change: RoadChange) -> str:
    say, note = telling.words.say, change.road.hazard
    level = level_word((0.0, *_STEPS)[change.now], telling.words)
    place = telling.place(change.road.end, _NAME)
    if note is None:
        return say("road to {place} {level}", place=place, level=level)
    reason = telling.reason(note, width=0)
    return say("road to {place} {level} {reason}", place=place, level=level, reason=reason)


def _gone_words(then: Telling, telling: Telling, leg: LegId) -> str:
    left: LeftOut | None = next((one for one in telling.briefing.left_out if one.id == leg), None)
    name = then.leg(leg, _NAME)
    if left is None:
        return telling.words.say("without {leg}", leg=name)
    if left.reason is None:
        cause = telling.words.say(left.cause)
        return telling.words.say("without {leg} ({cause})", leg=name, cause=cause)
    reason = telling.reason(left.reason, width=0)
    return telling.words.say("without {leg}, {reason}", leg=name, reason=reason)
