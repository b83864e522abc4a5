"""A line sent long before it arrived: it counts from when it was sent, and that is said first."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from replanner.dialogue.events import Effect, Replan, RiderSaid, Say
from replanner.dialogue.replies import clock
from replanner.dialogue.state import State

# Under way without signal is longer than that; a slow network is shorter. Assumption.
_LATE = timedelta(minutes=10)


def told_late(
    state: State, event: RiderSaid, effects: Sequence[Effect]
) -> tuple[State, tuple[Effect, ...]]:
    """Let the first thing said begin with the sent time, where that is long past.

    Where the answer waits for a plan, the plan is told with it. A call for help gets its number
    and nothing else.
    """
    if event.arrived is None or event.arrived - event.sent <= _LATE:
        return state, tuple(effects)
    line = state.words.say(
        "Sent {sent}, arrived {arrived}: I take it as of {sent}.",
        sent=clock(event.sent, state),
        arrived=clock(event.arrived, state),
    )
    done = list(effects)
    for number, effect in enumerate(effects):
        match effect:
            case Say(text=text, urgent=False):
                done[number] = replace(effect, text=f"{line}\n{text}")
                break
            case Replan(why_asked=why_asked):
                request = replace(effect, why_asked=f"{line}\n{why_asked}".strip())
                done[number] = request
                if state.waiting is not None and state.waiting.request == effect:
                    state = replace(state, waiting=replace(state.waiting, request=request))
                break
            case _:
                continue
    return state, tuple(done)
