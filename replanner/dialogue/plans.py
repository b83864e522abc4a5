"""A plan was asked for, came, or could not be made."""

from dataclasses import replace

from replanner.advice import text
from replanner.advice.briefing import Briefing, Decision
from replanner.dialogue import replies
from replanner.dialogue.changing import Outcome, ask_for, say
from replanner.dialogue.demands import lasting, tells_facts
from replanner.dialogue.events import (
    Effect,
    EveningCame,
    PlanArrived,
    PlanFailed,
    PlanShared,
    Remember,
    Say,
)
from replanner.dialogue.road_told import in_force, plan_text, tail_text
from replanner.dialogue.state import TRIALS, Purpose, Shown, State


def evening(state: State, event: EveningCame) -> Outcome:
    """Plan the day; what was agreed on for it stays in force, a new day begins afresh."""
    if event.day != state.day:
        state = replace(
            state,
            day=event.day,
            demands=lasting(state.demands),
            shown=None,
            accepted=None,
            own_caution_shown=False,
        )
    fresh = replace(state, trial=None, history=(), question=None, waiting=None, over=False)
    return ask_for(fresh, fresh.demands, replies.in_force(fresh.demands, fresh), Purpose.EVENING)


def arrived(state: State, event: PlanArrived) -> Outcome:
    """Show a plan that was asked for; an answer to an older question is let go."""
    if state.waiting is None or state.waiting.request != event.request:
        return state, ()
    purpose, here = state.waiting.purpose, replace(state, waiting=None)
    plan = Shown(
        briefing=event.briefing,
        demands=event.request.demands,
        wishes=state.demands if purpose is Purpose.PLAN_B else None,
    )
    match purpose:
        case Purpose.TRIAL:
            return _tried(here, plan, event.request.why_asked)
        case Purpose.WAY_HOME:
            return say(here, _first(event.request.why_asked, tail_text(plan, in_force(here))))
        case Purpose.OWN_WAY:
            told = plan_text(plan, here.shown, purpose)
            return say(here, _first(event.request.why_asked, told))
        case Purpose.PLAN_B:
            return say(replace(here, trial=plan), _plan_b(here, plan))
        case _:
            return _shown(here, plan, event.request.why_asked, purpose)


def shared(state: State, event: PlanShared) -> Outcome:
    """Show a plan another rider's word has led to: it is the group's now."""
    plan = Shown(briefing=event.briefing, demands=event.demands)
    taken = replace(state, shown=plan, trial=None, question=None, serial=state.serial + 1)
    return say(taken, _first(event.cause, text.message(event.briefing)))


def stale_press(state: State) -> Outcome:
    """Answer a button of an older plan with the present one."""
    older = state.words.say("That was an older plan.")
    if state.last_shown is None:
        return say(state, older)
    return say(state, _first(older, text.message(state.last_shown.briefing)))


def failed(state: State, event: PlanFailed) -> Outcome:
    """Say that there is no such plan; a closure stays noted all the same."""
    if state.waiting is None or state.waiting.request != event.request:
        return state, ()
    purpose, here = state.waiting.purpose, replace(state, waiting=None)
    if purpose is Purpose.PLAN_B and here.shown is not None:
        return say(here, f"{text.plan_b_text(here.shown.briefing)}\n{event.message}")
    if purpose in TRIALS:
        return say(here, _first(event.request.why_asked, event.message))
    if purpose is Purpose.EVENING or not here.history:
        return say(here, event.message)
    before = here.history[-1]
    if tells_facts(here.demands, before.demands):
        return say(here, _first(event.request.why_asked, event.message))
    back = replace(here, demands=before.demands, history=here.history[:-1])
    line = _first(event.request.why_asked, event.message, state.words.say("Left as it was."))
    return back, (Remember(day=back.day, memory=back.memory), Say(text=line))


def _shown(state: State, plan: Shown, echo: str, purpose: Purpose) -> Outcome:
    briefing, before = plan.briefing, state.shown
    own = purpose is Purpose.OWN_ORDER and not state.own_caution_shown and before is not None
    parts = [echo, text.own_order_text(before.briefing) if own and before else ""]
    parts.append(plan_text(plan, before, purpose))
    if state.accepted is not None and plan.demands.underway is None:
        parts.append(_against_the_accepted(state.accepted, briefing, state))
    said: list[Effect] = [Say(text=_first(*parts))]
    if not state.cautions_shown:
        said.append(Say(text=text.cautions_text(briefing)))
    after = replace(
        state,
        shown=plan,
        trial=None,
        cautions_shown=True,
        own_caution_shown=state.own_caution_shown or own,
    )
    if after.memory != state.memory:
        said.append(Remember(day=after.day, memory=after.memory))
    return after, tuple(said)


def _against_the_accepted(accepted: Shown, briefing: Briefing, state: State) -> str:
    if _alike(accepted.briefing, briefing):
        return state.words.say("The same as you accepted.")
    return state.words.say("The plan you accepted stands until you say ok to this one.")


def _alike(one: Briefing, other: Briefing) -> bool:
    return one.departure == other.departure and [
        (leg.id, leg.way, leg.start) for leg in one.legs
    ] == [(leg.id, leg.way, leg.start) for leg in other.legs]


def _tried(state: State, plan: Shown, echo: str) -> Outcome:
    if plan.demands.underway is not None:
        offer = state.words.say("Only tried: ok takes it, no drops it.")
        told = plan_text(plan, state.shown, Purpose.TRIAL)
        return say(replace(state, trial=plan), _first(echo, told, offer))
    if plan.briefing.decision is Decision.NO_WAY:
        stands = state.words.say("So there is no plan. The one before stands.")
        return say(state, _first(echo, text.message(plan.briefing), stands))
    tried = replace(state, trial=plan)
    if state.shown is None:
        return say(tried, _first(echo, text.message(plan.briefing)))
    told = text.differences(state.shown.briefing, plan.briefing)
    return say(tried, _first(echo, told, state.words.say("Only tried: ok takes it, no drops it.")))


def _plan_b(state: State, plan: Shown) -> str:
    """Return plan B as told before, or as planned anew where that comes out otherwise."""
    words, before = state.words, state.shown
    offer = words.say("Only shown: ok takes it, no drops it.")
    told = before.briefing.plan_b if before else None
    if before is None or told is None:
        return _first(text.message(plan.briefing), offer)
    if [leg.id for leg in told.legs] == [leg.id for leg in plan.briefing.legs]:
        return _first(text.plan_b_text(before.briefing), offer)
    anew = words.say("Planned through it becomes:")
    return _first(text.plan_b_text(before.briefing), anew, text.message(plan.briefing), offer)


def _first(*lines: str) -> str:
    return "\n".join(line for line in lines if line)
