"""The message to be read aloud: whole words, no signs, about 30 seconds at most."""

import re

from replanner.advice import barred_lines as stops
from replanner.advice import message_lines as lines_of
from replanner.advice import trust_lines as trust
from replanner.advice.briefing import Briefing, HazardNote
from replanner.advice.fitting import Lines, Part, fit, part, shortest
from replanner.advice.headline import change_weight
from replanner.advice.leaving_lines import too_early
from replanner.advice.over_lines import aloud_without_plan
from replanner.advice.road_lines import no_go_road, road_line
from replanner.advice.shut_lines import shut_aloud
from replanner.advice.spoken_ride import decision_and_legs
from replanner.advice.telling import SpokenTelling, aloud
from replanner.advice.wording import chance_word, level_word, noun
from replanner.advice.words import Words
from replanner.hazards.model import CAUTION

MOST_BEATS = 75.0  # 30 seconds at 150 words a minute
_WORD = re.compile(r"[^\W_]+(?:'[^\W_]+)?")
_WIDE, _NARROW = 40, 14  # characters of a name


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
    """Return the parts in the order heard; the number is the pain of doing without."""
    briefing, say = telling.briefing, telling.words.say
    return (
        part((say("Invented example.") if briefing.invented else "", 0)),
        part((_old_plan(telling), 0), (_old_plan(telling, brief=True), 71)),
        decision_and_legs(telling),
        part((_warnings(telling), 0)),
        _in_by(telling),
        part((_too_early(telling), 0), ("", 57)),
        part((_clock_change(telling), 0), ("", 67)),
        part((_no_go(telling, _WIDE), 0), (_no_go(telling, _NARROW, figure=False), 50)),
        _road(telling),
        part((_left_out(telling), 0), ("", 14)),
        part((shut_aloud(telling), 0), ("", 13)),
        _no_plan(telling),
        part((aloud_without_plan(telling), 0), ("", 59)),
        part((_before_check_in(telling), 0), ("", 58)),
        _why(telling),
        _way_out(telling),
        part((_own_order(telling), 0), ("", 18)),
        part((_sure(telling), 0), (_sure(telling, brief=True), 24)),
        part((_can_wait(telling), 0), (_can_wait(telling, brief=True), 12), ("", 23)),
        part((_not_known(telling, 3), 0), (_not_known(telling, 1), 64)),
        part((_decide(telling), 0), (_decide(telling, brief=True), 15)),
        _data(telling),
    )


def _old_plan(telling: SpokenTelling, *, brief: bool = False) -> str:
    if not telling.briefing.plan_stale:
        return ""
    if brief:
        return telling.words.say("Old plan, not checked.")
    made = telling.figures.clock(telling.briefing.made_at)
    return telling.words.say("Old plan of {made}, not checked.", made=made)


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


def _in_by(telling: SpokenTelling) -> Part:
    """Return arrival, sunset and spare minutes; the sunset is the first to go."""
    whole, say = lines_of.in_by(telling), telling.words.say
    if not whole or telling.briefing.arrival is None:
        return part((whole and f"{whole}.", 0))
    time = telling.figures.clock(telling.briefing.arrival, up=True)
    bare, spare = say("In by {time}.", time=time), lines_of.spare(telling)
    short = say("In by {time}, {spare}.", time=time, spare=spare) if spare else bare
    return part((f"{whole}.", 0), (short, 22), (bare, 60))


def _too_early(telling: SpokenTelling) -> str:
    told = too_early(telling)
    return f"{told.replace(':', ',')}." if told else ""


def _clock_change(telling: SpokenTelling) -> str:
    """Return that the clocks change: whoever only listens would be an hour off."""
    minutes = round(telling.clock_change().total_seconds() / 60)
    if not minutes:
        return ""
    by = telling.figures.minutes(abs(minutes))
    if minutes < 0:
        return telling.words.say("Clocks go back {minutes}.", minutes=by)
    return telling.words.say("Clocks go forward {minutes}.", minutes=by)


def _no_go(telling: SpokenTelling, width: int, *, figure: bool = True) -> str:
    found, say = stops.barred(telling), telling.words.say
    if not found:
        return ""
    first, more = found[0], len(found) - 1
    name = telling.leg(first.leg, width)
    if first.closed:
        told = say("{leg} is closed", leg=name)
    elif first.note is None:
        told = say("{leg} is no-go", leg=name)
    else:
        hazard = telling.hazard(first.note, figure=figure)
        told = say("{leg} is no-go, {hazard}", leg=name, hazard=hazard)
    if more:
        number = telling.figures.number(more)
        told = telling.words.count(
            "{told}, {n} more", "{told}, {n} more", more, told=told, n=number
        )
    return f"{told}."


def _road(telling: SpokenTelling) -> Part:
    """Return the worst met on plain road; what is no-go stays."""
    line = road_line(telling).replace(":", ",")
    told = f"{line}." if line else ""
    return part((told, 0)) if no_go_road(telling) else part((told, 0), ("", 46))


def _left_out(telling: SpokenTelling) -> str:
    told = lines_of.left_out(telling)
    return f"{told.replace(':', '').replace(';', ',')}." if told else ""


def _no_plan(telling: SpokenTelling) -> Part:
    """Return the demands that leave no plan, the first of them at least."""
    demands, say = stops.clash(telling), telling.words.say
    if not demands:
        return part(("", 0))
    impossible = stops.impossible_leg(telling)
    if impossible is not None:
        told = stops.cannot_be_ridden(telling, impossible).replace(":", ",")
        return part((f"{told}.", 0), ("", 68))
    first = say("No plan keeps {demand}.", demand=demands[0])
    every = say("No plan keeps {demands}.", demands=telling.words.listed(demands))
    return part((every, 0), (first, 20), ("", 68))


def _before_check_in(telling: SpokenTelling) -> str:
    leg = telling.briefing.tonight
    if leg is None:
        return ""
    return telling.words.say("Before check-in, {leg}.", leg=telling.leg(leg, _WIDE))


def _why(telling: SpokenTelling) -> Part:
    """Return the weightiest reason: where, the hour, the figure; its limit goes first."""
    told_already = {found.leg for found in stops.barred(telling)[:1]}
    for change in sorted(telling.briefing.changes, key=change_weight, reverse=True):
        note = change.reason
        if note is None or change.leg in told_already:
            continue
        leg = lines_of.whose_reason(telling, change)
        where = telling.leg(leg, _WIDE) if leg else telling.place(note.section, _WIDE)

        def told(
            where: str, *, limit: bool = False, figure: bool = True, note: HazardNote = note
        ) -> str:
            reason = telling.reason(note, width=0, limit=limit, figure=figure)
            if not where:
                return telling.words.say("Why, {reason}.", reason=reason)
            return telling.words.say("Why, {where} {reason}.", where=where, reason=reason)

        return part(
            (told(where, limit=True), 0),
            (told(where), 26),
            (told(where, figure=False), 44),
            (told("", figure=False), 56),
            ("", 70),
        )
    return part(("", 0))


def _way_out(telling: SpokenTelling) -> Part:
    """Return the first decision point; at its shortest only where to turn off."""
    points = telling.briefing.decision_points
    if not points:
        return part(("", 0))
    point = points[0]
    seen, time = telling.look_for(point), telling.figures.clock(point.latest)

    def told(width: int, with_sign: str, without: str) -> str:
        return telling.words.say(
            with_sign if seen else without,
            place=telling.place(point.place_name, width),
            instead=telling.leg(point.instead, width),
            seen=seen,
            time=time,
        )

    whole = (
        "At {place}, {seen} or after {time}, take {instead}.",
        "At {place}, after {time}, take {instead}.",
    )
    short = (
        "Turn off at {place}, {seen} or after {time}.",
        "Turn off at {place} after {time}.",
    )
    return part(
        (told(_WIDE, *whole), 0),
        (told(_WIDE, *short), 34),
        (told(_NARROW, *short), 54),
        ("", 66),
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


def _sure(telling: SpokenTelling, *, brief: bool = False) -> str:
    odds, say = telling.briefing.odds, telling.words.say
    told = trust.odds(telling)
    if not told or odds is None:
        return f"{told}." if told else ""
    word = chance_word(trust.percent_of(odds.plan_holds), telling.words)
    if brief:
        return say("{word} to hold.", word=word)
    return say("{word} to hold, {share}.", word=word, share=trust.in_ten(telling, odds.plan_holds))


def _can_wait(telling: SpokenTelling, *, brief: bool = False) -> str:
    waiting = telling.briefing.waiting
    if waiting is None or telling.briefing.plan_stale:
        return ""
    if brief:
        time = telling.figures.clock(waiting.decide_by)
        return telling.words.say("It can wait till {time}.", time=time)
    return telling.words.say(
        "It can wait till {time}, plan B wins in {wins} of {of} runs.",
        time=telling.figures.clock(waiting.decide_by),
        wins=trust.wins_of(telling, waiting),
        of=telling.figures.number(waiting.members),
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


def _data(telling: SpokenTelling) -> Part:
    """Return the age of the data; that it is old stays."""
    age, say = trust.age_of_data(telling), telling.words.say
    if telling.briefing.origin.stale:
        return part((say("Old data, {age}.", age=age), 0), (say("Old data."), 40))
    return part((say("Data {age}.", age=age), 0), ("", 8))
