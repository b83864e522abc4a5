"""On the road: where the riders are, what they met, what became of the day."""

from dataclasses import replace

from replanner.dialogue.changing import Outcome, make
from replanner.dialogue.events import PositionCame, Remember
from replanner.dialogue.state import State


def position(state: State, event: PositionCame) -> Outcome:
    """Plan the rest of the day from a position; a live one is only noted."""
    demands = replace(state.demands, underway=event.underway)
    if event.live:
        noted = replace(state, demands=demands, progress=event.progress)
        return noted, (Remember(day=noted.day, memory=noted.memory),)
    return make(state, demands, state.words.say("From where you are."))
