"""Files a rider sent: a tour file to take up, a track to log by."""

from replanner.dialogue.changing import Outcome, say
from replanner.dialogue.events import TourCame, TrackCame
from replanner.dialogue.state import State


def came(state: State, event: TourCame | TrackCame) -> Outcome:
    """Say what a file is."""
    if isinstance(event, TrackCame) and event.refusal:
        return say(state, event.refusal)
    if isinstance(event, TourCame) and event.mistakes:
        return say(state, "\n".join(event.mistakes))
    return say(state, state.words.say("{name}: read.", name=event.name))
