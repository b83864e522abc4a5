"""Short answers about a plan: accepted, how sure, from which data, with which cautions."""

from replanner.advice import trust_lines as trust
from replanner.advice.briefing import Briefing
from replanner.advice.cautions import CAUTIONS, STANDING
from replanner.advice.fitting import squeezed
from replanner.advice.headline import headline
from replanner.advice.telling import Telling, written
from replanner.advice.wording import chance_word
from replanner.advice.words import Words

_MOST_ODDS = 8


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
        return say("How sure this is was not worked out.")
    lines = [told]
    legs = [leg for leg in briefing.legs if leg.id in odds.by_leg]
    for leg in sorted(legs, key=lambda leg: odds.by_leg[leg.id])[:_MOST_ODDS]:
        percent = trust.percent_of(odds.by_leg[leg.id])
        lines.append(_leg_odds(telling, leg.id, percent))
    if odds.estimated:
        lines.append(say("Estimated: one forecast, shifted in time and strength."))
    return "\n".join(lines)


def _leg_odds(telling: Telling, leg: str, percent: int) -> str:
    word, number = chance_word(percent, telling.words), telling.figures.percent(percent)
    return squeezed(
        lambda width: telling.words.say(
            "{leg}: {word} ({percent})", leg=telling.leg(leg, width), word=word, percent=number
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
        lines.append(
            say(
                "Made {time}, {age} old",
                time=figures.clock(origin.issued),
                age=figures.age(origin.issued, briefing.made_at),
            )
        )
    lines.append(
        say(
            "Fetched {time}, {age} old",
            time=figures.clock(origin.fetched),
            age=figures.age(origin.fetched, briefing.made_at),
        )
    )
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


def cautions_text(briefing: Briefing, words: Words | None = None) -> str:
    """Return all cautions in full: the day's own first, then every standing one."""
    telling = written(briefing, words)
    return standing_text(telling.words, first=briefing.cautions)


def standing_text(words: Words, *, first: tuple[str, ...] = ()) -> str:
    """Return every standing caution in full, after those named first."""
    from_day = [key for key in first if key in CAUTIONS]
    keys = dict.fromkeys((*from_day, *STANDING))
    return "\n".join(f"- {words.say(CAUTIONS[key].full)}" for key in keys)
