"""The rest of a day as it is told on the road, by what it was asked for."""

from replanner.advice import text
from replanner.advice.text_road import Manner, road_tail, road_text, way_home
from replanner.dialogue.state import Purpose, Shown, State

_MANNERS = {Purpose.SHELTER: Manner.SHELTER, Purpose.STRANDED: Manner.STRANDED}


def plan_text(plan: Shown, before: Shown | None, purpose: Purpose) -> str:
    """Return a plan as it is told: the evening's message, or the few lines of the road.

    Parameters
    ----------
    plan : Shown
    before : Shown or None
        The plan shown before it.
    purpose : Purpose
        What it was asked for.
    """
    underway = plan.demands.underway
    if underway is None:
        return text.message(plan.briefing)
    return road_text(
        plan.briefing,
        underway.at,
        before=before.briefing if before else None,
        ridden=underway.gone,
        manner=_MANNERS.get(purpose, Manner.RIDING),
        homeward=plan.demands.homeward,
    )


def in_force(state: State) -> Shown | None:
    """Return the plan the riders ride by: the newest made on the road, else the accepted one."""
    shown = state.shown
    if shown is not None and shown.demands.underway is not None:
        return shown
    return state.accepted or shown


def tail_text(rest: Shown, plan: Shown | None) -> str:
    """Return what an answer on the road ends with: of the plan in force, and the way home from now.

    Parameters
    ----------
    rest : Shown
        The rest of the day as it would be planned now. Where it is the plan in force, its times
        and what is to spare are the newer ones.
    plan : Shown or None
        The plan in force.
    """
    underway = rest.demands.underway
    if underway is None:
        return ""
    new = [leg.id for leg in rest.briefing.legs]
    old = [leg.id for leg in plan.briefing.legs] if plan else []
    same = plan is None or (new and new == old[-len(new) :])
    told = rest.briefing if same or plan is None else plan.briefing
    lines = (road_tail(told, underway.at), way_home(rest.briefing))
    return "\n".join(line for line in lines if line)
