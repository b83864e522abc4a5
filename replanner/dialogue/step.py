"""One step of the conversation: an event in, the new state and what the shell should do out."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import assert_never

from replanner.advice import text
from replanner.advice.briefing import Briefing
from replanner.advice.telling import written
from replanner.dialogue import (
    changing,
    keeping,
    quiet_hours,
    replies,
    ridden,
    road,
    sent_files,
    unasked,
    wishes,
)
from replanner.dialogue.buttons import dressed, with_buttons
from replanner.dialogue.changing import Outcome, say
from replanner.dialogue.choices import picked, unpicked
from replanner.dialogue.events import (
    Effect,
    EraseData,
    EveningCame,
    Event,
    ExportData,
    MorningCame,
    OverdueCame,
    PlanArrived,
    PlanFailed,
    PlanShared,
    PositionCame,
    Pressed,
    RiderSaid,
    RoadCheckCame,
    Say,
    SendTrack,
    ShowPicture,
    TakeTour,
    TourCame,
    TrackCame,
    UnreadableCame,
)
from replanner.dialogue.group import for_the_leader, leader_decides, with_share, with_wish
from replanner.dialogue.intent_types import (
    Close,
    Doubtful,
    Intent,
    IsOpen,
    KeepOrder,
    Late,
    LeaveAt,
    LogDay,
    NotUnderstood,
    Plain,
    PlanDay,
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
from replanner.dialogue.sent_late import told_late
from replanner.dialogue.state import Choice, Confirm, Shown, State, Then
from replanner.dialogue.topics import Topic


def step(state: State, event: Event) -> tuple[State, tuple[Effect, ...]]:
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
    after, effects = _happened(state, event)
    if isinstance(event, RiderSaid):
        after, effects = told_late(after, event, effects)
    after, effects = keeping.noted(after, effects)
    return dressed(state, after, with_share(state, after, event, effects))


def _happened(state: State, event: Event) -> Outcome:
    match event:
        case RiderSaid(text=line, sent=sent):
            return _said(replace(state, over=False), line, sent)
        case Pressed(word=word, serial=serial, sent=sent):
            return _said(state, word, sent) if serial == state.serial else stale_press(state)
        case PlanArrived() | PlanFailed() | PlanShared():
            return _planned(state, event)
        case EveningCame() | MorningCame() | RoadCheckCame() | OverdueCame():
            return _due(state, event)
        case _:
            return _sent(state, event)


def _planned(state: State, event: PlanArrived | PlanFailed | PlanShared) -> Outcome:
    match event:
        case PlanArrived():
            return arrived(state, event)
        case PlanFailed():
            return failed(state, event)
        case PlanShared():
            return shared(state, event)


def _due(state: State, event: EveningCame | MorningCame | RoadCheckCame | OverdueCame) -> Outcome:
    if isinstance(event, EveningCame):
        return evening(state, event)
    return unasked.looked_at(state, event)


def _sent(state: State, event: PositionCame | TourCame | TrackCame | UnreadableCame) -> Outcome:
    match event:
        case PositionCame():
            return road.position(state, event)
        case TourCame() | TrackCame():
            return sent_files.came(state, event)
        case UnreadableCame():
            return say(state, replies.not_understood((), state.words))


def _said(state: State, line: str, sent: datetime) -> Outcome:
    hearing = state.hearing(sent)
    intent = understand(line, hearing)
    if intent == Plain(Topic.EMERGENCY):  # nothing else is said, and what was asked stays asked
        return state, (Say(text=replies.emergency(state, sent), urgent=True),)
    question, state = state.question, replace(state, question=None)
    if isinstance(question, Choice):
        if says := picked(question, intent, line):
            return _meant(state, understand(says, hearing), sent)
        if told := unpicked(state, question, intent):
            return told
    if isinstance(question, Confirm):
        return _second(state, question, intent, line, sent)
    return with_wish(state, intent, line, _meant(state, intent, sent))


def _second(state: State, question: Confirm, intent: Intent, line: str, sent: datetime) -> Outcome:
    """Take a yes to a question of safety; an ok that could mean the plan is asked about."""
    if question.then is Then.LOG and (told := keeping.answered(state, question, line, sent)):
        return told
    agreed = intent in (Plain(Topic.YES), Plain(Topic.OK))
    if agreed and intent == Plain(Topic.OK) and _another_ok_is_open(state, question):
        which = "Which: yes for what I just asked, or accept for the plan as shown?"
        return say(replace(state, question=question), state.words.say(which))
    if agreed:
        return _agreed(state, question, sent)
    if intent == Plain(Topic.NO):
        return say(state, state.words.say("Left as it was."))
    return _meant(state, intent, sent)


def _agreed(state: State, question: Confirm, sent: datetime) -> Outcome:
    match question.then:
        case Then.CHANGE:
            return changing.make(state, question.demands, question.echo)
        case Then.UNDO:
            return changing.undo_now(state)
        case Then.ACCEPT:
            plan = state.last_shown
            return changing.accept_now(state, plan) if plan else _no_plan(state)
        case Then.LOG:
            return keeping.all_ridden(state, question, sent)
        case Then.TAKE_TOUR:
            taken = state.words.say("Taken: {name}. Say plan for one of it.", name=question.echo)
            return state, (TakeTour(token=question.token), Say(text=taken))
        case Then.ERASE:
            return state, (EraseData(),)
        case _:
            assert_never(question.then)


def _another_ok_is_open(state: State, question: Confirm) -> bool:
    return question.then is not Then.ACCEPT and state.last_shown not in (None, state.accepted)


def _meant(state: State, intent: Intent, sent: datetime) -> Outcome:  # noqa: C901, PLR0911, PLR0912 - one case an intent
    if for_the_leader(state, intent):
        return leader_decides(state)
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
            return ridden.of_the_road(state, intent, sent)
        case PlanDay(day) if unasked.is_past(state, day or state.day, sent):
            return unasked.past(state, day or state.day)
        case PlanDay(day) if day in (None, state.day) and unasked.is_underway(state, sent):
            return unasked.again(state, sent)
        case PlanDay(day):
            return evening(state, EveningCame(day=day or state.day, now=sent), asked=True)
        case LogDay(done) if done and ridden.is_ridden(state, sent):
            return ridden.told_of_both(state, intent, sent)
        case LogDay():
            return keeping.of_a_line(state, intent, sent)
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


def _topic(state: State, topic: Topic, sent: datetime) -> Outcome:  # noqa: C901, PLR0911 - one case a topic
    match topic:
        case Topic.YES | Topic.OK | Topic.ACCEPT:
            return changing.accept(state)
        case Topic.NO:
            return _no(state, sent)
        case Topic.UNDO:
            return changing.undo(state)
        case Topic.START_OVER:
            return wishes.start_over(state)
        case Topic.PLAN_B:
            return wishes.plan_b(state)
        case Topic.TONIGHT:
            return wishes.tonight(state)
        case Topic.SPARE:
            return road.spare(state, sent)
        case _ if topic in _KEEPING:
            return _KEEPING[topic](state, sent)
        case _ if topic in ROAD_TOPICS:
            return road.heard(state, RoadWord(topic=topic), sent)
        case _ if topic in _TALK:
            return say(state, _TALK[topic](state))
        case Topic.FAREWELL:
            return say(replace(state, over=True), replies.farewell(state))
        case _:
            return _told_of_the_plan(state, topic, sent)


def _no(state: State, sent: datetime) -> Outcome:
    if state.trial is not None or not state.leads:
        return _never_mind(state, sent)
    return wishes.keep_order(state)


def _never_mind(state: State, _: datetime) -> Outcome:
    if state.trial is not None:
        return changing.drop_trial(state)
    return say(state, state.words.say("Fine. The plan stands."))


_TALK: Mapping[Topic, Callable[[State], str]] = {
    Topic.HELP: lambda state: replies.helped(state.words),
    Topic.COMMANDS: lambda state: replies.commands(state.words),
}


def _told_of_the_plan(state: State, topic: Topic, sent: datetime) -> Outcome:
    plan = state.last_shown
    if plan is None:
        return _no_plan(state)
    answer = _answer(plan, topic, sent, state)
    return state, (with_buttons(state, answer) if topic is Topic.READ else Say(text=answer),)


def _picture(state: State, _: datetime) -> Outcome:
    plan = state.last_shown
    return _no_plan(state) if plan is None else (state, (ShowPicture(briefing=plan.briefing),))


def _track(state: State, _: datetime) -> Outcome:
    plan = state.last_shown
    return _no_plan(state) if plan is None else (state, (SendTrack(briefing=plan.briefing),))


def _export(state: State, _: datetime) -> Outcome:
    return state, (ExportData(),)


def _erase(state: State, _: datetime) -> Outcome:
    line = "Erase everything kept of you, for good? yes erases it, anything else leaves it."
    return say(replace(state, question=Confirm(then=Then.ERASE)), state.words.say(line))


# What is kept, looked at again, drawn, written or hushed.
_KEEPING: Mapping[Topic, Callable[[State, datetime], Outcome]] = {
    Topic.LOOK_AGAIN: unasked.again,
    Topic.RIDDEN: ridden.done,
    Topic.NEVER_MIND: _never_mind,
    Topic.LOG: keeping.asked,
    Topic.HOME_SAFE: keeping.home_safe,
    Topic.QUIET: quiet_hours.until_evening,
    Topic.QUIET_NIGHT: quiet_hours.until_morning,
    Topic.SPEAK_AGAIN: lambda state, _: quiet_hours.speak_again(state),
    Topic.PICTURE: _picture,
    Topic.TRACK: _track,
    Topic.EXPORT: _export,
    Topic.ERASE: _erase,
}


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
