"""What every answer on the road needs: where the riders are, and the rest of the day from there."""

from dataclasses import replace
from datetime import datetime

from replanner.advice.text_road import road_tail
from replanner.dialogue.by_plan import Stand, stand, today
from replanner.dialogue.changing import Outcome, ask_for, change, make, say
from replanner.dialogue.road_told import in_force
from replanner.dialogue.state import Purpose, State
from replanner.trip.edits import Demands


def nowhere(state: State, sent: datetime) -> Outcome:
    """Say why nothing can be reckoned from where the riders are."""
    words = state.words
    if today(state, sent):
        return say(state, words.say("There is no plan to reckon by. Share your position."))
    return say(state, words.say("That is for the road: this day is not being ridden."))


def from_here(
    state: State,
    here: Stand,
    demands: Demands,
    echo: str,
    purpose: Purpose = Purpose.CHANGE,
) -> Outcome:
    """Plan the rest of the day from where the riders are, after a second yes where needed."""
    wanted = replace(demands, underway=here.underway)
    line = f"{echo} {here.told}"
    if purpose is Purpose.CHANGE:
        return change(state, wanted, line)
    return make(state, wanted, line, purpose)


def tried(state: State, here: Stand, demands: Demands, echo: str) -> Outcome:
    """Show the rest of the day as it would be; kept only after an ok."""
    wanted = replace(demands, underway=here.underway)
    return ask_for(state, wanted, f"{echo} {here.told}", Purpose.TRIAL)


def own_way(state: State, sent: datetime, here: Stand | None = None) -> Outcome:
    """Show one who does not lead his way home; nothing of it is kept."""
    here = here or stand(state, sent)
    if here is None:
        return nowhere(state, sent)
    echo = state.words.say("Who leads decides for the group; for you alone, the way home.")
    wanted = replace(state.demands, underway=here.underway, homeward=True)
    return ask_for(state, wanted, f"{echo} {here.told}", Purpose.OWN_WAY)


def with_tail(state: State, sent: datetime, *lines: str) -> Outcome:
    """Answer, and end with what every answer on the road ends with; nothing is changed."""
    plan, here = in_force(state), stand(state, sent)
    if plan is None or not today(state, sent):
        return say(state, "\n".join(line for line in lines if line))
    told = "\n".join(line for line in lines if line)
    if here is None or state.waiting is not None:
        return say(state, "\n".join((told, road_tail(plan.briefing, sent))))
    wanted = replace(state.demands, underway=here.underway)
    return ask_for(state, wanted, told, Purpose.WAY_HOME)
