"""The rest of a day as it is told on the road, by what it was asked for."""

from replanner.advice import text
from replanner.advice.text_road import Manner, road_text
from replanner.dialogue.state import Purpose, Shown

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
        manner=_MANNERS.get(purpose, Manner.RIDING),
        homeward=plan.demands.homeward,
    )
