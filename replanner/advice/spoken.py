"""The message to be read aloud: whole words, no signs, at most 75 words, about 30 seconds."""

import re

from replanner.advice import message_lines as lines_of
from replanner.advice import trust_lines as trust
from replanner.advice.briefing import Briefing, Decision, PlannedLeg
from replanner.advice.fitting import Lines, Part, fit, part, shortest
from replanner.advice.headline import change_weight, decision_word, essence
from replanner.advice.telling import SpokenTelling, aloud
from replanner.advice.wording import chance_word, level_word, noun
from replanner.advice.words import Words
from replanner.hazards.model import AVOID, CAUTION

MOST_BEATS = 75.0  # 30 seconds at 150 words a minute
_WORD = re.compile(r"[^\W_]+(?:'[^\W_]+)?")
_WIDE, _NARROW = 28, 14  # characters of a name
_FEW_LEGS = 4


def spoken(briefing: Briefing, words: Words | None = None) -> str:
    """Return the message in full words, for a speech synthesiser.

    Parameters
    ----------
    briefing : Briefing
    words : Words or None
        The rider's language; None: by `briefing.language`.
    """
    parts = _parts(aloud(briefing, words))
    return " ".join(fit(parts, _short_enough) or shortest(parts))


def words_in(text: str) -> int:
    """Return how many words are spoken; the halves of a hyphenated one count each."""
    return len(_WORD.findall(text))


def beats_in(text: str) -> float:
    """Return the length in words, pauses counted: a sentence's end as one, a comma as half.

    So measured with a speech synthesiser at 150 words a minute, to within a second in thirty.
    """
    return words_in(text) + text.count(".") + 0.5 * text.count(",")


def _short_enough(sentences: Lines) -> bool:
    return beats_in(" ".join(sentences)) <= MOST_BEATS


def _parts(telling: SpokenTelling) -> tuple[Part, ...]:
    briefing, say = telling.briefing, telling.words.say
    return (
        part((say("Invented example.") if briefing.invented else "", 0)),
        part((_old_plan(telling), 0)),
        _decision(telling),
        part((_warnings(telling), 0)),
        _legs(telling),
        part((_in_by(telling), 0), (_in_by(telling, brief=True), 60)),
        part((_no_go(telling, _WIDE), 0), (_no_go(telling, _NARROW), 50)),
        part((_before_check_in(telling), 0), ("", 58)),
        part((_why(telling), 0), ("", 80)),
        part((_way_out(telling), 0), ("", 57)),
        part((_own_order(telling), 0), ("", 30)),
        part((_sure(telling), 0), ("", 56)),
        part((_not_known(telling, 3), 0), (_not_known(telling, 1), 65)),
        part((_decide(telling), 0), (_decide(telling, brief=True), 15)),
        part((_data(telling), 0), ("", 35))
        if not briefing.origin.stale
        else part((_data(telling), 0)),
    )


def _old_plan(telling: SpokenTelling) -> str:
    if not telling.briefing.plan_stale:
        return ""
    made = telling.figures.clock(telling.briefing.made_at)
    return telling.words.say("Old plan of {made}, not checked.", made=made)


def _decision(telling: SpokenTelling) -> Part:
    """Return the decision; its essence goes early where the next sentences say it anyway."""
    date = telling.figures.date(telling.briefing.date)
    decision = decision_word(telling.briefing.decision, telling.words, loud=False)
    bare = telling.words.say("{date}. {decision}.", date=date, decision=decision)

    def whole(width: int) -> str:
        told = essence(telling, width)
        return telling.words.say(
            "{date}. {decision}. {essence}.", date=date, decision=decision, essence=told
        )

    if _said_anyway(telling):
        return part((bare, 0))
    soon = telling.briefing.decision in _SAID_SOON
    return part((whole(_WIDE), 0), (whole(_NARROW), 27), (bare, 28 if soon else 75))


# The legs or the hour of leaving that follow tell it too.
_SAID_SOON = (Decision.SWAP, Decision.ADD, Decision.LEAVE_LATER, Decision.LEAVE_EARLIER)


def _said_anyway(telling: SpokenTelling) -> bool:
    if telling.briefing.decision is Decision.NO_WAY:
        return bool(lines_of.barred(telling))
    as_planned = telling.briefing.decision in (Decision.AS_PLANNED, Decision.AS_ASKED)
    return as_planned and telling.briefing.departure is not None


def _warnings(telling: SpokenTelling) -> str:
    count = len(telling.briefing.warnings or ())
    if not count:
        return ""
    return telling.words.count(
        "There is {n} official warning, read it.",
        "There are {n} official warnings, read them.",
        count,
        n=telling.figures.number(count),
    )


def _legs(telling: SpokenTelling) -> Part:
    briefing, say = telling.briefing, telling.words.say
    if briefing.departure is None:
        return part(("", 0))
    leave = say("Leave at {time}.", time=telling.figures.clock(briefing.departure))
    ranked = sorted(briefing.legs, key=lambda leg: -leg.severity)

    def told(most: int, width: int, *, hazards: bool) -> Lines:
        kept = ranked[:most]
        sentences = [
            _leg(telling, leg, width, hazard=hazards) for leg in briefing.legs if leg in kept
        ]
        more = len(ranked) - len(kept)
        if more and kept:
            number = telling.figures.number(more)
            sentences.append(
                telling.words.count("And {n} more leg.", "And {n} more legs.", more, n=number)
            )
        return (leave, *sentences)

    return part(
        (told(_FEW_LEGS, _WIDE, hazards=True), 0),
        (told(_FEW_LEGS, _WIDE, hazards=False), 25),
        (told(_FEW_LEGS, _NARROW, hazards=False), 40),
        (told(2, _NARROW, hazards=False), 59),
        (told(1, _NARROW, hazards=False), 70),
        (told(0, _NARROW, hazards=False), 90),
    )


def _leg(telling: SpokenTelling, leg: PlannedLeg, width: int, *, hazard: bool) -> str:
    say, note = telling.words.say, leg.hazard
    name, time = telling.leg(leg.id, width), telling.figures.clock(leg.start)
    thing = ""
    if note is not None and (note.unknown or leg.severity >= CAUTION):
        thing = telling.hazard(note, limit=False) if hazard else ""
    if leg.severity >= AVOID and not thing:
        thing = level_word(leg.severity, telling.words)
    if thing:
        return say("{leg} at {time}, {thing}.", leg=name, time=time, thing=thing)
    return say("{leg} at {time}.", leg=name, time=time)


def _in_by(telling: SpokenTelling, *, brief: bool = False) -> str:
    told = lines_of.in_by(telling)
    if told and brief and telling.briefing.arrival is not None:
        time = telling.figures.clock(telling.briefing.arrival, up=True)
        return telling.words.say("In by {time}.", time=time)
    return told and f"{told}."


def _no_go(telling: SpokenTelling, width: int) -> str:
    found, say = lines_of.barred(telling), telling.words.say
    if not found:
        return ""
    first, more = found[0], len(found) - 1
    name = telling.leg(first.leg, width)
    if first.closed:
        told = say("{leg} is closed", leg=name)
    elif first.note is None:
        told = say("{leg} is no-go", leg=name)
    else:
        told = say("{leg} is no-go, {hazard}", leg=name, hazard=telling.hazard(first.note))
    if more:
        number = telling.figures.number(more)
        told = telling.words.count(
            "{told}, {n} more", "{told}, {n} more", more, told=told, n=number
        )
    return f"{told}."


def _before_check_in(telling: SpokenTelling) -> str:
    leg = telling.briefing.tonight
    if leg is None:
        return ""
    return telling.words.say("Before check-in, {leg}.", leg=telling.leg(leg, _WIDE))


def _why(telling: SpokenTelling) -> str:
    told_already = {found.leg for found in lines_of.barred(telling)[:1]}
    for change in sorted(telling.briefing.changes, key=change_weight, reverse=True):
        if change.reason is not None and change.leg not in told_already:
            reason = telling.reason(change.reason, width=0)
            return telling.words.say("Why, {reason}.", reason=reason)
    return ""


def _way_out(telling: SpokenTelling) -> str:
    points, say = telling.briefing.decision_points, telling.words.say
    if not points:
        return ""
    point = points[0]
    place, instead = telling.place(point.place_name, _WIDE), telling.leg(point.instead, _WIDE)
    time = telling.figures.clock(point.latest)
    if point.rule is None:
        return say("{place} by {time}, or take {instead}.", place=place, time=time, instead=instead)
    return say(
        "{place} by {time}, with {seen} take {instead}.",
        place=place,
        time=time,
        seen=telling.seen(point.rule),
        instead=instead,
    )


def _own_order(telling: SpokenTelling) -> str:
    own, say = telling.briefing.own_order, telling.words.say
    if not telling.briefing.changes:
        return ""
    if own.value_minutes is None:
        return say("Your own order cannot be ridden.")
    if own.severity < CAUTION:
        return ""
    return say("Your own order means {level}.", level=level_word(own.severity, telling.words))


def _sure(telling: SpokenTelling) -> str:
    odds = telling.briefing.odds
    if not trust.odds(telling) or odds is None:
        return ""
    percent = trust.percent_of(odds.plan_holds)
    return telling.words.say(
        "{word} to hold, {percent}.",
        word=chance_word(percent, telling.words),
        percent=telling.figures.percent(percent),
    )


def _not_known(telling: SpokenTelling, most: int) -> str:
    words = telling.words
    names = tuple(dict.fromkeys(noun(name, words) for name in telling.briefing.unknown))
    if not names:
        return ""
    kept, more = names[:most], len(names) - most
    if more > 0:
        number = telling.figures.number(more)
        kept = (*kept, words.count("{n} more", "{n} more", more, n=number))
    return words.say("No data for {things}, take care.", things=words.listed(kept))


def _decide(telling: SpokenTelling, *, brief: bool = False) -> str:
    if brief:
        return telling.words.say("Signs and police decide.")
    if telling.briefing.warnings is None:
        return telling.words.say("No official warnings checked. Signs and police decide.")
    return telling.words.say("Advice only, signs and police decide.")


def _data(telling: SpokenTelling) -> str:
    origin = telling.briefing.origin
    age = telling.figures.age(origin.issued or origin.fetched, telling.briefing.made_at)
    if origin.stale:
        return telling.words.say("Old data, {age}.", age=age)
    return telling.words.say("Data {age} old.", age=age)
