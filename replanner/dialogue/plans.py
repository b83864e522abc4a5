"""A plan was asked for, came, or could not be made."""

from collections.abc import Callable, Mapping
from dataclasses import replace

from replanner.advice import text
from replanner.advice.briefing import Briefing, Decision
from replanner.dialogue import replies, unasked
from replanner.dialogue.buttons import with_buttons
from replanner.dialogue.caution import adds_caution
from replanner.dialogue.changing import Outcome, ask_for, say
from replanner.dialogue.demands import lasting, tells_facts
from replanner.dialogue.events import (
    Audience,
    Effect,
    EveningCame,
    PlanArrived,
    PlanFailed,
    PlanShared,
    Remember,
    Say,
    SendTrack,
    ShowPicture,
)
from replanner.dialogue.road_told import in_force, plan_text, tail_text
from replanner.dialogue.state import TRIALS, Purpose, Shown, State, parked
from replanner.hazards.model import NO_GO


def evening(state: State, event: EveningCame, *, asked: bool = False) -> Outcome:
    """Plan the day; what was agreed on for it stays in force, a new day begins afresh.

    Parameters
    ----------
    asked : bool
        The rider has asked for it now: an older plan is no answer.
    """
    if event.day != state.day:
        state = replace(
            state,
            day=event.day,
            demands=lasting(state.demands),
            shown=None,
            accepted=None,
            history=(),
            own_caution_shown=False,
            alerted=frozenset(),
            closed_down=False,
            progress=None,
            logged=frozenset(),
            parked=parked(state.day, state.demands, state.shown, state.parked),
        )
    fresh = replace(state, trial=None, question=None, waiting=None, over=False)
    echo = _first(event.note, replies.in_force(fresh.demands, fresh))
    return ask_for(fresh, fresh.demands, echo, Purpose.EVENING, wish=asked)


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
    if state.waiting.other is not None:
        return unasked.weighed(here, plan, state.waiting.other)
    told = _TOLD.get(purpose)
    outcome = told(here, plan, event) if told is not None else None
    if outcome is None:
        outcome = _shown(here, plan, event.request.why_asked, purpose)
    if purpose is Purpose.EVENING and not event.request.wish:
        return outcome[0], (*outcome[1], *_files_of(event.briefing))
    return outcome


def shared(state: State, event: PlanShared) -> Outcome:
    """Show a plan another rider's word has led to: it is the group's now.

    One that this rider has seen already is not shown again, only what became of it.
    """
    plan = Shown(briefing=event.briefing, demands=event.demands)
    seen = state.shown is not None and state.shown.briefing == event.briefing
    taken = replace(state, shown=plan, demands=event.demands, trial=None, question=None, history=())
    told = "" if seen else plan_text(plan, state.shown, Purpose.CHANGE)
    severities = [leg.severity for leg in event.briefing.legs]
    severities += [road.severity for road in event.briefing.roads or ()]
    urgent = not seen and any(severity >= NO_GO for severity in severities)
    line = _first(event.cause, told)
    return taken, (Say(text=line, urgent=urgent, useless_after=event.useless_after),)


def stale_press(state: State) -> Outcome:
    """Answer a button of an older plan with the present one."""
    older = state.words.say("That was an older plan.")
    present = state.last_shown
    if present is None:
        return say(state, older)
    return state, (with_buttons(state, _first(older, plan_text(present, None, Purpose.CHANGE))),)


def failed(state: State, event: PlanFailed) -> Outcome:
    """Say that there is no such plan; a closure stays noted all the same."""
    if state.waiting is None or state.waiting.request != event.request:
        return state, ()
    purpose, here = state.waiting.purpose, replace(state, waiting=None)
    if state.waiting.other is not None:
        return unasked.weighed(here, None, state.waiting.other)
    if purpose is Purpose.PLAN_B and here.shown is not None:
        return say(here, f"{text.plan_b_text(here.shown.briefing)}\n{event.message}")
    if purpose in TRIALS:
        return say(here, _first(event.request.why_asked, event.message))
    if purpose in _LOOKING or not here.history:
        return unasked.not_looked(here, purpose, event.message)
    return _not_changed(here, event)


def _not_changed(here: State, event: PlanFailed) -> Outcome:
    before = here.history[-1]
    if tells_facts(here.demands, before.demands):
        return _only_noted(here, event.request.why_asked, event.message)
    back = replace(here, demands=before.demands, history=here.history[:-1])
    line = _first(event.request.why_asked, event.message, here.words.say("Left as it was."))
    return back, (Remember(day=back.day, memory=back.memory), Say(text=line))


def _only_noted(state: State, echo: str, message: str) -> Outcome:
    """Say that what was met is noted though no plan could be made of it; the group is told too."""
    said = Say(text=_first(echo, message))
    before = state.history[-1].demands
    if not adds_caution(before, state.demands):
        return state, (said,)
    others = state.words.say(
        "{said} No new plan could be made of it yet.", said=echo.partition("\n")[0]
    )
    return state, (said, Say(text=others, to=Audience.OTHERS))


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


def _files_of(briefing: Briefing) -> tuple[Effect, ...]:
    """Return what goes with an evening's plan by itself, once: where nothing is ridden, nothing."""
    if not briefing.legs:
        return ()
    return ShowPicture(briefing=briefing, unasked=True), SendTrack(briefing=briefing, unasked=True)


def _against_the_accepted(accepted: Shown, briefing: Briefing, state: State) -> str:
    if _alike(accepted.briefing, briefing):
        if state.leads:
            return state.words.say("The same as you accepted.")
        return state.words.say("The same as your leader accepted.")
    if not state.leads:
        return state.words.say("The plan your leader accepted stands.")
    return state.words.say("The plan you accepted stands until you say ok to this one.")


def _alike(one: Briefing, other: Briefing) -> bool:
    return one.departure == other.departure and [
        (leg.id, leg.way, leg.start) for leg in one.legs
    ] == [(leg.id, leg.way, leg.start) for leg in other.legs]


def _tried(state: State, plan: Shown, event: PlanArrived) -> Outcome:
    echo = event.request.why_asked
    if plan.demands.underway is not None:
        offer = _offer(state)
        told = plan_text(plan, state.shown, Purpose.TRIAL)
        return say(replace(state, trial=plan), _first(echo, told, offer))
    if plan.briefing.decision is Decision.NO_WAY:
        stands = state.words.say("So there is no plan. The one before stands.")
        return say(state, _first(echo, text.message(plan.briefing), stands))
    tried = replace(state, trial=plan)
    if state.shown is None:
        return say(tried, _first(echo, text.message(plan.briefing)))
    told = text.differences(state.shown.briefing, plan.briefing)
    return say(tried, _first(echo, told, _offer(state)))


def _offer(state: State) -> str:
    if state.leads:
        return state.words.say("Only tried: ok takes it, no drops it.")
    return state.words.say("Only tried: your leader decides. no drops it.")


def _second(state: State, plan: Shown, _: PlanArrived) -> Outcome:
    return say(replace(state, trial=plan), _plan_b(state, plan))


def _own_way(state: State, plan: Shown, event: PlanArrived) -> Outcome:
    told = plan_text(plan, state.shown, Purpose.OWN_WAY)
    return say(state, _first(event.request.why_asked, told))


def _way_home(state: State, plan: Shown, event: PlanArrived) -> Outcome:
    return say(state, _first(event.request.why_asked, tail_text(plan, in_force(state))))


def _plan_b(state: State, plan: Shown) -> str:
    """Return plan B as told before, or as planned anew where that comes out otherwise."""
    words, before = state.words, state.shown
    offer = words.say("Only shown: ok takes it, no drops it.") if state.leads else _offer(state)
    told = before.briefing.plan_b if before else None
    if before is None or told is None:
        return _first(text.message(plan.briefing), offer)
    if [leg.id for leg in told.legs] == [leg.id for leg in plan.briefing.legs]:
        return _first(text.plan_b_text(before.briefing), offer)
    anew = words.say("Planned through it becomes:")
    return _first(text.plan_b_text(before.briefing), anew, text.message(plan.briefing), offer)


# How a plan is told that was not asked for to be the plan; None: it is to be, after all.
_TOLD: Mapping[Purpose, Callable[[State, Shown, PlanArrived], Outcome | None]] = {
    Purpose.TRIAL: _tried,
    Purpose.PLAN_B: _second,
    Purpose.OWN_WAY: _own_way,
    Purpose.WAY_HOME: _way_home,
    Purpose.LOOK: unasked.compared,
    Purpose.MORNING: unasked.morning,
    Purpose.ROAD_CHECK: unasked.road,
}
_LOOKING = frozenset({Purpose.EVENING, Purpose.LOOK, Purpose.MORNING, Purpose.ROAD_CHECK})


def _first(*lines: str) -> str:
    return "\n".join(line for line in lines if line)
