"""What follows when the plan is to change: ask for a second yes, try, ask for a plan, undo, accept.

Nothing is accepted here but a plan that was shown; nothing that removes a caution is done on one
word alone; what adds a caution is done at once.
"""

from dataclasses import replace

from replanner.advice import text
from replanner.advice.briefing import Decision
from replanner.dialogue import replies
from replanner.dialogue.caution import only_adds_caution
from replanner.dialogue.demands import lifted
from replanner.dialogue.events import Accept, Effect, Remember, Replan, Say, StrikeLog, Withdraw
from replanner.dialogue.road_told import plan_text
from replanner.dialogue.state import TRIALS, UNASKED, Confirm, Purpose, Shown, State, Then, Waiting
from replanner.trip.edits import Demands

Outcome = tuple[State, tuple[Effect, ...]]


def say(state: State, line: str) -> Outcome:
    """Only say something."""
    return state, (Say(text=line),)


def change(state: State, demands: Demands, echo: str, *, trial: bool = False) -> Outcome:
    """Take up a wish: as a trial, after a second yes where it removes a caution, or at once."""
    if demands == state.demands:
        return say(state, f"{echo} {state.words.say('That is so already.')}")
    if trial:
        return ask_for(state, demands, echo, Purpose.TRIAL)
    if not state.leads and not only_adds_caution(state.demands, demands):
        return say(state, replies.leader_decides(state.words))
    gone = lifted(state.demands, demands, state.shown.briefing if state.shown else None)
    if gone:
        question = Confirm(then=Then.CHANGE, demands=demands, echo=echo)
        return say(replace(state, question=question), replies.second_yes(echo, gone, state))
    return make(state, demands, echo)


def make(state: State, demands: Demands, echo: str, purpose: Purpose = Purpose.CHANGE) -> Outcome:
    """Put demands into force and ask for the plan that follows from them."""
    changed = replace(state.turned(echo), demands=demands, trial=None)
    asked, effects = ask_for(changed, demands, echo, purpose)
    return asked, (Remember(day=asked.day, memory=asked.memory), *effects)


def ask_for(
    state: State, demands: Demands, echo: str, purpose: Purpose, *, wish: bool = False
) -> Outcome:
    """Ask the shell for a plan; a what-if waits for the change before it.

    `wish`: an older plan is no answer, though the purpose alone would let it be one.
    """
    pending = state.waiting.purpose if state.waiting else None
    if purpose in TRIALS and pending not in (None, *TRIALS):
        return say(state, state.words.say("A new plan is being made; see it first."))
    request = Replan(
        day=state.day,
        demands=demands,
        trial=purpose in TRIALS,
        wish=wish or purpose not in UNASKED,
        why_asked=echo,
    )
    return replace(state, waiting=Waiting(request=request, purpose=purpose)), (request,)


def accept(state: State) -> Outcome:
    """Accept the plan shown last, a what-if included."""
    plan = state.last_shown
    if plan is None or (hindrance := _no_ok(state, plan)):
        return say(state, hindrance if plan else state.words.say("There is no plan shown yet."))
    if is_accepted(state, plan):
        line = state.words.say("Accepted already: {plan}", plan=replies.line_one(plan.briefing))
        return say(state, line)
    gone = lifted(state.demands, plan.demands, state.shown.briefing if state.shown else None)
    if gone and plan.wishes is None:
        echo = replies.line_one(plan.briefing)
        question = Confirm(then=Then.ACCEPT, demands=plan.demands, echo=echo)
        return say(replace(state, question=question), replies.second_yes(echo, gone, state))
    return accept_now(state, plan)


def is_accepted(state: State, plan: Shown) -> bool:
    """Tell whether a shown plan is the accepted one, and nothing would change by another ok."""
    accepted = state.accepted
    return (
        accepted is not None
        and accepted.briefing == plan.briefing
        and plan.demands == state.demands
    )


def _no_ok(state: State, plan: Shown) -> str:
    """Return why a plan cannot be accepted, empty if it can."""
    words = state.words
    if state.waiting is not None:
        return words.say("A new plan is being made; see it first.")
    if plan.briefing.decision is Decision.NO_WAY:
        return words.say("There is no plan to accept. Say undo, or drop a wish.")
    closed = [leg.id for leg in plan.briefing.legs if leg.id in state.demands.closed]
    if closed:
        legs = replies.named(closed, state)
        return words.say("This plan rides {legs}, reported closed: no ok.", legs=legs)
    return ""


def accept_now(state: State, plan: Shown) -> Outcome:
    """Store a shown plan as the accepted one and bind the conversation to it."""
    echo = state.words.say("ok to {plan}", plan=replies.line_one(plan.briefing))
    bound = replace(state.turned(echo), demands=plan.demands, shown=plan, trial=None, accepted=plan)
    return bound, (
        Accept(briefing=plan.briefing, demands=plan.demands),
        Remember(day=bound.day, memory=bound.memory),
        Say(text=accepted_text(plan, bound)),
    )


def accepted_text(plan: Shown, state: State) -> str:
    """Return the answer to an ok; a plan on old data is accepted, but that is said."""
    briefing = plan.briefing
    if plan.demands.underway is None:
        line = text.accepted_text(briefing)
    else:
        line = f"{state.words.say('Accepted.')}\n{plan_text(plan, None, Purpose.CHANGE)}"
    if not (briefing.plan_stale or briefing.origin.stale):
        return line
    made = replies.clock(briefing.made_at, state)
    if briefing.plan_stale:
        old = state.words.say(
            "Mind: this is the last good plan, made {time}; no newer one could be made.", time=made
        )
    else:
        fetched = replies.clock(briefing.origin.fetched, state)
        old = state.words.say("Mind: it stands on an old forecast, fetched {time}.", time=fetched)
    return f"{line}\n{old}"


def undo(state: State) -> Outcome:
    """Take back the last change, marks included; a what-if is only dropped."""
    words = state.words
    if state.trial is not None:
        return drop_trial(state)
    if not state.history:
        return say(state, words.say("There is nothing to undo."))
    before = state.history[-1]
    gone = lifted(state.demands, before.demands, None)
    if gone.facts:
        question = Confirm(then=Then.UNDO, demands=before.demands, echo=_undone(state))
        return say(
            replace(state, question=question), replies.second_yes(question.echo, gone, state)
        )
    return undo_now(state)


def undo_now(state: State) -> Outcome:
    """Restore how things stood before the last change."""
    before = state.history[-1]
    restored = replace(
        state,
        demands=before.demands,
        shown=before.shown,
        trial=None,
        accepted=before.accepted,
        closed_down=before.closed_down,
        history=state.history[:-1],
        waiting=None,
    )
    effects: list[Effect] = []
    if before.accepted != state.accepted:
        effects.append(
            Withdraw(day=state.day)
            if before.accepted is None
            else Accept(briefing=before.accepted.briefing, demands=before.accepted.demands)
        )
    ridden = state.demands.ridden - before.demands.ridden
    if ridden:
        effects.append(StrikeLog(legs=ridden, day=state.day))
    if before.logged and before.logged_on is not None:
        effects.append(StrikeLog(legs=before.logged, day=before.logged_on))
    effects.append(Remember(day=restored.day, memory=restored.memory))
    plan = f"\n{plan_text(before.shown, None, Purpose.CHANGE)}" if before.shown else ""
    effects.append(Say(text=f"{_undone(state)}{plan}"))
    return restored, tuple(effects)


def as_one_turn(before: State, after: State) -> State:
    """Let all that was done since `before` be taken back by one undo."""
    new = after.history[len(before.history) :]
    if len(new) <= 1:
        return after
    turn = replace(
        new[0],
        what=" ".join(one.what for one in new),
        logged=frozenset().union(*(one.logged for one in new)),
    )
    return replace(after, history=(*before.history, turn))


def _undone(state: State) -> str:
    return state.words.say("Undo: {what}", what=state.history[-1].what)


def drop_trial(state: State) -> Outcome:
    """Forget a what-if."""
    return say(
        replace(state, trial=None), state.words.say("The what-if is dropped; the plan stands.")
    )
