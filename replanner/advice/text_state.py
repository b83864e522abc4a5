"""Short answers about a plan: accepted, how sure, from which data, with which cautions."""

from datetime import datetime
from textwrap import fill

from replanner.advice import trust_lines as trust
from replanner.advice.briefing import Briefing
from replanner.advice.cautions import CAUTIONS, OF_THE_DAY, STANDING
from replanner.advice.fitting import LINE, squeezed
from replanner.advice.headline import headline
from replanner.advice.telling import Telling, written
from replanner.advice.wording import chance_word
from replanner.advice.words import Words

_MOST_ODDS = 8
_WORTH_AN_AGE = 60.0  # seconds


def accepted_text(briefing: Briefing, words: Words | None = None) -> str:
    """Return that the plan is accepted, with line one again and when to leave."""
    telling = written(briefing, words)
    say = telling.words.say
    lines = [say("Accepted."), headline(telling)]
    if briefing.departure is not None:
        lines.append(say("Leave {time}", time=telling.figures.clock(briefing.departure)))
    lines.append(trust.next_check(telling))
    return "\n".join(lines)


def odds_text(briefing: Briefing, words: Words | None = None) -> str:
    """Return how sure the plan is and each of its legs, in a word and a number."""
    telling = written(briefing, words)
    say, odds = telling.words.say, briefing.odds
    told = trust.odds(telling)
    if odds is None or not told:
        return told or say("How sure this is was not worked out.")
    lines = [told]
    if odds.by_leg:
        lines.append(
            say("How sure each leg is milder than avoid, by {n} runs:", n=str(odds.members))
        )
    legs = [leg for leg in briefing.legs if leg.id in odds.by_leg]
    least_sure = sorted(legs, key=lambda leg: odds.by_leg[leg.id])[:_MOST_ODDS]
    lines += [_leg_odds(telling, leg.id, odds.by_leg[leg.id]) for leg in least_sure]
    if odds.estimated:
        lines.append(say("Estimated: one forecast, shifted in time and strength."))
    return "\n".join(lines)


def _leg_odds(telling: Telling, leg: str, share: float) -> str:
    word, number = chance_word(trust.percent_of(share), telling.words), trust.in_ten(telling, share)
    return squeezed(
        lambda width: telling.words.say(
            "{leg}: {word} ({share})", leg=telling.leg(leg, width), word=word, share=number
        )
    )


def forecast_text(briefing: Briefing, words: Words | None = None) -> str:
    """Return which service, how old, whether stale, what is missing, and the whole credit."""
    telling = written(briefing, words)
    say, origin, figures = telling.words.say, briefing.origin, telling.figures
    lines = [say("Forecast: {service}", service=origin.service)]
    if briefing.invented or origin.invented:
        lines.append(say("INVENTED: made up to show how this works."))
    if origin.issued is not None:
        made = say("Made {time}", time=figures.clock(origin.issued))
        lines.append(_with_age(made, telling, origin.issued))
    fetched = say("Fetched {time}", time=figures.clock(origin.fetched))
    lines.append(_with_age(fetched, telling, origin.fetched))
    if origin.stale:
        lines.append(say("OLD DATA: nothing fresher answered."))
    lines += [trust.no_new_plan(telling), trust.not_known(telling)]
    if briefing.warnings is None:
        lines.append(say("Official warnings were not checked."))
    elif not briefing.warnings:
        lines.append(say("No official warning is in force."))
    else:
        lines.append(trust.warnings_line(telling))
    lines.append(origin.credit)
    return "\n".join(line for line in lines if line)


def _with_age(told: str, telling: Telling, since: datetime) -> str:
    """Return the line with the age in whole minutes or hours, where there is one to tell."""
    made_at = telling.briefing.made_at
    age = telling.figures.age(since, made_at)
    if not age or (made_at - since).total_seconds() < _WORTH_AN_AGE:
        return told
    return telling.words.say("{told}, {age} old", told=told, age=age)


def cautions_text(briefing: Briefing, words: Words | None = None) -> str:
    """Return all cautions in full: the day's own first, then every standing one."""
    telling = written(briefing, words)
    return standing_text(telling.words, first=briefing.cautions)


def standing_text(words: Words, *, first: tuple[str, ...] = ()) -> str:
    """Return every standing caution in full, after those named first, under one heading."""
    from_day = [key for key in first if key in OF_THE_DAY]
    keys = dict.fromkeys((*from_day, *STANDING))
    heading = (
        words.say("Cautions, those of this day first:") if from_day else words.say("Cautions:")
    )
    return "\n".join((heading, *(_hanging(words.say(CAUTIONS[key].full)) for key in keys)))


def _hanging(caution: str) -> str:
    """Return a caution in lines of a phone screen, the following ones set in."""
    return fill(
        caution,
        LINE,
        initial_indent="- ",
        subsequent_indent="  ",
        break_long_words=False,
        break_on_hyphens=False,
    )
