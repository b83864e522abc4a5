"""One event of a conversation, with all that follows from it, as one thing to keep or to let go.

`attend` runs the conversation until it needs nothing more and tells what came of it; nothing is
stored or said meanwhile. `keep` stores what came of it in one transaction. A channel says the
rest after that: what could not be stored was never said.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from replanner.advice.briefing import Briefing
from replanner.dialogue.events import (
    Accept,
    EraseData,
    Event,
    ExportData,
    Hush,
    LogLeg,
    PlanArrived,
    PlanFailed,
    Remember,
    Replan,
    Say,
    SendTrack,
    Share,
    ShowPicture,
    StrikeLog,
    TakeTour,
    Withdraw,
)
from replanner.dialogue.state import Shown, State
from replanner.dialogue.step import step
from replanner.errors import ReplannerError
from replanner.ports import PlanStore
from replanner.trip.edits import Demands


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepPlan:
    """A plan was made and shown: keep it, so that a night without a forecast has one."""

    briefing: Briefing
    demands: Demands


# What comes of an event once all plans asked for were made.
Upshot = (
    Say
    | ShowPicture
    | SendTrack
    | Share
    | KeepPlan
    | Accept
    | Withdraw
    | Remember
    | LogLeg
    | StrikeLog
    | Hush
    | TakeTour
    | ExportData
    | EraseData
)

# Makes the plan asked for; raises ReplannerError with the line for the rider. The flag tells
# whether it was made anew, or is the last good one.
Planner = Callable[[Replan], tuple[Briefing, bool]]


def attend(state: State, event: Event, planner: Planner) -> tuple[State, tuple[Upshot, ...]]:
    """Let one event happen, with the plans it asks for.

    Parameters
    ----------
    state : State
    event : Event
    planner : Planner

    Returns
    -------
    tuple of (State, tuple of Upshot)
        What the conversation has come to, and what came of it, in order.
    """
    after, effects = step(state, event)
    upshots: list[Upshot] = []
    for effect in effects:
        if not isinstance(effect, Replan):
            upshots.append(effect)
            continue
        made_anew = False
        try:
            briefing, made_anew = planner(effect)
        except ReplannerError as error:
            answer: PlanArrived | PlanFailed = PlanFailed(message=str(error), request=effect)
        else:
            answer = PlanArrived(briefing=briefing, request=effect)
        after, following = attend(after, answer, planner)
        shown = after.shown
        if made_anew and shown is not None and _is_shown(shown, answer):
            upshots.append(KeepPlan(briefing=shown.briefing, demands=shown.demands))
        upshots += following
    return after, tuple(upshots)


def _is_shown(shown: Shown, answer: PlanArrived | PlanFailed) -> bool:
    """Tell whether a plan has become the one shown: what was only looked at is not kept.

    A what-if may come to the very plan that is shown: its wishes are nobody's all the same.
    """
    if isinstance(answer, PlanFailed) or answer.request.trial:
        return False
    return shown.briefing is answer.briefing


def keep(store: PlanStore, tour_key: str, upshots: Sequence[Upshot], now: datetime) -> None:
    """Store of what came of an event all that belongs to the tour.

    Raises
    ------
    StoreError
        If it cannot be stored.
    """
    for upshot in upshots:
        match upshot:
            case KeepPlan(briefing=briefing, demands=demands):
                store.keep_plan(tour_key, briefing, accepted=False, demands=demands)
            case Accept(briefing=briefing, demands=demands):
                store.keep_plan(tour_key, briefing, accepted=True, demands=demands)
            case Withdraw(day=day):
                store.withdraw(tour_key, day)
            case Remember(day=day, memory=memory):
                store.remember(tour_key, day, memory)
            case LogLeg():
                store.log(tour_key, upshot, now)
            case StrikeLog(legs=legs, day=day):
                store.strike_log(tour_key, legs, day)
            case _:
                pass  # said, shown or sent by the channel, or of the rider, not of the tour
