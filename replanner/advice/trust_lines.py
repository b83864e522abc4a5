"""Single lines on how far to trust a plan: what is old, not known, estimated, and whose it is.

Each has at most 60 characters, the credit apart; empty: nothing to say.
"""

import math

from replanner.advice.briefing import Waiting
from replanner.advice.fitting import LINE, squeezed
from replanner.advice.lead import too_far_ahead
from replanner.advice.names import clean, shorten
from replanner.advice.telling import Telling
from replanner.advice.wording import chance_word, noun

_JUST_NOW = 60.0  # seconds
CREDIT_LINE = 72  # the credit of the data is owed whole, so its line may run on


def no_new_plan(telling: Telling) -> str:
    """Return why the last plan is sent again."""
    briefing, words = telling.briefing, telling.words
    if not briefing.plan_stale:
        return ""
    cause = clean(words.as_given(briefing.stale_cause))
    if not cause:
        return words.say("No new plan could be made")
    return squeezed(lambda width: words.say("No new plan: {cause}", cause=shorten(cause, width)))


def warnings_line(telling: Telling) -> str:
    """Return the first official warning, and how many more there are."""
    warnings = telling.briefing.warnings or ()
    if not warnings:
        return ""
    first, more = warnings[0], len(warnings) - 1
    if not more:
        return squeezed(
            lambda width: telling.words.say(
                "Official warning: {warning}", warning=shorten(first, width)
            )
        )
    return squeezed(
        lambda width: telling.words.count(
            "Official warning: {warning} (and {n} more)",
            "Official warnings: {warning} (and {n} more)",
            more,
            warning=shorten(first, width),
            n=str(more),
        )
    )


def percent_of(share: float) -> int:
    """Return a chance in whole percent, cut off; never none and never certain."""
    return min(99, max(1, math.floor(share * 100 + 1e-6)))


def in_ten(telling: Telling, share: float) -> str:
    """Return a chance as people say it, cut off to whole tenths; never none and never certain."""
    tenths, number = math.floor(percent_of(share) / 10), telling.figures.number
    if tenths == 0:
        return telling.words.say("under {n} in {of}", n=number(1), of=number(10))
    return telling.words.say("{n} in {of}", n=number(tenths), of=number(10))


def odds(telling: Telling) -> str:
    """Return how sure: a word and a number."""
    told, say = telling.briefing.odds, telling.words.say
    if told is None and too_far_ahead(telling.briefing):
        return say("Too far ahead to say how sure")
    if told is None or not math.isfinite(told.plan_holds):
        return ""
    word = chance_word(percent_of(told.plan_holds), telling.words)
    number = in_ten(telling, told.plan_holds)
    if told.estimated:
        return say("{word} to hold ({share}, estimated)", word=word, share=number)
    return say("{word} to hold ({share})", word=word, share=number)


def next_check(telling: Telling) -> str:
    """Return when the next check comes; if nobody looks, that the rider has to ask."""
    check = telling.briefing.next_check
    if check is None:
        return telling.words.say("Check before leaving")
    return telling.words.say("Next check {time}", time=telling.figures.clock(check))


def how_sure(telling: Telling) -> str:
    """Return odds and next check in one line."""
    return ". ".join(filter(None, (odds(telling), next_check(telling))))


def can_wait(telling: Telling, *, brief: bool = False) -> str:
    """Return until when the decision can wait, and how often plan B turns out the better one."""
    waiting, say = telling.briefing.waiting, telling.words.say
    if waiting is None or telling.briefing.plan_stale:
        return ""
    time = telling.figures.clock(waiting.decide_by)
    if brief:
        return say("Decide by {time}", time=time)
    wins, of = wins_of(telling, waiting), telling.figures.number(waiting.members)

    def line(sentence: str) -> str:
        return say(sentence, time=time, wins=wins, of=of)

    if not waiting.estimated:
        return line("Can wait till {time}: plan B wins in {wins} of {of} runs")
    whole = line("Can wait till {time}: plan B wins in {wins} of {of} runs (estimated)")
    short = line("Can wait till {time}: plan B wins {wins} of {of} (estimated)")
    return whole if len(whole) <= LINE else short


def gain_of_waiting(telling: Telling) -> str:
    """Return what deciding in the morning may gain, and how often plan B wins then."""
    waiting, say = telling.briefing.waiting, telling.words.say
    if waiting is None or telling.briefing.plan_stale:
        return ""
    sentence = (
        "Waiting till {time} may gain {minutes}: B wins {wins} of {of} (estimated)"
        if waiting.estimated
        else "Waiting till {time} may gain {minutes}: B wins {wins} of {of} runs"
    )
    return say(
        sentence,
        time=telling.figures.clock(waiting.decide_by),
        minutes=telling.figures.cost(waiting.gain_minutes),
        wins=wins_of(telling, waiting),
        of=telling.figures.number(waiting.members),
    )


def wins_of(telling: Telling, waiting: Waiting) -> str:
    """Return in how many members plan B wins."""
    return telling.figures.number(round(waiting.other_share * waiting.members))


def not_known(telling: Telling) -> str:
    """Return what could not be judged."""
    words, unknown = telling.words, telling.briefing.unknown
    if not unknown:
        return ""
    names = tuple(dict.fromkeys(noun(name, words) for name in unknown))
    line = ""
    for shown in range(len(names), 0, -1):
        more = len(names) - shown
        kept = names[:shown]
        if more:
            kept += (words.count("{n} more", "{n} more", more, n=str(more)),)
        line = words.say("No data for {things}: treat as caution", things=words.listed(kept))
        if len(line) <= LINE:
            return line
    return squeezed(lambda _: line)


def signs_decide(telling: Telling) -> str:
    """Return whose word comes first, with whether official warnings were looked at."""
    if telling.briefing.warnings is None:
        return telling.words.say("No official warnings checked; signs and police decide")
    return telling.words.say("Advice only: signs, police and your own eyes decide")


def source_of_data(telling: Telling, width: int = CREDIT_LINE) -> str:
    """Return credit and age of the data, loudly where it is old or invented."""
    origin = telling.briefing.origin
    credit, service = clean(origin.credit) or clean(origin.service), clean(origin.service)
    told = _data(telling, credit)
    if len(told) <= width:
        return told
    room = max(width - (len(told) - len(credit)), 12)
    short = service if len(service) <= room and service in credit else shorten(credit, room)
    return _data(telling, short)


def _data(telling: Telling, credit: str) -> str:
    origin, say = telling.briefing.origin, telling.words.say
    if origin.invented:
        label = say("INVENTED OLD data") if origin.stale else say("INVENTED data")
    else:
        label = say("OLD DATA") if origin.stale else say("Data")
    return say("{label} {age}: {credit}", label=label, age=age_of_data(telling), credit=credit)


def age_of_data(telling: Telling) -> str:
    """Return how old the data is; its hour where an age would be wrong.

    An old plan is read later than it was made; a replay is made earlier than its data.
    """
    briefing, say = telling.briefing, telling.words.say
    issued = briefing.origin.issued
    taken = issued or briefing.origin.fetched
    age = telling.figures.age(taken, briefing.made_at)
    if briefing.plan_stale or not age:
        time = telling.figures.clock(taken)
        return say("fetched {time}", time=time) if issued is None else say("of {time}", time=time)
    if (briefing.made_at - taken).total_seconds() < _JUST_NOW:
        return say("just in") if issued is None else say("just made")
    return say("{age} old", age=age)
