"""The log: what was ridden, what was missed and where it goes; and the end of a day."""

import re
from dataclasses import replace
from datetime import date, datetime

from replanner.advice.names import clean
from replanner.dialogue import demands as edit
from replanner.dialogue import replies
from replanner.dialogue.changing import Outcome, say
from replanner.dialogue.events import Effect, LogLeg, Remember, Say, StrikeLog
from replanner.dialogue.events import Outcome as Became
from replanner.dialogue.intent_types import LogDay
from replanner.dialogue.road_told import in_force
from replanner.dialogue.state import Confirm, State, Then
from replanner.dialogue.wishes import home_day, share_a_base
from replanner.trip.model import LegId

_MISSED_NUMBERS = re.compile(r"missed((?:\s+\d+)+)")


def home_safe(state: State, sent: datetime) -> Outcome:
    """Close the day, and ask in one line what was ridden."""
    words = state.words
    if not state.leads:
        return say(state, words.say("Good. Your leader closes the day for the group: home safe."))
    today = sent.astimezone(state.book.tz).date()
    if state.day > today:
        return say(state, words.say("Good that you are in. Log it so: done ..., missed ... (why)"))
    if state.closed_down:
        return asked(state, sent)
    closed = replace(state.turned(words.say("The day is closed.")), closed_down=True)
    effects: list[Effect] = [Remember(day=closed.day, memory=closed.memory)]
    left = _not_logged(state)
    if not left:
        effects.append(Say(text=words.say("Welcome in. The day is closed.")))
        return closed, tuple(effects)
    closed = replace(closed, question=Confirm(then=Then.LOG, legs=left))
    effects.append(
        Say(text=f"{words.say('Welcome in. The day is closed.')}\n{_asked(closed, left)}")
    )
    return closed, tuple(effects)


def asked(state: State, sent: datetime) -> Outcome:
    """Ask what was ridden of the plan; of one that nobody rides yet, nothing."""
    if not state.leads:
        return say(state, state.words.say("Your leader keeps the group's log."))
    left = _not_logged(state) if _is_begun(state, sent) else ()
    if not left:
        return say(state, state.words.say("Nothing is left to log. Or say: done ..., missed ..."))
    question = Confirm(then=Then.LOG, legs=left)
    return say(replace(state, question=question), _asked(state, left))


def _asked(state: State, legs: tuple[LegId, ...]) -> str:
    named = ", ".join(
        f"{number} {clean(state.book.name(leg))}" for number, leg in enumerate(legs, 1)
    )
    return state.words.say(
        "All ridden: {legs}? yes; else: missed 2, or missed ... (why).", legs=named
    )


def _is_begun(state: State, sent: datetime) -> bool:
    plan = in_force(state)
    begun = plan is not None and any(leg.start <= sent for leg in plan.briefing.legs)
    return begun or bool(state.demands.ridden)


def _not_logged(state: State) -> tuple[LegId, ...]:
    """Return the legs of the day nobody has told of: planned, or only reckoned to be ridden."""
    plan, names = in_force(state), dict(state.book.names)
    if plan is None or plan.briefing.date != state.day:
        return ()
    ridden = state.demands.ridden
    begun = state.accepted.briefing.legs if state.accepted else ()
    legs = [leg.id for leg in begun if leg.id in ridden]
    legs += sorted(ridden)
    legs += [leg.id for leg in plan.briefing.legs]
    return tuple(leg for leg in dict.fromkeys(legs) if leg in names and leg not in state.logged)


def noted(after: State, effects: tuple[Effect, ...]) -> Outcome:
    """Remember which legs of the day were written down, so that nobody is asked of them again."""
    logged = after.logged
    for effect in effects:
        match effect:
            case LogLeg(leg=leg, day=day) if day == after.day:
                logged |= {leg}
            case StrikeLog(legs=legs, day=day) if day == after.day:
                logged -= legs
            case _:
                pass
    if logged == after.logged:
        return after, effects
    after = replace(after, logged=logged)
    newest = Remember(day=after.day, memory=after.memory)
    others = (one for one in effects if not (isinstance(one, Remember) and one.day == after.day))
    return after, (newest, *others)


def answered(state: State, question: Confirm, line: str, sent: datetime) -> Outcome | None:
    """Take "missed 2" as an answer; None: the line is none."""
    found = _MISSED_NUMBERS.fullmatch(" ".join(line.casefold().replace(",", " ").split()))
    if found is None:
        return None
    numbers = {int(number) for number in found.group(1).split()}
    if not numbers <= set(range(1, len(question.legs) + 1)):
        return None
    missed = tuple(question.legs[number - 1] for number in sorted(numbers))
    left = tuple(leg for leg in question.legs if leg not in missed)
    after, effects = logged(state, LogDay((), tuple((leg, "") for leg in missed)), _on(state, sent))
    if not left:
        return after, effects
    asking = replace(after, question=Confirm(then=Then.LOG, legs=left))
    return asking, _and_then(effects, _asked(asking, left))


def _and_then(effects: tuple[Effect, ...], line: str) -> tuple[Effect, ...]:
    return tuple(
        replace(effect, text=f"{effect.text}\n{line}") if isinstance(effect, Say) else effect
        for effect in effects
    )


def all_ridden(state: State, question: Confirm, sent: datetime) -> Outcome:
    """Log every leg asked about as ridden."""
    return logged(state, LogDay(question.legs, ()), _on(state, sent))


def of_a_line(state: State, said: LogDay, sent: datetime) -> Outcome:
    """Log what a line tells of the day it was sent on."""
    if not state.leads:
        return say(state, state.words.say("Your leader keeps the group's log."))
    return logged(state, said, _on(state, sent))


def _on(state: State, sent: datetime) -> date:
    """Return the day a log is of: the one spoken about, or today where that is still to come."""
    return min(state.day, sent.astimezone(state.book.tz).date())


def logged(state: State, said: LogDay, day: date) -> Outcome:
    """Write down what became of legs; what was missed moves to a day left that can reach it."""
    words, lines = state.words, []
    if said.ridden:
        lines.append(words.say("Ridden: {legs}.", legs=replies.named(said.ridden, state)))
    demands = state.demands
    for leg, remark in said.missed:
        name = clean(state.book.name(leg))
        why = words.say("Missed: {leg} ({why}).", leg=name, why=clean(remark))
        lines.append(why if remark else words.say("Missed: {leg}.", leg=name))
        to = _day_left(state, leg, day)
        if to is None:
            lines.append(words.say("No day left reaches it; it stays on the missed list."))
        else:
            demands = edit.moving(demands, (leg,), to)
            lines.append(words.say("It moves to {day}.", day=f"{to:%A} {to.day}"))
    echo = " ".join(lines)
    legs = frozenset(said.ridden) | {leg for leg, _ in said.missed}
    turned = state.turned(echo, logged=legs, logged_on=day)
    after = replace(turned, demands=demands)
    entries = [LogLeg(leg=leg, day=day, outcome=Became.RIDDEN) for leg in said.ridden]
    entries += [
        LogLeg(leg=leg, day=day, outcome=Became.MISSED, remark=remark)
        for leg, remark in said.missed
    ]
    kept: list[Effect] = [*entries]
    if after.memory != state.memory:
        kept.append(Remember(day=after.day, memory=after.memory))
    undo = words.say("undo takes it back.")
    return after, (*kept, Say(text=f"{echo} {undo}"))


def _day_left(state: State, leg: LegId, day: date) -> date | None:
    """Return the first day after it that lists a leg, else the first that shares a base with it."""
    coming = [one for one in state.book.days if one.date > day]
    home = home_day(state, leg)
    lists = [one.date for one in coming if leg in one.legs]
    reach = [one.date for one in coming if home is not None and share_a_base(home, one)]
    return next(iter((*lists, *reach)), None)
