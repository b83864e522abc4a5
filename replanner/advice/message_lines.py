"""The single lines of the message, each in at most 60 characters; empty: nothing to say."""

import math
from functools import partial

from replanner.advice.barred_lines import barred, is_own_worst
from replanner.advice.briefing import (
    Change,
    ChangeKind,
    Decision,
    DecisionPoint,
    HazardNote,
    Hurdle,
)
from replanner.advice.fitting import squeezed
from replanner.advice.headline import change_weight, weightiest
from replanner.advice.hurdles import limit_words
from replanner.advice.leaving_lines import why_another_hour
from replanner.advice.road_lines import worst_road
from replanner.advice.telling import Telling
from replanner.advice.wording import level_word
from replanner.hazards.model import CAUTION, NO_GO
from replanner.trip.model import LegId

_WORTH_SAYING = 1.0  # minutes


def in_by(telling: Telling) -> str:
    """Return arrival, sunset and spare minutes."""
    briefing, say, clock = telling.briefing, telling.words.say, telling.figures.clock
    if briefing.arrival is None:
        return (
            say("Not in by the day's limit, {light}", light=light(telling)) if briefing.legs else ""
        )
    told = (
        say("In by {time}", time=clock(briefing.arrival, up=True)),
        light(telling),
        spare(telling),
    )
    return ", ".join(filter(None, told))


def spare(telling: Telling) -> str:
    """Return the spare minutes."""
    minutes = telling.briefing.spare_minutes
    if minutes is None or not math.isfinite(minutes):
        return ""
    return telling.words.say("spare {minutes}", minutes=telling.figures.minutes(minutes))


def light(telling: Telling) -> str:
    """Return the sunset, or what there is instead of one."""
    day, say, clock = telling.briefing.light, telling.words.say, telling.figures.clock
    if day.sunset is not None:
        return say("sunset {time}", time=clock(day.sunset))
    if day.civil_dusk is not None:
        return say("the sun stays down, dark from {time}", time=clock(day.civil_dusk))
    if day.never_light:
        return say("dark all day")
    return say("no sunset")


def clock_change(telling: Telling) -> str:
    """Return that the clocks change in the night or on the day."""
    minutes = round(telling.clock_change().total_seconds() / 60)
    if not minutes:
        return ""
    by = telling.figures.minutes(abs(minutes))
    if minutes < 0:
        return telling.words.say("Clocks go back {minutes}; all times are the new time", minutes=by)
    return telling.words.say("Clocks go forward {minutes}; all times are the new time", minutes=by)


def before_check_in(telling: Telling) -> str:
    """Return the loop of a later day that is ridden on this one, on the way into the base."""
    leg = telling.briefing.tonight
    if leg is None:
        return ""
    return squeezed(
        lambda width: telling.words.say(
            "Before check-in: {leg}; later days gain", leg=telling.leg(leg, width)
        )
    )


_HEADLINED = {
    Decision.LEAVE_OUT: ChangeKind.LEFT_OUT,
    Decision.STAND_IN: ChangeKind.STAND_IN,
    Decision.MOVE_DAY: ChangeKind.OTHER_DAY,
}


def dropped(telling: Telling) -> tuple[Change, ...]:
    """Return the changes by which a leg of the own order is not ridden, named by no other line.

    The headline names the one it is about, the no-go line those that cannot be ridden.
    """
    briefing = telling.briefing
    named = {found.leg for found in barred(telling)}
    kind = _HEADLINED.get(briefing.decision)
    first = weightiest(telling, kind) if kind else None
    named |= {first.leg} if first and first.leg else set()
    named |= {leg.id for leg in briefing.legs}
    return tuple(
        change
        for change in briefing.changes
        if change.kind in _HEADLINED.values() and change.leg and change.leg not in named
    )


def left_out(telling: Telling) -> str:
    """Return the legs of the own order that are not ridden and that nothing else tells.

    Of a day nobody rides, that says it of each leg; one that another day rides is told all the
    same. One with a stand-in is told by that.
    """
    briefing, say = telling.briefing, telling.words.say
    found = tuple(one for one in dropped(telling) if one.kind is not ChangeKind.STAND_IN)
    elsewhere = tuple(one for one in found if one.kind is ChangeKind.OTHER_DAY)
    out = tuple(one for one in found if one not in elsewhere) if briefing.legs else ()
    if not found or not (out or elsewhere):
        return ""

    def named(changes: tuple[Change, ...], width: int) -> str:
        legs = (telling.leg(one.leg, width) for one in changes if one.leg)
        return telling.words.listed(tuple(legs))

    def line(width: int) -> str:
        if not elsewhere:
            return say("Left out: {legs}", legs=named(out, width))
        if not out:
            return say("On another day: {legs}", legs=named(elsewhere, width))
        return say(
            "Left out: {legs}; another day: {others}",
            legs=named(out, width),
            others=named(elsewhere, width),
        )

    return squeezed(line)


def why_line(telling: Telling) -> str:
    """Return the weightiest reason: number, threshold, hour, place."""
    briefing = telling.briefing
    told_already = {found.leg for found in barred(telling)[:1]}
    for change in sorted(briefing.changes, key=change_weight, reverse=True):
        if change.reason is not None and change.leg not in told_already:
            because = partial(_because, telling, whose_reason(telling, change), change.reason)
            return squeezed(
                partial(because, place=True),
                because,
                partial(because, limit=False),
                partial(because, figure=False),
                whole=2,
            )
    if briefing.changes:
        return _why_without_hazard(telling)
    if not briefing.legs:
        return ""
    better = partial(_nothing_better, telling)
    return squeezed(better, partial(better, figure=False), whole=1)


def _why_without_hazard(telling: Telling) -> str:
    """Return why the weightiest change is made where no hazard is its reason."""
    found = sorted(telling.briefing.changes, key=change_weight, reverse=True)
    kind = found[0].kind
    if kind is ChangeKind.DEPARTURE:
        return why_another_hour(telling, found[0])
    leg, worth = found[0].leg, found[0].worth_minutes
    if kind is not ChangeKind.LEFT_OUT or leg is None or not worth or worth < _WORTH_SAYING:
        return ""
    minutes = telling.figures.cost(worth)
    return squeezed(
        lambda width: telling.words.say(
            "Why: {leg} costs {minutes} more than it is worth",
            leg=telling.leg(leg, width),
            minutes=minutes,
        )
    )


def has_reason(telling: Telling) -> bool:
    """Return whether the line of reasons tells more than that nothing is to tell."""
    briefing = telling.briefing
    return bool(briefing.changes) or any(leg.severity >= CAUTION for leg in briefing.legs)


def whose_reason(telling: Telling, change: Change) -> LegId | None:
    """Return the leg that meets what a change is for; None: told by its section alone.

    Legs that change places do so for the worst that any of them would meet.
    """
    own = telling.briefing.own_order
    if change.kind is ChangeKind.DEPARTURE:
        return None
    if change.kind is not ChangeKind.MOVED or change.reason is None:
        return change.leg
    if change.reason == own.worst:
        return own.worst_leg
    at_home = (
        change.leg and change.reason.section.casefold() == telling.names(change.leg).casefold()
    )
    return change.leg if at_home else None


def _because(
    telling: Telling,
    leg: LegId | None,
    note: HazardNote,
    width: int,
    *,
    place: bool = False,
    limit: bool = True,
    figure: bool = True,
) -> str:
    if leg is None:  # the section alone tells where it is
        reason = telling.reason(note, width=width, limit=limit, figure=figure)
    else:
        reason = telling.leg_reason(leg, note, width, place=place, limit=limit, figure=figure)
    return telling.words.say("Why: {reason}", reason=reason)


def _nothing_better(telling: Telling, width: int, *, figure: bool = True) -> str:
    briefing, say = telling.briefing, telling.words.say
    asked = briefing.decision is Decision.AS_ASKED
    worst, road = max(briefing.legs, key=lambda leg: leg.severity), worst_road(telling)
    on_the_road = road is not None and road.severity > worst.severity  # has a line of its own
    if worst.hazard is None or worst.severity < CAUTION or on_the_road:
        return say("Why: you asked for it") if asked else say("Why: no other order is better")
    whose, note = worst.id, worst.hazard
    known = [
        (leg.severity, leg.id, leg.hazard)
        for leg in briefing.legs
        if leg.hazard is not None and not leg.hazard.unknown
    ]
    if note.unknown and known:  # what is not known has a line of its own; a figure says more
        _, whose, note = max(known, key=lambda found: found[0])
        asked_for, best = "Why: as you asked; worst known {reason}", "Why: worst known {reason}"
    else:
        asked_for, best = "Why: as you asked; worst {reason}", "Why: nothing better; worst {reason}"
    reason = telling.leg_reason(whose, note, width, limit=False, figure=figure)
    return say(asked_for if asked else best, reason=reason)


def way_out(telling: Telling) -> str:
    """Return the first decision point."""
    points = telling.briefing.decision_points
    return way_out_at(telling, points[0]) if points else ""


def way_out_at(telling: Telling, point: DecisionPoint) -> str:
    """Return a decision point: where, until when, what to look for, what instead."""
    seen = telling.look_for(point)
    seen = seen[:1].upper() + seen[1:]

    def line(width: int, sentence: str) -> str:
        return telling.words.say(
            sentence,
            place=telling.place(point.place_name, width),
            time=telling.figures.clock(point.latest),
            seen=seen,
            instead=telling.leg(point.instead, width),
        )

    if not seen:
        return squeezed(
            partial(line, sentence="{place} by {time}. Later? Take {instead}"),
            partial(line, sentence="{place} by {time}, else {instead}"),
        )
    return squeezed(
        partial(line, sentence="{place} by {time}. {seen} or later? Take {instead}"),
        partial(line, sentence="{place} by {time}. {seen}? Take {instead}"),
    )


def own_order(telling: Telling, *, brief: bool = False) -> str:
    """Return what keeping the rider's own order means; briefly: without the figure."""
    briefing, say = telling.briefing, telling.words.say
    own = briefing.own_order
    if _own_is_told(telling):
        return ""
    forbidden = own.value_minutes is None and own.severity < NO_GO
    if own.worst_leg is not None and own.severity >= CAUTION and not forbidden:
        short = partial(_own_worst, telling, own.worst_leg, brief=True)
        whole = partial(_own_worst, telling, own.worst_leg, brief=False)
        return squeezed(short) if brief else squeezed(whole, short)
    if own.value_minutes is None:
        if own.breaks is None or brief:
            return say("Your order cannot be ridden")
        breaks = partial(_own_breaks, telling, own.breaks)
        return squeezed(partial(breaks, hour=True), breaks)
    price = own_price(telling)
    if price is None or price < _WORTH_SAYING:
        return ""
    return say("Your order is worth {minutes} less", minutes=telling.figures.cost(price))


def _own_breaks(telling: Telling, hurdle: Hurdle, width: int, *, hour: bool = False) -> str:
    breaks = limit_words(telling, hurdle, width, hour=hour)
    return telling.words.say("Your order cannot be ridden: {breaks}", breaks=breaks)


def _own_is_told(telling: Telling) -> bool:
    """Return whether nothing is left to say: it is the plan, or the no-go line says it."""
    briefing = telling.briefing
    if not briefing.changes and briefing.own_order.value_minutes is not None:
        return True
    first = barred(telling)[:1]
    return any(not found.closed and is_own_worst(telling, found.leg) for found in first)


def _own_worst(telling: Telling, worst: LegId, width: int, *, brief: bool) -> str:
    own, say = telling.briefing.own_order, telling.words.say
    leg, level = telling.leg(worst, width), level_word(own.severity, telling.words)
    at = own.worst_start or (own.worst.hour if own.worst else None)
    if at is None:
        return say("Your order: {leg} {level}", leg=leg, level=level)
    time = telling.figures.clock(at)
    if own.worst is None or brief:
        return say("Your order: {leg} at {time} {level}", leg=leg, time=time, level=level)
    return say(
        "Your order: {leg} at {time} {level}, {hazard}",
        leg=leg,
        time=time,
        level=level,
        hazard=telling.hazard(own.worst, limit=False),
    )


def own_price(telling: Telling) -> float | None:
    """Return what keeping the own order loses; None where it cannot be told."""
    value, own = telling.briefing.value_minutes, telling.briefing.own_order.value_minutes
    if value is None or own is None or not math.isfinite(value - own):
        return None
    return value - own
