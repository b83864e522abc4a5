"""One step of the conversation: an event in, the new state and what the shell should do out."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import assert_never

from replanner.advice import text
from replanner.advice.briefing import Briefing
from replanner.advice.telling import written
from replanner.dialogue import changing, replies, road, sent_files, unasked, wishes
from replanner.dialogue.changing import Outcome, say
from replanner.dialogue.choices import chosen
from replanner.dialogue.events import (
    Effect,
    EveningCame,
    Event,
    MorningCame,
    OverdueCame,
    PlanArrived,
    PlanFailed,
    PlanShared,
    PositionCame,
    Pressed,
    RiderSaid,
    RoadCheckCame,
    TourCame,
    TrackCame,
    UnreadableCame,
)
from replanner.dialogue.intent_types import (
    Close,
    Doubtful,
    Intent,
    IsOpen,
    KeepOrder,
    Late,
    LeaveAt,
    NotUnderstood,
    Plain,
    Reopen,
    Ride,
    Skip,
    SwapLegs,
    ToDay,
    UnknownDay,
    UnknownName,
    WeatherOn,
    Which,
    WhyLeg,
)
from replanner.dialogue.intents import understand
from replanner.dialogue.plans import arrived, evening, failed, shared, stale_press
from replanner.dialogue.road_intent import ROAD_TOPICS, RoadWord
from replanner.dialogue.state import Choice, Confirm, Shown, State, Then
from replanner.dialogue.topics import Topic


def step(state: State, event: Event) -> tuple[State, tuple[Effect, ...]]:  # noqa: C901, PLR0911 - one case an event
    """Return what the conversation comes to by an event, and what is to be done, in order.

    Parameters
    ----------
    state : State
    event : Event

    Returns
    -------
    tuple of (State, tuple of Effect)
        If an effect cannot be done, the shell keeps the old state.
    """
    match event:
        case EveningCame():
            return evening(state, event)
        case PlanArrived():
            return arrived(state, event)
        case PlanFailed():
            return failed(state, event)
        case RiderSaid(text=line, sent=sent):
            return _said(replace(state, over=False), line, sent)
        case Pressed(word=word, serial=serial, sent=sent):
            return _said(state, word, sent) if serial == state.serial else stale_press(state)
        case MorningCame() | RoadCheckCame() | OverdueCame():
            return unasked.looked_at(state, event)
        case PositionCame():
            return road.position(state, event)
        case TourCame() | TrackCame():
            return sent_files.came(state, event)
        case PlanShared():
            return shared(state, event)
        case UnreadableCame():
            return say(state, replies.not_understood((), state.words))
        case _:
            assert_never(event)


def _said(state: State, line: str, sent: datetime) -> Outcome:
    hearing = state.hearing(sent)
    question, state = state.question, replace(state, question=None)
    if isinstance(question, Choice) and (says := chosen(question.options, line)):
        return _meant(state, understand(says, hearing), sent)
    intent = understand(line, hearing)
    if isinstance(question, Confirm):
        return _second(state, question, intent, sent)
    return _meant(state, intent, sent)


def _second(state: State, question: Confirm, intent: Intent, sent: datetime) -> Outcome:
    """Take a yes to a question of safety; an ok that could mean the plan is asked about."""
    agreed = intent in (Plain(Topic.YES), Plain(Topic.OK))
    if agreed and intent == Plain(Topic.OK) and _another_ok_is_open(state, question):
        line = state.words.say("Which: yes for what I just asked, or accept for the plan as shown?")
        return say(replace(state, question=question), line)
    if agreed:
        return _agreed(state, question)
    if intent == Plain(Topic.NO):
        return say(state, state.words.say("Left as it was."))
    return _meant(state, intent, sent)


def _agreed(state: State, question: Confirm) -> Outcome:
    match question.then:
        case Then.CHANGE:
            return changing.make(state, question.demands, question.echo)
        case Then.UNDO:
            return changing.undo_now(state)
        case Then.ACCEPT:
            plan = state.last_shown
            return changing.accept_now(state, plan) if plan else _no_plan(state)
        case _:
            assert_never(question.then)


def _another_ok_is_open(state: State, question: Confirm) -> bool:
    return question.then is not Then.ACCEPT and state.last_shown not in (None, state.accepted)


def _meant(state: State, intent: Intent, sent: datetime) -> Outcome:  # noqa: C901, PLR0911, PLR0912 - one case an intent
    match intent:
        case Plain(topic):
            return _topic(state, topic, sent)
        case Skip():
            return wishes.skip(state, intent)
        case Ride():
            return wishes.ride(state, intent)
        case Close():
            return road.close(state, intent, sent)
        case Reopen():
            return road.reopen(state, intent, sent)
        case ToDay():
            return wishes.to_day(state, intent)
        case SwapLegs():
            return wishes.swap_legs(state, intent)
        case LeaveAt():
            return wishes.leave_at(state, intent)
        case KeepOrder():
            return wishes.keep_order(state)
        case Which(about, options):
            asked = replace(state, question=Choice(about=about, options=options))
            return say(asked, replies.which(options, state.words))
        case UnknownName(said, near):
            names = [state.book.name(leg) for leg in near]
            return say(state, replies.unknown_name(said, names, state.words))
        case UnknownDay(said):
            return say(state, replies.unknown_day(said, state))
        case NotUnderstood(near):
            return say(state, replies.not_understood(near, state.words))
        case IsOpen(legs):
            return road.is_open(state, legs, sent)
        case Late(minutes):
            return road.late(state, minutes, sent)
        case RoadWord():
            return road.heard(state, intent, sent)
        case WhyLeg() | WeatherOn() | Doubtful():
            return _of_the_plan(state, intent)
        case _:
            assert_never(intent)


def _of_the_plan(state: State, intent: WhyLeg | WeatherOn | Doubtful) -> Outcome:
    plan = state.last_shown
    if plan is None:
        return _no_plan(state)
    match intent:
        case WhyLeg(leg):
            return say(state, replies.why_leg(leg, written(plan.briefing), state))
        case WeatherOn(leg):
            return say(state, replies.on_leg(leg, written(plan.briefing), state))
        case Doubtful():
            line = "Say ok, without a question mark, to accept: {plan}"
            return say(state, state.words.say(line, plan=replies.line_one(plan.briefing)))
        case _:
            assert_never(intent)


def _no_plan(state: State) -> Outcome:
    return say(state, state.words.say("There is no plan shown yet."))


def _topic(state: State, topic: Topic, sent: datetime) -> Outcome:  # noqa: C901, PLR0911, PLR0912 - one case a topic
    match topic:
        case Topic.EMERGENCY:
            return say(state, replies.emergency(state, sent))
        case Topic.HELP:
            return say(state, replies.helped(state.words))
        case Topic.COMMANDS:
            return say(state, replies.commands(state.words))
        case Topic.YES | Topic.OK | Topic.ACCEPT:
            return changing.accept(state)
        case Topic.NO:
            return changing.drop_trial(state) if state.trial else wishes.keep_order(state)
        case Topic.UNDO:
            return changing.undo(state)
        case Topic.START_OVER:
            return wishes.start_over(state)
        case Topic.PLAN_B:
            return wishes.plan_b(state)
        case Topic.TONIGHT:
            return wishes.tonight(state)
        case Topic.NEVER_MIND:
            return say(state, state.words.say("Fine. The plan stands."))
        case Topic.FAREWELL:
            return say(replace(state, over=True), replies.farewell(state))
        case _ if topic in ROAD_TOPICS:
            return road.heard(state, RoadWord(topic=topic), sent)
        case Topic.SPARE:
            return road.spare(state, sent)
        case _ if topic in replies.NOT_YET:
            return say(state, state.words.say(replies.NOT_YET[topic]))
        case _:
            plan = state.last_shown
            return say(state, _answer(plan, topic, sent, state)) if plan else _no_plan(state)


# What is read from a plan as it is shown.
_READ: Mapping[Topic, Callable[[Briefing], str]] = {
    Topic.WHY: text.why,
    Topic.READ: text.message,
    Topic.SPEAK: text.spoken,
    Topic.CAUTIONS: text.cautions_text,
    Topic.HOW_SURE: text.odds_text,
    Topic.OWN_ORDER: text.own_order_text,
}


def _answer(plan: Shown, topic: Topic, sent: datetime, state: State) -> str:
    briefing = plan.briefing
    match topic:
        case Topic.FORECAST:
            return replies.forecast(briefing, sent)
        case Topic.TURN_BACK:
            return replies.turn_back(written(briefing))
        case _ if topic in _READ:
            return _READ[topic](briefing)
        case _:
            return replies.not_understood((), state.words)
