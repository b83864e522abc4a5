"""What is said unasked: in the morning, on the road, when somebody is overdue; mostly nothing."""

from replanner.dialogue.changing import Outcome, ask_for
from replanner.dialogue.events import MorningCame, OverdueCame, RoadCheckCame
from replanner.dialogue.state import Purpose, State


def looked_at(state: State, event: MorningCame | RoadCheckCame | OverdueCame) -> Outcome:
    """Look at the plan in force again."""
    match event:
        case MorningCame():
            return ask_for(state, state.demands, "", Purpose.MORNING)
        case RoadCheckCame():
            return ask_for(state, state.demands, "", Purpose.ROAD_CHECK)
        case OverdueCame():
            return state, ()
