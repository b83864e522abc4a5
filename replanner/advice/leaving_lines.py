"""Single lines on the hour of leaving: why it is another one, and when it is too early."""

from functools import partial

from replanner.advice.briefing import Change
from replanner.advice.fitting import squeezed
from replanner.advice.telling import Telling

_WORTH_SAYING = 1.0  # minutes
# Minutes waited for the first leg from which on leaving then gains nothing. Assumption.
_IDLE = 10.0


def why_another_hour(telling: Telling, change: Change) -> str:
    """Return why the riders leave at another hour: light, an hour past, or nothing to gain."""
    briefing, say, clock = telling.briefing, telling.words.say, telling.figures.clock
    own, dawn = change.own_start, briefing.light.civil_dawn
    if own is None or change.new_start is None:
        return ""
    if change.new_start < own:
        return say("Why: a later start costs more than it gains")
    if change.worth_minutes is None and own < briefing.made_at:
        return say("Why: it is past {own}", own=clock(own))
    if change.worth_minutes is None and dawn is not None and own < dawn:
        return say("Why: not light before {dawn}", dawn=clock(dawn, up=True))
    gains = change.worth_minutes is None or change.worth_minutes >= _WORTH_SAYING
    if briefing.legs and (not gains or briefing.legs[0].sailing is not None):
        return squeezed(partial(_nothing_before, telling))
    return ""


def _nothing_before(telling: Telling, width: int) -> str:
    first = telling.briefing.legs[0]
    if first.sailing is not None:
        return telling.words.say(
            "Why: no boat before {time}, {leg}",
            time=telling.figures.clock(first.sailing),
            leg=telling.leg(first.id, width),
        )
    return telling.words.say(
        "Why: nothing gained before {time}, {leg}",
        time=telling.figures.clock(first.start),
        leg=telling.leg(first.id, width),
    )


def too_early(telling: Telling) -> str:
    """Return that nothing is gained by leaving as early as asked: the first leg has to wait."""
    briefing = telling.briefing
    if briefing.early_minutes is None or briefing.early_minutes < _IDLE or not briefing.legs:
        return ""
    first = briefing.legs[0]
    return squeezed(
        lambda width: telling.words.say(
            "{minutes} too early: {leg} not before {time}",
            minutes=telling.figures.cost(briefing.early_minutes or 0.0),
            leg=telling.leg(first.id, width),
            time=telling.figures.clock(first.start),
        )
    )
