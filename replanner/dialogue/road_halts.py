"""Halts and how the riders are: late, a stop, thunder, tired, cold, a breakdown, moving again."""

from dataclasses import replace
from datetime import datetime, timedelta

from replanner.advice.hurdles import limit_words
from replanner.advice.names import clean
from replanner.advice.telling import written
from replanner.clock import local_instant
from replanner.dialogue import replies
from replanner.dialogue.by_plan import Stand, stand
from replanner.dialogue.changing import Outcome, say
from replanner.dialogue.events import Audience, Say
from replanner.dialogue.road_change import from_here, nowhere, own_way, tried, with_tail
from replanner.dialogue.road_intent import RoadWord
from replanner.dialogue.road_told import in_force
from replanner.dialogue.since_break import rested_until
from replanner.dialogue.state import Purpose, State
from replanner.dialogue.topics import Topic
from replanner.trip.model import HaltKind, LegId

# Wait until 30 minutes after the last thunder: a rule of weather services for people outdoors.
_AFTER_THUNDER = timedelta(minutes=30)
# At least a quarter of an hour off the machine after two hours: the British Highway Code, rule 91.
_BREAK = timedelta(minutes=15)
# A repair is reckoned with this long until somebody says when they move. Assumption.
_REPAIR = timedelta(minutes=60)
_MOST_STRICTER = 2
_LONGEST_NAME = 40


def late(state: State, minutes: float | None, sent: datetime) -> Outcome:
    """Shift everything by as long as they are late, and plan the rest anew."""
    plan, words = in_force(state), state.words
    if plan is None:
        return say(state, words.say("There is no plan shown yet."))
    if minutes is None:
        spare = replies.spare(plan, words)
        line = f"{words.say('How late? Say: running 40 late.')} {spare}"
        return with_tail(state, sent, line)
    here = stand(state, sent, timedelta(minutes=minutes))
    if here is None:
        return say(state, replies.late(minutes, plan, words))
    echo = words.say(
        "{late} min late: {broken}", late=f"{minutes:.0f}", broken=_breaks(state, here, minutes)
    )
    return from_here(state, here, state.demands, echo)


def _breaks(state: State, here: Stand, minutes: float) -> str:
    """Return the first thing that being so late breaks, as the plan in force has it.

    What lies behind breaks no more: then the new plan tells what it drops.
    """
    plan, words = in_force(state), state.words
    spare = plan.briefing.spare_minutes if plan else None
    if plan is None or spare is None:
        return words.say("what that breaks is not known.")
    first = plan.briefing.spare_limit
    if first is not None and first.leg is not None and first.leg in here.underway.ridden:
        return words.say("what falls out is told below.")
    if minutes <= spare:  # the sky may have turned since: whether all still holds is told below
        return words.say("{n} min were to spare.", n=str(int(spare)))
    limit = plan.briefing.spare_limit
    told = limit_words(written(plan.briefing, words), limit, _LONGEST_NAME) if limit else ""
    return words.say("breaks {limit}.", limit=told or words.say("the plan"))


def stopping(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Halt where they are for so long."""
    if word.minutes is None:
        line = state.words.say("How long? Say: lunch 45 min.")
        return with_tail(state, sent, line)
    here = stand(state, sent)
    if here is None:
        return nowhere(state, sent)
    halted = _ready(here, here.underway.ready + timedelta(minutes=word.minutes))
    on = replies.clock(halted.underway.ready, state)
    echo = state.words.say("Stop of {n} min, on at {time}.", n=f"{word.minutes:.0f}", time=on)
    if word.trial:
        return tried(state, halted, state.demands, echo)
    return from_here(state, halted, state.demands, echo)


def thunder(state: State, sent: datetime) -> Outcome:
    """Wait in a building until half an hour after the last thunder; nothing to ride is offered."""
    words, here = state.words, stand(state, sent)
    echo = words.say(
        "Thunder: stop, into a building, not under trees. "
        "Wait until 30 min after the last; say thunder again if it goes on."
    )
    if here is None:
        return say(state, echo)
    waiting = _ready(here, max(here.underway.ready, sent + _AFTER_THUNDER))
    return from_here(state, waiting, state.demands, echo, Purpose.SHELTER)


def worn(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Take a tired or cold party: a break first, one class stricter, what is optional dropped."""
    words, here = state.words, stand(state, sent)
    cold = word.topic is Topic.COLD
    advice = (
        words.say("Cold: get warm first, then stop every 60 min.")
        if cold
        else words.say("Tired: a break of 15 min first.")
    )
    if here is None:
        line = words.say("That changes every limit: stop, rest, do less.")
        return say(state, f"{advice} {line}")
    if word.trial:
        return with_tail(state, sent, advice)
    resting = _ready(here, max(here.underway.ready, sent + _BREAK))
    dropped = _droppable(state, here)
    wanted = replace(
        state.demands,
        stricter=min(state.demands.stricter + 1, _MOST_STRICTER),
        left_out=state.demands.left_out | dropped,
        forced=state.demands.forced - dropped,
    )
    warm = _next_cafe(state, sent) if cold else ""
    echo = " ".join(part for part in (advice, warm, words.say("One class stricter.")) if part)
    return from_here(state, resting, wanted, echo)


def worn_but_not_leading(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Tell the group that one of them needs a rest, and him his own way home; nothing changes."""
    words = state.words
    line = (
        words.say("A rider of your group is cold. Say cold, to plan a warm stop and less to ride.")
        if word.topic is Topic.COLD
        else words.say("A rider of your group is tired. Say tired, to plan a break and less.")
    )
    after, effects = own_way(state, sent)
    return after, (Say(text=line, to=Audience.OTHERS), *effects)


def _droppable(state: State, here: Stand) -> frozenset[LegId]:
    """Return the legs ahead nobody needs to get anywhere, and that are no must."""
    roads = {leg.id: state.book.road.leg(leg.id) for leg in here.ahead}
    return frozenset(
        leg
        for leg, road in roads.items()
        if road is not None
        and road.round_trip
        and not road.must
        and leg not in state.book.road.stand_ins
    )


def _next_cafe(state: State, sent: datetime) -> str:
    plan = in_force(state)
    for leg in plan.briefing.legs if plan else ():
        for (place, at), kind in zip(leg.halts, leg.halt_kinds, strict=False):
            if kind == HaltKind.CAFE and at > sent:
                return state.words.say("Next warm stop: {place}.", place=clean(place))
    return ""


def breakdown(state: State, sent: datetime) -> Outcome:
    """Stop the clock, and tell the latest restart that is still in by light."""
    words, here = state.words, stand(state, sent)
    if here is None:
        return nowhere(state, sent)
    stranded = _ready(here, max(here.underway.ready, sent + _REPAIR))
    echo = words.say(
        "Stopped, well off the road. Moving by? Say: moving by 14:30. Until then I take {time}.",
        time=replies.clock(stranded.underway.ready, state),
    )
    return from_here(state, stranded, state.demands, echo, Purpose.STRANDED)


def moving(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Ride on from where they stopped, now or at a time."""
    known = state.demands.underway
    here = stand(state, sent)
    if here is None:
        return nowhere(state, sent)
    wall = sent if word.wall is None else local_instant(state.day, word.wall, state.book.tz)
    ready = max(wall, sent)
    if known is not None and known.at <= sent <= known.ready + _REPAIR:
        rested = replace(known, at=sent, ridden_minutes=rested_until(known, ready))
        here = replace(here, underway=rested)
    here = _ready(here, ready)
    echo = state.words.say("Moving at {time}.", time=replies.clock(here.underway.ready, state))
    return from_here(state, here, state.demands, echo)


def _ready(here: Stand, ready: datetime) -> Stand:
    return replace(here, underway=replace(here.underway, ready=ready))
