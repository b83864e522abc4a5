"""Files a rider sent: a tour file to take up, a track to log by."""

from dataclasses import replace

from replanner.advice.names import clean
from replanner.dialogue import replies
from replanner.dialogue.changing import Outcome, say
from replanner.dialogue.events import TourCame, TrackCame
from replanner.dialogue.group import leader_decides
from replanner.dialogue.state import Confirm, State, Then

_MOST_MISTAKES = 12
_MOST_DAYS = 8


def came(state: State, event: TourCame | TrackCame) -> Outcome:
    """Say what a file is, and ask before anything is done with it."""
    if isinstance(event, TourCame):
        return _tour(state, event)
    return _track(state, event)


def _tour(state: State, event: TourCame) -> Outcome:
    if not state.leads:
        return leader_decides(state)
    words, name = state.words, clean(event.name)
    if event.mistakes:
        count = words.count(
            "{name}: {n} mistake. Your tour stays as it is.",
            "{name}: {n} mistakes. Your tour stays as it is.",
            len(event.mistakes),
            name=name,
            n=str(len(event.mistakes)),
        )
        left = len(event.mistakes) - _MOST_MISTAKES
        shown = [clean(mistake) for mistake in event.mistakes[:_MOST_MISTAKES]]
        tail = [words.say("And {n} more.", n=str(left))] if left > 0 else []
        return say(state, "\n".join((count, *shown, *tail)))
    lines = [
        words.say(
            "{name}: {days} days, {legs} legs (now {old_days} and {old_legs}).",
            name=name,
            days=str(len(event.days)),
            legs=str(event.legs),
            old_days=str(len(state.book.days)),
            old_legs=str(len(state.book.names)),
        )
    ]
    new = [day for day in event.days if day not in state.book.dates]
    gone = [day for day in state.book.dates if day not in event.days]
    for told, days in (("New days: {days}.", new), ("Days gone: {days}.", gone)):
        if days:
            listed = ", ".join(f"{day:%a} {day.day} {day:%b}" for day in days[:_MOST_DAYS])
            more = ", ..." if len(days) > _MOST_DAYS else ""
            lines.append(words.say(told, days=f"{listed}{more}"))
    lines.append(words.say("yes takes it for the whole group, anything else leaves your tour."))
    question = Confirm(then=Then.TAKE_TOUR, token=event.token, echo=name)
    return _asking(state, question, lines)


def _track(state: State, event: TrackCame) -> Outcome:
    words, name = state.words, clean(event.name)
    if event.refusal:
        return say(state, clean(event.refusal))
    told = words.say("{name}: {km} km.", name=name, km=f"{event.distance_km:.0f}")
    names = dict(state.book.names)
    legs = tuple(leg for leg in dict.fromkeys(event.legs) if leg in names)
    if not legs:
        return say(state, f"{told} {words.say('It runs along no leg of this tour.')}")
    told = f"{told} {words.say('It ran along: {legs}.', legs=replies.named(legs, state))}"
    if not state.leads:
        return say(state, f"{told} {words.say('Your leader keeps the log.')}")
    question = Confirm(then=Then.LOG, legs=legs)
    line = words.say("yes logs them as ridden today; else: missed 2, or no.")
    return _asking(state, question, [told, line])


def _asking(state: State, question: Confirm, lines: list[str]) -> Outcome:
    return say(replace(state, question=question), "\n".join(lines))
