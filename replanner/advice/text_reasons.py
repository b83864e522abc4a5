"""Why: each change with its worth and reason, and what is left out at what price."""

import math
from collections.abc import Mapping
from functools import partial

from replanner.advice import message_lines as lines_of
from replanner.advice import trust_lines as trust
from replanner.advice.briefing import Briefing, Change, ChangeKind, HazardNote, LeftOut
from replanner.advice.fitting import LINE, squeezed
from replanner.advice.headline import change_weight
from replanner.advice.names import clean, shorten
from replanner.advice.telling import Telling, written
from replanner.advice.wording import level_word
from replanner.advice.words import Words
from replanner.hazards.model import CAUTION
from replanner.trip.model import LegId

MOST_LINES = 12
_MOST_CHANGES = 3  # told one by one, the weightiest first; the rest is counted


def why(briefing: Briefing, words: Words | None = None) -> str:
    """Return the reasons of the plan in at most 12 lines.

    Each change comes with what it is worth and with number, threshold, hour and place; each leg
    left out with the price of riding it all the same; then what would change the plan, whether
    it is proven best, what was not known, and the source.
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
    body = [line for change in changes[:_MOST_CHANGES] for line in _change(telling, change)]
    if not briefing.changes and briefing.legs:
        body.append(lines_of.why_line(telling))
    told = {change.leg for change in changes[:_MOST_CHANGES] if change.reason is not None}
    body += [
        shorten(telling.words.say("Not with the rest: {demand}", demand=demand), LINE)
        for demand in lines_of.blamed(telling)
    ]
    for leg in briefing.left_out:
        body += _left_out(telling, leg, with_reason=leg.id not in told)
    closing = (
        better_when(telling),
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


def _change(telling: Telling, change: Change) -> list[str]:
    lines = [squeezed(partial(_change_line, telling, change))]
    if change.reason is not None:
        indented = partial(_indented_reason, telling, change.reason)
        lines.append(squeezed(indented))
    return lines


def _indented_reason(telling: Telling, note: HazardNote, width: int) -> str:
    return telling.words.say("  {reason}", reason=telling.reason(note, width=width))


def _change_line(telling: Telling, change: Change, width: int) -> str:
    say = telling.words.say
    what = _what_changed(telling, change, width)
    if change.worth_minutes is None or not math.isfinite(change.worth_minutes):
        return say("{change}: no plan without it", change=what)
    worth = telling.figures.cost(change.worth_minutes)
    return say("{change}: worth {minutes}", change=what, minutes=worth)


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
        lines.append(squeezed(partial(_indented_reason, telling, leg.reason)))
    wanted = clean(telling.words.as_given(leg.to_ride_it))
    if leg.price_minutes is None and wanted:
        lines.append(
            squeezed(
                lambda width: telling.words.say(
                    "  it would take {wanted}", wanted=shorten(wanted, width)
                )
            )
        )
    return lines


def _left_out_line(telling: Telling, leg: LeftOut, width: int) -> str:
    say, name = telling.words.say, telling.leg(leg.id, width)
    if leg.cause == "closed":
        return say("{leg} is closed", leg=name)
    if leg.moved_to is not None:
        return say("{leg} goes to {day}", leg=name, day=telling.figures.date(leg.moved_to))
    if leg.price_minutes is None or not math.isfinite(leg.price_minutes):
        return say("{leg} cannot be ridden", leg=name)
    return say(
        "{leg} left out: to ride it costs {minutes}",
        leg=name,
        minutes=telling.figures.cost(leg.price_minutes),
    )


def better_when(telling: Telling) -> str:
    """Return what would make plan B the better one."""
    second = telling.briefing.plan_b
    when = clean(telling.words.as_given(second.better_when)) if second else ""
    if not when:
        return ""
    return squeezed(lambda width: telling.words.say("Plan B if {when}", when=shorten(when, width)))


def proof(telling: Telling) -> str:
    """Return whether the plan is proven best, else how far off it may be."""
    briefing, say = telling.briefing, telling.words.say
    if briefing.value_minutes is None:
        return ""
    if briefing.proven:
        return say("No other order of the day is worth more: proven.")
    gap = math.nan if briefing.bound_minutes is None else briefing.bound_minutes
    gap -= briefing.value_minutes
    if not math.isfinite(gap):
        return say("Best found in the time; not proven best.")
    minutes = telling.figures.cost(max(gap, 0.0))
    return say("Best found; another may be worth {minutes} more.", minutes=minutes)


def own_order_text(briefing: Briefing, words: Words | None = None) -> str:
    """Return what keeping the own order costs, with its one worst caution, once."""
    telling = written(briefing, words)
    say, own = telling.words.say, briefing.own_order
    lines: list[str] = []
    price = lines_of.own_price(telling)
    if own.value_minutes is None:
        lines.append(say("Your own order cannot be ridden as it stands."))
        if own.breaks:
            breaks = telling.words.as_given(own.breaks)
            lines.append(shorten(say("It fails by: {breaks}", breaks=breaks), LINE))
    elif price is not None and price >= 1:
        cost = telling.figures.cost(price)
        lines.append(say("Your own order is worth {minutes} less.", minutes=cost))
    else:
        lines.append(say("Your own order is as good."))
    if own.worst_leg is not None and own.worst is not None and own.severity >= CAUTION:
        worst = partial(_own_worst, telling, own.worst_leg, own.worst)
        lines.append(squeezed(partial(worst, place=True), partial(worst, place=False)))
    return "\n".join(line for line in lines if line)


def _own_worst(telling: Telling, leg: LegId, note: HazardNote, width: int, *, place: bool) -> str:
    return telling.words.say(
        "Worst, {level}: {reason}",
        level=level_word(telling.briefing.own_order.severity, telling.words),
        reason=telling.leg_reason(leg, note, width, place=place),
    )
