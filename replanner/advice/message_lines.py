"""The single lines of the message, each in at most 60 characters; empty: nothing to say."""

import math
import re
from datetime import UTC, datetime
from functools import partial
from typing import NamedTuple

from replanner.advice.briefing import DecisionPoint, HazardNote
from replanner.advice.fitting import LINE, squeezed
from replanner.advice.headline import change_weight
from replanner.advice.names import clean, shorten
from replanner.advice.telling import Telling
from replanner.advice.wording import level_word
from replanner.hazards.model import CAUTION, NO_GO
from replanner.trip.model import LegId

CREDIT_LINE = 72  # the credit of the data is owed whole, so its line may run on
_WORTH_SAYING = 1.0  # minutes


def in_by(telling: Telling) -> str:
    """Return arrival, sunset and spare minutes."""
    briefing, say, clock = telling.briefing, telling.words.say, telling.figures.clock
    if briefing.arrival is None:
        return (
            say("Not in by the day's limit, {light}", light=light(telling)) if briefing.legs else ""
        )
    told = [say("In by {time}", time=clock(briefing.arrival, up=True)), light(telling)]
    if briefing.spare_minutes is not None and math.isfinite(briefing.spare_minutes):
        told.append(say("spare {minutes}", minutes=telling.figures.minutes(briefing.spare_minutes)))
    return ", ".join(told)


def light(telling: Telling) -> str:
    """Return the sunset, or what there is instead of one."""
    day, say, clock = telling.briefing.light, telling.words.say, telling.figures.clock
    if day.sunset is not None:
        return say("sunset {time}", time=clock(day.sunset))
    if day.civil_dusk is not None:
        return say("the sun stays down, dark from {time}", time=clock(day.civil_dusk))
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


class Barred(NamedTuple):
    """A leg that is no-go or closed, ridden all the same or not."""

    leg: LegId
    note: HazardNote | None
    closed: bool


def barred(telling: Telling) -> tuple[Barred, ...]:
    """Return the legs that are no-go or closed: first those in the plan, then those left out."""
    ridden = (
        Barred(leg.id, leg.hazard, closed=False)
        for leg in telling.briefing.legs
        if leg.severity >= NO_GO
    )
    left_out = (
        Barred(leg.id, None if leg.cause == "closed" else leg.reason, closed=leg.cause == "closed")
        for leg in telling.briefing.left_out
        if leg.price_minutes is None and leg.cause in ("hazard", "closed")
    )
    return (*ridden, *left_out)


def no_go(telling: Telling) -> str:
    """Return what is no-go or closed, the first with its figure."""
    found = barred(telling)
    if not found:
        return ""
    first, more = found[0], len(found) - 1

    def line(width: int, *, place: bool, limit: bool = True) -> str:
        legs = telling.leg(first.leg, width)
        if first.note is not None:
            legs = telling.leg_reason(first.leg, first.note, width, place=place, limit=limit)
        if more:
            legs = telling.words.count(
                "{first}; {n} more", "{first}; {n} more", more, first=legs, n=str(more)
            )
        if first.closed:
            return telling.words.say("Closed: {legs}", legs=legs)
        if _is_own_worst(telling, first.leg):
            return telling.words.say("Your order no-go: {legs}", legs=legs)
        return telling.words.say("No-go: {legs}", legs=legs)

    return squeezed(
        partial(line, place=True),
        partial(line, place=False),
        partial(line, place=False, limit=False),
    )


def _is_own_worst(telling: Telling, leg: LegId) -> bool:
    """Return whether the own order fails by that very leg: then one line tells both."""
    own = telling.briefing.own_order
    return own.worst_leg == leg and own.severity >= NO_GO


def not_together(telling: Telling) -> str:
    """Return which demands cannot hold together, where they leave no plan."""
    demands = blamed(telling)
    if not demands:
        return ""
    return shorten(telling.words.say("Not all can be: {demands}", demands="; ".join(demands)), LINE)


_QUOTED = re.compile(r"'([^']+)'")
_SLOT = re.compile(r"slot \d+ \((\d{4}-\d\d-\d\d \d\d:\d\d) UTC\)")


def blamed(telling: Telling) -> tuple[str, ...]:
    """Return the demands that cannot hold together, with names for ids and local times."""

    def local(found: re.Match[str]) -> str:
        return telling.figures.clock(datetime.fromisoformat(found[1]).replace(tzinfo=UTC))

    return tuple(
        _SLOT.sub(local, _QUOTED.sub(lambda found: telling.leg(found[1], 24), clean(demand)))
        for demand in map(telling.words.as_given, telling.briefing.blame)
    )


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


def why_line(telling: Telling) -> str:
    """Return the weightiest reason: number, threshold, hour, place."""
    briefing = telling.briefing
    told_already = {found.leg for found in barred(telling)[:1]}
    for change in sorted(briefing.changes, key=change_weight, reverse=True):
        if change.reason is not None and change.leg not in told_already:
            because = partial(_because, telling, change.leg, change.reason)
            return squeezed(partial(because, place=True), partial(because, place=False))
    if briefing.changes or not briefing.legs:
        return ""
    return squeezed(partial(_nothing_better, telling))


def _because(
    telling: Telling, leg: LegId | None, note: HazardNote, width: int, *, place: bool
) -> str:
    if leg is None:
        reason = telling.reason(note, width=width if place else 0)
    else:
        reason = telling.leg_reason(leg, note, width, place=place)
    return telling.words.say("Why: {reason}", reason=reason)


def _nothing_better(telling: Telling, width: int) -> str:
    worst = max(telling.briefing.legs, key=lambda leg: leg.severity)
    if worst.hazard is None or worst.severity < CAUTION:
        return telling.words.say("Why: no other order is better")
    return telling.words.say(
        "Why: nothing is better; worst {reason}",
        reason=telling.leg_reason(worst.id, worst.hazard, width, place=False, limit=False),
    )


def way_out(telling: Telling) -> str:
    """Return the first decision point."""
    points = telling.briefing.decision_points
    return squeezed(partial(way_out_at, telling, points[0])) if points else ""


def way_out_at(telling: Telling, point: DecisionPoint, width: int) -> str:
    """Return a decision point: until when, where, what to look for, what instead."""
    place, instead = telling.place(point.place_name, width), telling.leg(point.instead, width)
    time = telling.figures.clock(point.latest)
    if point.rule is None:
        return telling.words.say(
            "{place} by {time}: or take {instead}", place=place, time=time, instead=instead
        )
    return telling.words.say(
        "{place} by {time}: {seen}? Take {instead}",
        place=place,
        time=time,
        seen=telling.seen(point.rule),
        instead=instead,
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
        breaks = clean(telling.words.as_given(own.breaks))
        if not breaks or brief:
            return say("Your order cannot be ridden")
        return squeezed(
            lambda width: say("Your order cannot be: {breaks}", breaks=shorten(breaks, width))
        )
    price = own_price(telling)
    if price is None or price < _WORTH_SAYING:
        return ""
    return say("Your order is worth {minutes} less", minutes=telling.figures.cost(price))


def _own_is_told(telling: Telling) -> bool:
    """Return whether nothing is left to say: it is the plan, or the no-go line says it."""
    briefing = telling.briefing
    if not briefing.changes and briefing.own_order.value_minutes is not None:
        return True
    first = barred(telling)[:1]
    return any(not found.closed and _is_own_worst(telling, found.leg) for found in first)


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
