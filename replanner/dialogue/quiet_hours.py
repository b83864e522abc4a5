"""Quiet on request: until the next evening's plan, or until the morning."""

from datetime import datetime, time, timedelta

from replanner.clock import local_instant
from replanner.dialogue import replies
from replanner.dialogue.changing import Outcome
from replanner.dialogue.events import Hush, Say
from replanner.dialogue.road_told import in_force
from replanner.dialogue.state import State

# Before the plan of the evening is told, and before most leave in the morning. Assumptions.
_EVENING, _MORNING = time(19, 30), time(6)
# The morning's look at the plan comes that long before leaving: it has to be heard.
_BEFORE_LEAVING = timedelta(minutes=60)


def until_evening(state: State, sent: datetime) -> Outcome:
    """Say nothing unasked until the next evening's plan."""
    return _hushed(state, _next(_EVENING, state, sent))


def until_morning(state: State, sent: datetime) -> Outcome:
    """Say nothing unasked until the morning, or until shortly before an earlier leaving."""
    morning, plan = _next(_MORNING, state, sent), in_force(state)
    leaving = plan.briefing.departure if plan else None
    if leaving is not None and sent < leaving - _BEFORE_LEAVING < morning:
        morning = leaving - _BEFORE_LEAVING
    return _hushed(state, morning)


def speak_again(state: State) -> Outcome:
    """End the quiet."""
    return state, (Hush(until=None), Say(text=state.words.say("I speak again.")))


def _hushed(state: State, until: datetime) -> Outcome:
    told = state.words.say(
        "Quiet until {time}, but for what is no-go. To end it: speak again.",
        time=replies.clock(until, state),
    )
    return state, (Hush(until=until), Say(text=told))


def _next(wall: time, state: State, sent: datetime) -> datetime:
    zone = state.book.tz
    today = sent.astimezone(zone).date()
    days = (today + timedelta(days=ahead) for ahead in range(3))
    return next(moment for day in days if (moment := local_instant(day, wall, zone)) > sent)
