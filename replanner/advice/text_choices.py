"""What else could be done: plan B, the decision points, and what a what-if changes."""

import math
from functools import partial

from replanner.advice import message_lines as lines_of
from replanner.advice.briefing import Briefing, PlannedLeg
from replanner.advice.fitting import squeezed
from replanner.advice.headline import headline
from replanner.advice.hurdles import limit_words
from replanner.advice.leaving_lines import too_early
from replanner.advice.telling import Telling, written
from replanner.advice.text_reasons import better_when
from replanner.advice.wording import level_word
from replanner.advice.words import Words
from replanner.hazards.model import CAUTION
from replanner.trip.model import LegId

MOST_LINES = 12
_MOST_LEGS = 7
_MINUTE = 60.0
_WORTH_SAYING = 0.5  # minutes


def plan_b_text(briefing: Briefing, words: Words | None = None) -> str:
    """Return plan B: leaving, being in, its legs, what it is worth less, when it is better."""
    telling = written(briefing, words)
    say, second = telling.words.say, briefing.plan_b
    if second is None:
        return say("There is no plan B worth telling.")
    clock = telling.figures.clock
    lines = [
        say(
            "Plan B: leave {departure}, in by {arrival}",
            departure=clock(second.departure),
            arrival=clock(second.arrival, up=True),
        )
    ]
    lines += [squeezed(partial(_leg, telling, leg)) for leg in second.legs[:_MOST_LEGS]]
    more = len(second.legs) - _MOST_LEGS
    if more > 0:
        lines.append(
            telling.words.count("and {n} more leg", "and {n} more legs", more, n=str(more))
        )
    value = briefing.value_minutes
    if value is not None and math.isfinite(value - second.value_minutes):
        lines.append(_against_the_plan(telling, second.value_minutes - value))
    lines.append(better_when(telling, "Better if {when}"))
    return "\n".join(line for line in lines if line)


def _against_the_plan(telling: Telling, more: float) -> str:
    say, minutes = telling.words.say, telling.figures.cost(more)
    if abs(more) < _WORTH_SAYING:
        return say("Worth as much as the plan")
    if more > 0:
        return say("Worth {minutes} more than the plan", minutes=minutes)
    return say("Worth {minutes} less than the plan", minutes=minutes)


def _leg(telling: Telling, leg: PlannedLeg, width: int) -> str:
    say, time = telling.words.say, telling.figures.clock(leg.start)
    name, note = telling.leg(leg.id, width), leg.hazard
    if note is None or (leg.severity < CAUTION and not note.unknown):
        return say("{time} {leg}", time=time, leg=name)
    thing = telling.hazard(note, limit=False)
    if leg.severity >= CAUTION and not note.unknown:
        level = level_word(leg.severity, telling.words)
        thing = say("{level}, {hazard}", level=level, hazard=thing)
    return say("{time} {leg}: {thing}", time=time, leg=name, thing=thing)


def decision_text(briefing: Briefing, words: Words | None = None) -> str:
    """Return every decision point, until when, what to look for, what then; and turn-back times."""
    telling = written(briefing, words)
    say, clock = telling.words.say, telling.figures.clock
    lines: list[str] = []
    for point in briefing.decision_points:
        lines.append(lines_of.way_out_at(telling, point))
        if point.arrival_instead is not None:
            lines.append(say("  then in by {time}", time=clock(point.arrival_instead, up=True)))
    lines += [
        squeezed(partial(_turn_back, telling, leg.id, clock(leg.turn_back)))
        for leg in briefing.legs
        if leg.turn_back is not None
    ]
    if briefing.spare_minutes is not None and math.isfinite(briefing.spare_minutes):
        lines.append(_spare(telling, briefing.spare_minutes))
    return "\n".join(lines[:MOST_LINES]) if lines else say("Nothing to decide on the way.")


def _spare(telling: Telling, minutes: float) -> str:
    spare, limit = telling.figures.minutes(minutes), telling.briefing.spare_limit
    if limit is None:
        return telling.words.say("Spare {minutes}", minutes=spare)
    return squeezed(
        lambda width: telling.words.say(
            "Spare {minutes}; first to break: {limit}",
            minutes=spare,
            limit=limit_words(telling, limit, width),
        )
    )


def _turn_back(telling: Telling, leg: LegId, time: str, width: int) -> str:
    return telling.words.say("{leg}: turn back by {time}", leg=telling.leg(leg, width), time=time)


def differences(old: Briefing, new: Briefing, words: Words | None = None) -> str:
    """Return only what changes from one plan to another, the most important first.

    Times are told in the new plan's zone. What is the same is not told.
    """
    telling, before = written(new, words), written(old, words)
    lines = [
        *_decision(before, telling),
        *_times(before, telling),
        *_legs(before, telling),
        *_levels(before, telling),
        *_worth(old, telling),
    ]
    if not lines:
        return telling.words.say("Nothing changes.")
    return "\n".join(lines[:MOST_LINES])


def _decision(before: Telling, telling: Telling) -> list[str]:
    same = (
        before.briefing.decision is telling.briefing.decision
        and before.briefing.date == telling.briefing.date
    )
    return [] if same else [headline(telling)]


def _times(before: Telling, telling: Telling) -> list[str]:
    old, new, say = before.briefing, telling.briefing, telling.words.say
    clock, lines = telling.figures.clock, []
    if old.departure is not None and new.departure is not None:
        now, then = clock(new.departure), clock(old.departure)
        if now != then:
            lines.append(say("Leave {now}, not {then}", now=now, then=then))
            lines += [line for line in (too_early(telling),) if line]
    if old.arrival is not None and new.arrival is not None:
        now, then = clock(new.arrival, up=True), clock(old.arrival, up=True)
        if now != then:
            lines.append(say("In by {now}, not {then}", now=now, then=then))
    if old.spare_minutes is not None and new.spare_minutes is not None:
        now, then = (telling.figures.minutes(x) for x in (new.spare_minutes, old.spare_minutes))
        if now != then:
            lines.append(say("Spare {now}, not {then}", now=now, then=then))
    return lines


def _legs(before: Telling, telling: Telling) -> list[str]:
    old = {leg.id: leg for leg in before.briefing.legs}
    new = {leg.id: leg for leg in telling.briefing.legs}
    lines = [squeezed(partial(_gone, before, key)) for key in old if key not in new]
    lines += [squeezed(partial(_added, telling, leg)) for key, leg in new.items() if key not in old]
    moved = [
        leg
        for key, leg in new.items()
        if key in old and abs((leg.start - old[key].start).total_seconds()) >= _MINUTE
    ]
    lines += [squeezed(partial(_moved, telling, leg, old[leg.id])) for leg in moved]
    return lines


def _gone(before: Telling, leg: LegId, width: int) -> str:
    return before.words.say("Without {leg}", leg=before.leg(leg, width))


def _added(telling: Telling, leg: PlannedLeg, width: int) -> str:
    return telling.words.say(
        "With {leg} at {time}",
        leg=telling.leg(leg.id, width),
        time=telling.figures.clock(leg.start),
    )


def _moved(telling: Telling, leg: PlannedLeg, old: PlannedLeg, width: int) -> str:
    clock = telling.figures.clock
    return telling.words.say(
        "{leg} {now}, not {then}",
        leg=telling.leg(leg.id, width),
        now=clock(leg.start),
        then=clock(old.start),
    )


def _levels(before: Telling, telling: Telling) -> list[str]:
    lines = []
    for leg in telling.briefing.legs:
        old = before.planned(leg.id)
        now = level_word(leg.severity, telling.words)
        then = None if old is None else level_word(old.severity, telling.words)
        if then is not None and now != then:
            lines.append(squeezed(partial(_level, telling, leg, then)))
    return lines


def _level(telling: Telling, leg: PlannedLeg, then: str, width: int) -> str:
    now = level_word(leg.severity, telling.words)
    return telling.words.say(
        "{leg} is {now}, not {then}", leg=telling.leg(leg.id, width), now=now, then=then
    )


def _worth(old: Briefing, telling: Telling) -> list[str]:
    was, now = old.value_minutes, telling.briefing.value_minutes
    if was is None or now is None or not math.isfinite(now - was) or abs(now - was) < 1:
        return []
    minutes = telling.figures.cost(now - was)
    if now < was:
        return [telling.words.say("Worth {minutes} less", minutes=minutes)]
    return [telling.words.say("Worth {minutes} more", minutes=minutes)]
