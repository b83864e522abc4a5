"""What is said of the rest of a day to riders on the road: five lines, read aloud in 20 seconds.

What to do now; what fell out or is bad; turn-back times still ahead; when in and what is to spare;
the way home.
"""

from datetime import datetime
from enum import StrEnum

from replanner.advice.briefing import Briefing, Decision, HomeWay, PlannedLeg, briefing_names
from replanner.advice.hurdles import demand_words, kilometres, limit_words
from replanner.advice.telling import Telling, written
from replanner.advice.words import Words
from replanner.trip.model import LegId

_CAUTION, _NO_GO = 2.0, 4.0
_MOST_LEGS = 3
_MOST_DROPPED = 2
_MOST_TURNS = 2
_NAME = 22  # characters of a name
# Legs and turn-back times told, the fuller first, until the lines keep the number of words that
# is read aloud in twenty seconds together with the echo: 90 words in 30 seconds, as in the evening.
_SHORTER = ((_MOST_LEGS, _MOST_TURNS), (_MOST_LEGS, 1), (2, 1), (1, 1))
_MOST_WORDS = 46


class Manner(StrEnum):
    """How the rest of a day is told."""

    RIDING = "riding"
    SHELTER = "shelter"  # thunder: nothing to ride is offered
    STRANDED = "stranded"  # a breakdown: nobody knows yet when they ride on


def road_text(
    briefing: Briefing,
    at: datetime,
    *,
    before: Briefing | None = None,
    ridden: frozenset[LegId] = frozenset(),
    manner: Manner = Manner.RIDING,
    homeward: bool = False,
    words: Words | None = None,
) -> str:
    """Return the rest of the day in at most five lines.

    Parameters
    ----------
    at : datetime
        When it was asked, UTC: what is past by then is not told.
    before : Briefing or None
        The plan ridden by until now: what fell out of it is told.
    ridden : frozenset of LegId
        Legs that are done, or being ridden: they fell out of nothing.
    manner : Manner
    homeward : bool
        The plan is the way home already.
    """
    telling = written(briefing, words)
    if manner is Manner.SHELTER:
        return _joined(_ride_on(telling), in_by(telling))
    told = ""
    for legs, turns in _SHORTER:
        told = _joined(
            _restart(telling) if manner is Manner.STRANDED else _next(telling, legs),
            _bad(telling, None if homeward else before, at, ridden),
            _turns(telling, at, turns),
            in_by(telling),
            "" if homeward else _home(telling, before, at),
        )
        if len(told.split()) <= _MOST_WORDS:
            break
    return told


def road_tail(briefing: Briefing, at: datetime, words: Words | None = None) -> str:
    """Return what an answer on the road ends with, before the way home."""
    telling = written(briefing, words)
    return _joined(_turns(telling, at, _MOST_TURNS), in_by(telling))


def way_home(briefing: Briefing, words: Words | None = None) -> str:
    """Return the way home of a day under way, empty where none was looked for."""
    return home_line(written(briefing, words))


def status_line(briefing: Briefing, where: str, at: datetime, words: Words | None = None) -> str:
    """Return where the riders are and how the day stands, in one line."""
    telling = written(briefing, words)
    now = telling.figures.clock(at)
    return f"{now} {where} {in_by(telling)}"


def _joined(*lines: str) -> str:
    return "\n".join(line for line in lines if line)


def _ride_on(telling: Telling) -> str:
    departure = telling.briefing.departure
    if telling.briefing.decision is Decision.REST_DAY:
        return _stay(telling)
    if departure is None:
        return telling.words.say("No plan holds after that.")
    time = telling.figures.clock(departure)
    return telling.words.say("Ride on at {time} at the earliest.", time=time)


def _next(telling: Telling, most: int) -> str:
    say, clock, briefing = telling.words.say, telling.figures.clock, telling.briefing
    if briefing.decision is Decision.REST_DAY:
        return _stay(telling)
    if briefing.departure is None:
        return _no_plan(telling)
    if not briefing.legs:
        return say(
            "Nothing more to ride: leave {time} for {base}.",
            time=clock(briefing.departure),
            base=_base(telling),
        )
    told = [
        say("{time} {leg}", time=clock(leg.start), leg=telling.leg(leg.id, _NAME))
        for leg in briefing.legs[:most]
    ]
    more = len(briefing.legs) - most
    if more > 0:
        told.append(telling.words.count("{n} more", "{n} more", more, n=str(more)))
    return say("Next: {legs}.", legs=", ".join(told))


def _stay(telling: Telling) -> str:
    """Return what is said to riders at their base who have ridden all, or had better not ride."""
    return telling.words.say("Nothing more to ride: stay in {base}.", base=_base(telling))


def _base(telling: Telling) -> str:
    return telling.place(telling.briefing.base_to, _NAME)


def _no_plan(telling: Telling) -> str:
    say, blame = telling.words.say, telling.briefing.blame
    if not blame:
        return say("No plan holds from here.")
    together = telling.words.listed(tuple(demand_words(telling, one) for one in blame[:2]))
    return say("No plan holds from here: {demands}.", demands=together)


def _bad(telling: Telling, before: Briefing | None, at: datetime, ridden: frozenset[LegId]) -> str:
    """Return what fell out of the plan before, and the worst that is left."""
    say, parts = telling.words.say, []
    if gone := _gone(telling, before, at, ridden):
        told = tuple(_dropped(telling, leg, before) for leg in gone[:_MOST_DROPPED])
        parts.append(say("Dropped: {legs}.", legs=telling.words.listed(told)))
    worst = max(telling.briefing.legs, key=lambda leg: leg.severity, default=None)
    if worst is not None and worst.severity >= _CAUTION:
        parts.append(_worst(telling, worst))
    return " ".join(parts)


def _gone(
    telling: Telling, before: Briefing | None, at: datetime, ridden: frozenset[LegId]
) -> list[PlannedLeg]:
    """Return the legs of the plan before that are not ridden any more.

    A stand-in is left out of no list when it goes: it counts as gone if it was not begun.
    """
    kept = {leg.id for leg in telling.briefing.legs} | ridden
    out = {leg.id for leg in telling.briefing.left_out}
    planned = before.legs if before else ()
    return [leg for leg in planned if leg.id not in kept and (leg.id in out or leg.start > at)]


def _dropped(telling: Telling, leg: PlannedLeg, before: Briefing | None) -> str:
    say = telling.words.say
    left = next((one for one in telling.briefing.left_out if one.id == leg.id), None)
    if left is not None:
        name = telling.leg(leg.id, _NAME)
        if left.cause == "asked":
            return name
        return say("{leg} ({cause})", leg=name, cause=say(left.cause))
    return written(before, telling.words).leg(leg.id, _NAME) if before else leg.name


def _worst(telling: Telling, leg: PlannedLeg) -> str:
    say = telling.words.say
    if leg.hazard is None:
        return say("Mind {leg}.", leg=telling.leg(leg.id, _NAME))
    return say("Mind {what}.", what=telling.leg_reason(leg.id, leg.hazard, _NAME))


def _turns(telling: Telling, at: datetime, most: int) -> str:
    """Return the turn-back times and decision points that are still ahead, the soonest first."""
    say, clock, briefing = telling.words.say, telling.figures.clock, telling.briefing
    turns = [
        (
            leg.turn_back,
            say("{leg} by {time}", leg=telling.leg(leg.id, _NAME), time=clock(leg.turn_back)),
        )
        for leg in briefing.legs
        if leg.turn_back is not None and leg.turn_back > at
    ]
    turns += [
        (
            point.latest,
            say(
                "{place} by {time}, else {instead}",
                place=telling.place(point.place_name, _NAME),
                time=clock(point.latest),
                instead=telling.place(point.instead_name, _NAME),
            ),
        )
        for point in briefing.decision_points
        if point.latest > at
    ]
    soonest = [told for _, told in sorted(turns)[:most]]
    return say("Turn back: {turns}.", turns="; ".join(soonest)) if soonest else ""


def in_by(telling: Telling) -> str:
    """Return when the riders are in, sunset, what is to spare and what ends it."""
    say, figures, briefing = telling.words.say, telling.figures, telling.briefing
    parts = []
    if briefing.arrival is not None:
        arrival = figures.clock(briefing.arrival, up=True)
        parts.append(say("In by {time}", time=arrival))
    if briefing.light.sunset is not None:
        told = "sunset {time}" if parts else "Sunset {time}"
        parts.append(say(told, time=figures.clock(briefing.light.sunset)))
    if briefing.spare_minutes is not None and briefing.arrival is not None:
        parts.append(_spare(telling, briefing.spare_minutes))
    told = say("{facts}.", facts=", ".join(parts)) if parts else ""
    if briefing.origin.stale or briefing.plan_stale:
        told = f"{told} {say('OLD DATA.')}"
    return told.strip()


def _spare(telling: Telling, minutes: float) -> str:
    spare = telling.figures.minutes(minutes)
    limit = telling.briefing.spare_limit
    if limit is None:
        return telling.words.say("{spare} to spare", spare=spare)
    told = limit_words(telling, limit, _NAME)
    return telling.words.say("{spare} to spare ({limit})", spare=spare, limit=told)


def _home(telling: Telling, before: Briefing | None, at: datetime) -> str:
    """Return the way home; riders who have not left by the plan before need none."""
    left = before is None or before.departure is None or before.departure <= at
    if telling.briefing.departure is None and telling.briefing.way_home is None and not left:
        return telling.words.say("By the plan you have not left yet: stay until one holds.")
    return home_line(telling)


def home_line(telling: Telling) -> str:
    """Return the safest quick way in; of a day not under way, or of riders who are in, nothing."""
    say, home = telling.words.say, telling.briefing.way_home
    if home is None:
        return say("No way home is known from here.") if telling.briefing.departure is None else ""
    if home.arrival == home.departure and not home.legs:
        return ""
    parts = [_by(telling, home)]
    parts.append(say("in by {time}", time=telling.figures.clock(home.arrival, up=True)))
    if not home.in_time:
        late = telling.figures.clock(home.limit)
        parts.append(say("too late for the limit {time}", time=late))
    parts += _fuel(telling, home)
    if home.severity >= _CAUTION:
        worst = telling.hazard(home.worst, limit=False) if home.worst else say("caution")
        parts.append(
            say("NO-GO {worst}", worst=worst)
            if home.severity >= _NO_GO
            else say("mind {worst}", worst=worst)
        )
    elif home.in_time and (blamed := _blamed(telling, home)):
        parts.append(say("mind {legs}: no plan holds with it", legs=blamed))
    return say("Way home: {facts}.", facts=", ".join(parts))


def _fuel(telling: Telling, home: HomeWay) -> list[str]:
    """Return where to fill up and how far the tank falls short; else that nobody knows."""
    say = telling.words.say
    if home.short_km is None:
        return [say("{km}, check the tank", km=kilometres(telling, home.km))]
    places = tuple(telling.place(place, _NAME) for place in home.fill_up_at)
    found = [say("fill up at {places}", places=telling.words.listed(places))] if places else []
    if home.short_km > 0:
        found.append(say("the smallest tank {km} short", km=kilometres(telling, home.short_km)))
    return found


def _blamed(telling: Telling, home: HomeWay) -> str:
    """Return the legs of the way home on account of which no plan holds, as a list."""
    names = briefing_names(telling.briefing)
    blamed = {names.get(leg, leg) for demand in telling.briefing.blame for leg in demand.legs}
    legs = tuple(telling.place(leg, _NAME) for leg in home.legs if leg in blamed)
    return telling.words.listed(legs) if legs else ""


def _by(telling: Telling, home: HomeWay) -> str:
    say = telling.words.say
    legs = tuple(telling.place(leg, _NAME) for leg in home.legs[:_MOST_LEGS])
    if home.turning_back and legs:
        return say("turn back, {legs}", legs=telling.words.listed(legs))
    if not legs:
        return say("plain road, estimated") if home.estimated else say("plain road")
    return telling.words.listed(legs)


def _restart(telling: Telling) -> str:
    """Return the latest restart that still reaches the base in light and within the limit."""
    say, home = telling.words.say, telling.briefing.way_home
    if home is None:
        return say("How late you can restart is not known.")
    dusk = telling.briefing.light.civil_dusk
    limit = min(home.limit, dusk) if dusk is not None else home.limit
    latest = limit - (home.arrival - home.departure)
    if latest <= home.departure:
        return say("No restart reaches {base} in light.", base=telling.briefing.base_to)
    return say(
        "Latest restart to be in {base} in light: {time}.",
        base=_base(telling),
        time=telling.figures.clock(latest),
    )
