"""Sentences of the conversation itself; what a plan says is worded in `advice`."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime

from replanner.advice.briefing import Briefing
from replanner.advice.figures import Figures
from replanner.advice.headline import headline
from replanner.advice.hurdles import limit_words, wanted_words
from replanner.advice.names import clean, shorten
from replanner.advice.telling import Telling, written
from replanner.advice.text import forecast_text
from replanner.advice.words import Words
from replanner.dialogue.demands import Lifted
from replanner.dialogue.intent_types import Option
from replanner.dialogue.road_told import in_force as riding_by
from replanner.dialogue.state import Shown, State
from replanner.dialogue.topics import EXAMPLES, Topic
from replanner.trip.edits import Demands
from replanner.trip.model import LegId
from replanner.trip.underway import ReportKind
from replanner.units import UnitSystem

_LONGEST_ECHO = 40
# Told where nothing is near.
_HINT = (
    Topic.OK,
    Topic.KEEP,
    Topic.WHY,
    Topic.PLAN_B,
    Topic.SKIP,
    Topic.CLOSED,
    Topic.COMMANDS,
)


def line_one(briefing: Briefing) -> str:
    """Return what a plan comes down to."""
    return headline(written(briefing))


def emergency(state: State, sent: datetime) -> str:
    """Return the answer to a call for help: the number, the last known place, nothing else."""
    words = state.words
    lines = [
        words.say("Call the emergency number now (112 works on many networks). I cannot call."),
        _last_leg(state, sent),
        _shared_position(state),
    ]
    return "\n".join(line for line in lines if line)


def _last_leg(state: State, sent: datetime) -> str:
    words, plan = state.words, riding_by(state)
    if plan is None:
        return ""
    begun = [leg for leg in plan.briefing.legs if leg.start <= sent]
    if not begun or plan.briefing.arrival is None or sent > plan.briefing.arrival:
        return ""
    last, telling = begun[-1], written(plan.briefing)
    sentence = (
        "By the plan you are on {leg}, {start} to {end}."
        if sent <= last.end
        else "By the plan you left {leg} at {end}."
    )
    clock = telling.figures.clock
    return words.say(sentence, leg=clean(last.name), start=clock(last.start), end=clock(last.end))


def _shared_position(state: State) -> str:
    """Return the position shared last, to read out; empty: none is known."""
    underway = state.demands.underway
    if underway is None or underway.point is None:
        return ""
    return state.words.say(
        "Position shared at {time}: {latitude} {longitude}.",
        time=clock(underway.at, state),
        latitude=f"{underway.point.latitude:.5f}",
        longitude=f"{underway.point.longitude:.5f}",
    )


def leader_decides(words: Words) -> str:
    """Return what is answered to who does not lead and wants to change the plan."""
    return words.say("Your leader decides that. Yours to say: what if ..., why, plan b, closed ...")


def commands(words: Words) -> str:
    """Return what can be said."""
    told = ", ".join(EXAMPLES[topic] for topic in EXAMPLES if topic is not Topic.HELP)
    return words.say("You can say: {phrases}.", phrases=told)


def helped(words: Words) -> str:
    """Return the answer to the bare word help, which may be a call for it."""
    first = words.say("In an emergency call the emergency number (112). I cannot call.")
    return f"{first}\n{commands(words)}"


def not_understood(near: tuple[Topic, ...], words: Words) -> str:
    """Return one line with the nearest phrases that would be understood, else with what can be."""
    nearest = ", ".join(EXAMPLES[topic] for topic in near if topic in EXAMPLES)
    if nearest:
        return words.say("I did not get that. Nearest: {phrases}.", phrases=nearest)
    hint = ", ".join(EXAMPLES[topic] for topic in _HINT)
    return words.say("I did not get that. You can say: {phrases}.", phrases=hint)


def unknown_name(said: str, near: Iterable[str], words: Words) -> str:
    """Return that no leg has the name, with the nearest two."""
    shown = shorten(clean(said), _LONGEST_ECHO)
    names = tuple(clean(name) for name in near)
    if not names:
        return words.say('No leg is called "{said}".', said=shown)
    return words.say(
        'No leg is called "{said}". Nearest: {names}.', said=shown, names=words.listed(names)
    )


def unknown_day(said: str, state: State) -> str:
    """Return that the tour has no such day, with the days it has."""
    days = ", ".join(f"{day:%a} {day.day}" for day in state.book.dates)
    return state.words.say(
        '"{said}" is no day of this tour. Its days: {days}.',
        said=shorten(clean(said), _LONGEST_ECHO),
        days=days,
    )


def which(options: tuple[Option, ...], words: Words) -> str:
    """Return the question which of several was meant, or whether the one was."""
    if len(options) == 1:
        return words.say('Did you mean "{line}"? yes does it, no leaves it.', line=options[0].label)
    numbered = ", ".join(
        f"{number} {clean(option.label)}" for number, option in enumerate(options, 1)
    )
    return words.say("Which one? {options}. Say the number or the name.", options=numbered)


def named(legs: Iterable[LegId], state: State) -> str:
    """Return the names of legs as a list."""
    return state.words.listed(tuple(clean(state.book.name(leg)) for leg in legs))


def second_yes(echo: str, gone: Lifted, state: State) -> str:
    """Return the question before a caution is removed: what was understood, what it removes."""
    words, parts = state.words, [echo]
    telling = written(state.shown.briefing) if state.shown else None
    for leg in gone.forced:
        cause = telling.reason(leg.reason) if telling and leg.reason else words.say(leg.cause)
        parts.append(words.say("{leg} was left out: {cause}.", leg=clean(leg.name), cause=cause))
    if gone.reopened:
        parts.append(words.say("You reported {legs} closed.", legs=named(gone.reopened, state)))
    parts += [
        words.say(
            "{leg}: {kind} was reported {time}."
            if one.kind is not ReportKind.DRY
            else "{leg}: the forecast has it wet; you call it dry.",
            leg=named((one.leg,), state),
            kind=words.say(one.kind),
            time=clock(one.since, state),
        )
        for one in gone.reports
        if one.kind is not ReportKind.CLOSED or one.leg not in gone.reopened
    ]
    if gone.milder:
        parts.append(words.say("Hazards would count a class milder again."))
    if gone.later:
        parts.append(_later(gone.later, state))
    parts.append(words.say("Say yes to do it all the same, anything else to leave it."))
    return " ".join(parts)


def _later(departure: datetime, state: State) -> str:
    briefing = state.shown.briefing if state.shown else None
    if briefing is None or briefing.departure is None:
        return state.words.say("That is later than planned.")
    minutes = round((departure - briefing.departure).total_seconds() / 60)
    if briefing.spare_minutes is None:
        return state.words.say("That is {minutes} min later than planned.", minutes=str(minutes))
    return state.words.say(
        "That is {minutes} min later than planned, with {spare} min to spare.",
        minutes=str(minutes),
        spare=str(int(briefing.spare_minutes)),
    )


def in_force(demands: Demands, state: State) -> str:
    """Return the wishes in force for the day in one line; empty: none."""
    words, parts, today = state.words, [], state.book.day(state.day)
    if demands.own_order:
        parts.append(words.say("your own order"))
    if demands.closed:
        parts.append(words.say("closed {legs}", legs=named(sorted(demands.closed), state)))
    if demands.left_out:
        parts.append(words.say("without {legs}", legs=named(sorted(demands.left_out), state)))
    if demands.forced:
        parts.append(words.say("with {legs}", legs=named(sorted(demands.forced), state)))
    if demands.departure:
        parts.append(words.say("leaving {time}", time=clock(demands.departure, state)))
    parts += [
        words.say("{leg} on {day}", leg=clean(state.book.name(leg)), day=f"{day:%a} {day.day}")
        for leg, day in sorted(demands.moved)
        if day == state.day or (today is not None and leg in today.legs)
    ]
    if demands.before:
        parts.append(words.say("your sequence of legs"))
    return words.say("In force: {wishes}.", wishes="; ".join(parts)) if parts else ""


def clock(moment: datetime, state: State) -> str:
    """Return an instant as the rider's clock shows it."""
    return Figures(
        state.words, UnitSystem.METRIC, state.book.tz, moment.astimezone(state.book.tz).date()
    ).clock(moment)


def date_of(day: date, state: State) -> str:
    """Return a date as riders write it."""
    return Figures(state.words, UnitSystem.METRIC, state.book.tz, day).date(day)


def moment(at: datetime, state: State, sent: datetime) -> str:
    """Return an instant as the rider's clock shows it, with its date where that is not today."""
    day = at.astimezone(state.book.tz).date()
    if day == sent.astimezone(state.book.tz).date():
        return clock(at, state)
    return f"{date_of(day, state)} {clock(at, state)}"


def spare(plan: Shown, words: Words) -> str:
    """Return the spare minutes and what ends them."""
    minutes, limit = plan.briefing.spare_minutes, _limit(plan, words)
    if minutes is None:
        return words.say("How much the day can lose is not known.")
    if not limit:
        return words.say("{spare} min to spare.", spare=str(int(minutes)))
    return words.say(
        "{spare} min to spare; first comes: {limit}.", spare=str(int(minutes)), limit=limit
    )


def _limit(plan: Shown, words: Words) -> str:
    limit = plan.briefing.spare_limit
    return "" if limit is None else limit_words(written(plan.briefing, words), limit, _LONGEST_ECHO)


def late(minutes: float | None, plan: Shown, words: Words) -> str:
    """Return what being late does to the spare minutes."""
    if minutes is None:
        return f"{words.say('How late? Say: running 40 late.')} {spare(plan, words)}"
    late_by, limit = str(int(minutes)), _limit(plan, words)
    if plan.briefing.spare_minutes is None:
        return words.say("{late} min late: what that breaks is not known.", late=late_by)
    left = plan.briefing.spare_minutes - minutes
    if left >= 0:
        return words.say(
            "{late} min late: {left} min still to spare. I cannot replan on the road yet.",
            late=late_by,
            left=str(int(left)),
        )
    return words.say(
        "{late} min late breaks the plan by {over} min ({limit}). Drop a leg: skip ..., or plan b.",
        late=late_by,
        over=str(int(-left) or 1),
        limit=limit or words.say("its first limit"),
    )


def turn_back(telling: Telling) -> str:
    """Return the turn-back times and decision points of a plan."""
    words, time = telling.words, telling.figures.clock
    lines = [
        words.say("{leg}: turn back by {time}.", leg=clean(leg.name), time=time(leg.turn_back))
        for leg in telling.briefing.legs
        if leg.turn_back
    ]
    lines += [
        words.say(
            "{place} by {time}: {leg} or {instead}.",
            place=clean(point.place_name),
            time=time(point.latest),
            leg=telling.leg(point.leg),
            instead=clean(point.instead_name),
        )
        for point in telling.briefing.decision_points
    ]
    return "\n".join(lines) or words.say("This plan has no turn-back time and no decision point.")


def on_leg(leg: LegId, telling: Telling, state: State) -> str:
    """Return what a plan knows of the weather on a leg."""
    words, name = telling.words, clean(state.book.name(leg))
    planned = telling.planned(leg)
    if planned is not None:
        start = telling.figures.clock(planned.start)
        if planned.hazard is None:
            return words.say("{leg} from {start}: nothing to tell.", leg=name, start=start)
        return words.say(
            "{leg} from {start}, worst: {reason}.",
            leg=name,
            start=start,
            reason=telling.reason(planned.hazard),
        )
    for left in telling.briefing.left_out:
        if left.id == leg and left.reason is not None:
            return words.say(
                "{leg} is left out: {reason}.", leg=name, reason=telling.reason(left.reason)
            )
        if left.id == leg:
            return words.say("{leg} is left out: {cause}.", leg=name, cause=words.say(left.cause))
    return words.say("{leg} is not part of this day.", leg=name)


def why_leg(leg: LegId, telling: Telling, state: State) -> str:
    """Return why a leg is where it is: its hazard, its change, what riding it would cost."""
    words, lines = telling.words, [on_leg(leg, telling, state)]
    lines += [
        words.say(
            "The change ({kind}) is worth {minutes} min.",
            kind=words.say(change.kind),
            minutes=str(round(change.worth_minutes)),
        )
        for change in telling.briefing.changes
        if change.leg == leg and change.worth_minutes is not None
    ]
    for left in telling.briefing.left_out:
        if left.id == leg and left.price_minutes is not None:
            price = str(round(left.price_minutes))
            lines.append(words.say("Riding it all the same costs {minutes} min.", minutes=price))
        elif left.id == leg and left.to_ride_it is not None:
            what = wanted_words(telling, left.to_ride_it, _LONGEST_ECHO)
            lines.append(words.say("To ride it: {what}.", what=what))
    return "\n".join(lines)


def closures(legs: tuple[LegId, ...], state: State) -> str:
    """Return what is known of closures, which is only what the rider reported."""
    words, closed = state.words, state.demands.closed
    reported = tuple(leg for leg in legs or sorted(closed) if leg in closed)
    if reported:
        return words.say(
            "You reported {legs} closed. Check the sign or the authority.",
            legs=named(reported, state),
        )
    if legs:
        return words.say(
            "{legs}: not reported closed here, I know no more. Check the sign or the authority.",
            legs=named(legs, state),
        )
    return words.say("I know only closures reported here, none so far. Check the authority.")


def tonight(briefing: Briefing, state: State) -> str:
    """Return whether a short loop is better ridden tonight."""
    if briefing.tonight is None:
        return state.words.say("No loop is left that this day could take tonight.")
    return state.words.say(
        "{leg} is in the plan for tonight: a later day gains by it.",
        leg=named((briefing.tonight,), state),
    )


def forecast(briefing: Briefing, sent: datetime) -> str:
    """Return where the forecast is from and how old it is at the moment of asking."""
    if briefing.plan_stale or sent < briefing.made_at:
        return forecast_text(briefing)
    return forecast_text(replace(briefing, made_at=sent))


def farewell(state: State) -> str:
    """Return a goodbye that says whether a plan is accepted."""
    if state.accepted is not None:
        return state.words.say("Good night. Your accepted plan is kept.")
    return state.words.say("Good night. No plan is accepted.")
