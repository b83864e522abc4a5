"""Why: each change with its worth and reason, and what is left out at what price."""

import math
from collections.abc import Mapping
from functools import partial

from replanner.advice import barred_lines as stops
from replanner.advice import message_lines as lines_of
from replanner.advice import trust_lines as trust
from replanner.advice.briefing import (
    Briefing,
    Change,
    ChangeKind,
    Decision,
    HazardNote,
    Hurdle,
    LeftOut,
)
from replanner.advice.fitting import squeezed
from replanner.advice.headline import change_weight
from replanner.advice.hurdles import better_words, limit_words, wanted_words
from replanner.advice.over_lines import over_days_lines
from replanner.advice.road_lines import road_line
from replanner.advice.telling import Telling, written
from replanner.advice.wording import level_word
from replanner.advice.words import Words
from replanner.hazards.model import CAUTION, NO_GO
from replanner.trip.model import LegId

MOST_LINES = 12
_MOST_CHANGES = 3  # told one by one, the weightiest first; the rest is counted


def why(briefing: Briefing, words: Words | None = None) -> str:
    """Return the reasons of the plan in at most 12 lines.

    Each change comes with what it is worth and with number, threshold, hour and place; each leg
    left out with the price of riding it all the same; then what would change the plan, whether
    it is proven best, what was not known, and the source. All that an old plan knows is told as
    known when it was made.
    """
    telling = written(briefing, words)
    priced = {leg.id for leg in briefing.left_out}  # told below with their price
    changes = sorted(
        (
            change
            for change in briefing.changes
            if change.kind is not ChangeKind.LEFT_OUT or change.leg not in priced
        ),
        key=change_weight,
        reverse=True,
    )
    body = [_made(telling)] if briefing.plan_stale else []
    instead = {leg.id: leg for leg in briefing.left_out}
    for change in changes[:_MOST_CHANGES]:
        body += _change(telling, change)
        if change.kind is ChangeKind.STAND_IN and change.leg in instead:
            left = instead.pop(change.leg)  # what it would cost is the change's own worth
            body += [line for line in (_takes(telling, left),) if line]
    if not briefing.changes and briefing.legs:
        body.append(lines_of.why_line(telling))
    told = {change.leg for change in changes[:_MOST_CHANGES] if change.reason is not None}
    body += stops.not_together(telling)
    body += over_days_lines(telling)
    body += [line for line in (road_line(telling),) if line]
    for leg in instead.values():
        if briefing.blame and leg.cause == "no time":
            continue  # the demands above tell it
        body += _left_out(telling, leg, with_reason=leg.id not in told)
        takes = _takes(telling, leg)
        if takes and takes not in body:
            body.append(takes)
    closing = (
        better_when(telling),
        trust.gain_of_waiting(telling),
        proof(telling),
        trust.not_known(telling),
        trust.no_new_plan(telling),
        trust.source_of_data(telling),
    )
    ending = [line for line in closing if line]
    room = MOST_LINES - len(ending)
    if len(body) > room:
        more = telling.words.say("More was changed or left out than fits here.")
        body = [*body[: room - 1], more]
    return "\n".join((*body, *ending))


def _made(telling: Telling) -> str:
    made = telling.figures.clock(telling.briefing.made_at)
    return telling.words.say("As known on {made}, not checked since:", made=made)


def _change(telling: Telling, change: Change) -> list[str]:
    lines = [squeezed(partial(_change_line, telling, change))]
    if change.reason is not None:
        lines.append(_indented_reason(telling, change.reason))
    return lines


def _indented_reason(telling: Telling, note: HazardNote) -> str:
    def line(width: int, *, place: bool = True, limit: bool = True, figure: bool = True) -> str:
        reason = telling.reason(note, width=width if place else 0, limit=limit, figure=figure)
        return telling.words.say("  {reason}", reason=reason)

    return squeezed(
        line,
        partial(line, place=False),
        partial(line, limit=False),
        partial(line, figure=False),
        whole=2,
    )


def _change_line(telling: Telling, change: Change, width: int) -> str:
    say = telling.words.say
    what = _what_changed(telling, change, width)
    if change.worth_minutes is None or not math.isfinite(change.worth_minutes):
        return _cannot_be_undone(telling, change, what)
    worth = telling.figures.cost(change.worth_minutes)
    return say("{change}: worth {minutes}", change=what, minutes=worth)


def _cannot_be_undone(telling: Telling, change: Change, what: str) -> str:
    say, time = telling.words.say, change.own_start
    if change.kind is ChangeKind.ADDED:
        return say("{change}: no plan without it", change=what)
    if time is not None and change.kind in (ChangeKind.MOVED, ChangeKind.DEPARTURE):
        own = telling.figures.clock(time)
        if _is_forbidden(telling, change):
            return say("{change}: {own} is no-go", change=what, own=own)
        return say("{change}: no plan keeps {own}", change=what, own=own)
    if change.kind is ChangeKind.STAND_IN and _is_forbidden(telling, change):
        return say("{change}, which is no-go", change=what)
    return say("{change}: no plan keeps it", change=what)


def _is_forbidden(telling: Telling, change: Change) -> bool:
    """Return whether the leg of a change is no-go, at its own hour or at any."""
    own = telling.briefing.own_order
    at_its_hour = own.severity >= NO_GO and own.worst_leg == change.leg
    barred = (found.leg for found in stops.barred(telling) if not found.closed)
    return change.leg is not None and (at_its_hour or change.leg in barred)


# What is said of each kind of change.
_CHANGED: Mapping[ChangeKind, str] = {
    ChangeKind.MOVED: "{leg} {new}, not {own}",
    ChangeKind.LEFT_OUT: "{leg} left out",
    ChangeKind.STAND_IN: "{other}, not {leg}",
    ChangeKind.OTHER_DAY: "{leg} on {day}",
    ChangeKind.DEPARTURE: "Leave {new}, not {own}",
    ChangeKind.ADDED: "{leg} added",
}
_MOVED_WITHOUT_TIMES = "{leg} moved"
_LEFT_AT_ANOTHER_TIME = "Leave at another time"


def _what_changed(telling: Telling, change: Change, width: int) -> str:
    clock, say = telling.figures.clock, telling.words.say
    timed = change.own_start is not None and change.new_start is not None
    sentence = _CHANGED[change.kind]
    if change.kind is ChangeKind.MOVED and not timed:
        sentence = _MOVED_WITHOUT_TIMES
    if change.kind is ChangeKind.DEPARTURE and not timed:
        sentence = _LEFT_AT_ANOTHER_TIME
    return say(
        sentence,
        leg=telling.leg(change.leg, width) if change.leg else say("A leg"),
        other=telling.leg(change.other_leg, width) if change.other_leg else say("Another leg"),
        new=clock(change.new_start) if change.new_start else "",
        own=clock(change.own_start) if change.own_start else "",
        day=telling.figures.date(change.to_day) if change.to_day else say("another day"),
    )


def _left_out(telling: Telling, leg: LeftOut, *, with_reason: bool) -> list[str]:
    lines = [squeezed(partial(_left_out_line, telling, leg))]
    if with_reason and leg.reason is not None:
        lines.append(_indented_reason(telling, leg.reason))
    return lines


def _takes(telling: Telling, leg: LeftOut) -> str:
    """Return what would have to change first for a leg to be ridden."""
    if leg.price_minutes is not None or leg.to_ride_it is None:
        return ""
    return squeezed(
        lambda width: telling.words.say(
            "  it would take {wanted}", wanted=wanted_words(telling, leg.to_ride_it, width)
        )
    )


def _left_out_line(telling: Telling, leg: LeftOut, width: int) -> str:
    price = leg.price_minutes
    told = "" if price is None or not math.isfinite(price) else telling.figures.cost(price)
    return telling.words.say(
        _left_out_sentence(telling, leg),
        leg=telling.leg(leg.id, width),
        day=telling.figures.date(leg.moved_to) if leg.moved_to else "",
        minutes=told,
    )


def _left_out_sentence(telling: Telling, leg: LeftOut) -> str:
    briefing, price = telling.briefing, leg.price_minutes
    if leg.moved_to is not None:
        over = leg.moved_to < briefing.date
        return "{leg} goes to {day}" if over else "{leg} kept for {day}"
    if price is None or not math.isfinite(price) or leg.cause in _NEED_NO_PRICE:
        return _NOT_RIDDEN.get(leg.cause, "{leg} left out")
    if price < _WORTH_SAYING:
        asked = briefing.decision is Decision.AS_ASKED  # its price is against a better plan
        return _NOT_RIDDEN["asked"] if asked else "{leg} left out: riding it is as good"
    if leg.cause == "no time":
        return "No time for {leg}: to ride it costs {minutes}"
    return "{leg} left out: to ride it costs {minutes}"


_WORTH_SAYING = 0.5  # minutes
_NEED_NO_PRICE = ("closed", "asked", "other day")
# What is said of a leg that is not ridden at any price, by its cause.
_NOT_RIDDEN: Mapping[str, str] = {
    "closed": "{leg} is closed",
    "asked": "{leg} left out, as you asked",
    "other day": "{leg} kept for another day",
    "hazard": "{leg} is no-go",
    "no time": "{leg} does not fit the day",
    "fuel": "{leg} is too far on one tank",
}


def better_when(telling: Telling, sentence: str = "Plan B if {when}") -> str:
    """Return what would make plan B the better one."""
    second = telling.briefing.plan_b
    better = second.better_when if second else None
    if better is None:
        return ""

    def line(width: int, *, leg: bool = True) -> str:
        when = better_words(telling, better, width if leg else 0)
        return telling.words.say(sentence, when=when)

    return squeezed(line, partial(line, leg=False), whole=1)


def proof(telling: Telling) -> str:
    """Return whether the plan is proven best, else how far off it may be."""
    briefing, say = telling.briefing, telling.words.say
    if briefing.value_minutes is None:
        return ""
    if briefing.decision is Decision.AS_ASKED:
        return _against_plan_b(telling, briefing.value_minutes)
    if briefing.proven:
        return say("No other order of the day is worth more: proven.")
    gap = math.nan if briefing.bound_minutes is None else briefing.bound_minutes
    gap -= briefing.value_minutes
    if not math.isfinite(gap):
        return say("Best found in the time; not proven best.")
    minutes = telling.figures.cost(max(gap, 0.0))
    return say("Best found; another may be worth {minutes} more.", minutes=minutes)


def _against_plan_b(telling: Telling, value: float) -> str:
    """Return that the rider's wishes shape the plan, and what plan B would be worth more."""
    second, say = telling.briefing.plan_b, telling.words.say
    more = math.nan if second is None else second.value_minutes - value
    if math.isfinite(more) and more >= _WORTH_SAYING:
        minutes = telling.figures.cost(more)
        return say("This is what you asked for; plan B is worth {minutes} more.", minutes=minutes)
    return say("This is what you asked for.")


def own_order_text(briefing: Briefing, words: Words | None = None) -> str:
    """Return what keeping the own order costs, with its one worst caution, once."""
    telling = written(briefing, words)
    say, own = telling.words.say, briefing.own_order
    lines: list[str] = []
    price = lines_of.own_price(telling)
    if own.value_minutes is None:
        lines.append(say("Your own order cannot be ridden as it stands."))
        if own.breaks is not None and own.severity < NO_GO:  # a no-go leg is told below
            stops_it = partial(_stops_it, telling, own.breaks)
            lines.append(squeezed(partial(stops_it, hour=True), stops_it))
    elif price is not None and price >= 1:
        cost = telling.figures.cost(price)
        lines.append(say("Your own order is worth {minutes} less.", minutes=cost))
    else:
        lines.append(say("Your own order is as good."))
    if own.worst_leg is not None and own.worst is not None and own.severity >= CAUTION:
        worst = partial(_own_worst, telling, own.worst_leg, own.worst)
        lines.append(
            squeezed(
                partial(worst, place=True),
                worst,
                partial(worst, limit=False),
                partial(worst, figure=False),
                whole=2,
            )
        )
    return "\n".join(line for line in lines if line)


def _stops_it(telling: Telling, hurdle: Hurdle, width: int, *, hour: bool = False) -> str:
    breaks = limit_words(telling, hurdle, width, hour=hour)
    return telling.words.say("What stops it: {breaks}", breaks=breaks)


def _own_worst(
    telling: Telling,
    leg: LegId,
    note: HazardNote,
    width: int,
    *,
    place: bool = False,
    limit: bool = True,
    figure: bool = True,
) -> str:
    return telling.words.say(
        "Worst, {level}: {reason}",
        level=level_word(telling.briefing.own_order.severity, telling.words),
        reason=telling.leg_reason(leg, note, width, place=place, limit=limit, figure=figure),
    )
