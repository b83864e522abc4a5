"""Several riders, one plan: who decides, and what the others are shown of it.

The others see a plan when it is the group's: once it is accepted, when an accepted one is changed,
and at once where anybody added a caution. What the leader only tries out is not theirs to read.
"""

from collections.abc import Sequence

from replanner.advice.names import clean, shorten
from replanner.dialogue import replies
from replanner.dialogue.caution import adds_caution
from replanner.dialogue.changing import Outcome, say
from replanner.dialogue.events import (
    Accept,
    Audience,
    Effect,
    Event,
    PlanArrived,
    Pressed,
    RiderSaid,
    Say,
    Share,
)
from replanner.dialogue.intent_types import (
    Intent,
    KeepOrder,
    LeaveAt,
    Plain,
    Reopen,
    Ride,
    Skip,
    SwapLegs,
    ToDay,
)
from replanner.dialogue.state import UNASKED, Purpose, Shown, State
from replanner.dialogue.topics import Topic
from replanner.trip.edits import Demands

_WISHES = (Skip, Ride, ToDay, SwapLegs, LeaveAt)
_WISH_WIDTH = 60  # characters of a wish passed on
_AGREEMENTS = frozenset({Topic.YES, Topic.OK, Topic.ACCEPT, Topic.UNDO, Topic.START_OVER})
# Plans nobody has asked the group about: each rider's own evening, a look again that found nothing.
_NOT_OF_THE_GROUP = frozenset({*UNASKED, Purpose.LOOK})


def for_the_leader(state: State, intent: Intent) -> bool:
    """Tell whether what is meant is only for who leads; a what-if is for everybody."""
    if state.leads:
        return False
    match intent:
        case Plain(topic):
            trying = topic is Topic.UNDO and state.trial is not None
            return topic in _AGREEMENTS and not trying
        case KeepOrder() | Reopen():
            return True
        case _:
            return isinstance(intent, _WISHES) and not intent.trial


def leader_decides(state: State) -> Outcome:
    """Say so in one line, with what everybody may do."""
    return say(state, replies.leader_decides(state.words))


def with_wish(state: State, intent: Intent, line: str, outcome: Outcome) -> Outcome:
    """Pass on to the leaders what only they can change and somebody else has wished for."""
    wished = isinstance(intent, (*_WISHES, KeepOrder, Reopen))
    if not wished or not for_the_leader(state, intent):
        return outcome
    after, effects = outcome
    told = state.words.say(
        'A rider of your group wishes: "{line}". Say it yourself if you want it so.',
        line=shorten(clean(line), _WISH_WIDTH),
    )
    return after, (*effects, Say(text=told, to=Audience.LEADERS))


def with_share(
    before: State, after: State, event: Event, effects: Sequence[Effect]
) -> tuple[Effect, ...]:
    """Show the rest of the group a plan that has become theirs by an event.

    Parameters
    ----------
    before, after : State
        Before and after the event.
    effects : sequence of Effect
        What followed from it.
    """
    if any(isinstance(effect, Share) for effect in effects):
        return tuple(effects)
    shared = _shared(before, after, event, effects)
    return (*effects, shared) if shared is not None else tuple(effects)


def _shared(before: State, after: State, event: Event, effects: Sequence[Effect]) -> Share | None:
    words = after.words
    if _is_undo(before, after, event):
        if after.shown is None or not _concerns_the_group(before, after):
            return None
        return _share(
            after.shown, words.say("Your leader took back: {what}", what=before.history[-1].what)
        )
    accepted = [effect for effect in effects if isinstance(effect, Accept)]
    if accepted:
        newest = accepted[-1]
        return Share(
            briefing=newest.briefing,
            demands=newest.demands,
            cause=words.say("Your leader accepted this plan."),
        )
    if not isinstance(event, PlanArrived) or not _is_the_groups(before, after):
        return None
    return _changed(after, event)


def _is_the_groups(before: State, after: State) -> bool:
    """Tell whether a plan that came is the group's: an accepted one changed, a caution added."""
    waited = before.waiting
    if waited is None or waited.purpose in _NOT_OF_THE_GROUP:
        return False
    if after.shown is None or after.shown is before.shown:
        return False
    old = before.history[-1].demands if before.history else Demands()
    return before.accepted is not None or adds_caution(old, after.shown.demands)


def _changed(after: State, event: PlanArrived) -> Share | None:
    if after.shown is None:
        return None
    words = after.words
    said = event.request.why_asked.partition("\n")[0]
    who = words.say("Your leader") if after.leads else words.say("A rider of your group")
    return _share(after.shown, words.say("{who}: {said}", who=who, said=said))


def _is_undo(before: State, after: State, event: Event) -> bool:
    return isinstance(event, RiderSaid | Pressed) and len(after.history) < len(before.history)


def _concerns_the_group(before: State, after: State) -> bool:
    return (
        before.accepted is not None
        or after.accepted is not None
        or adds_caution(after.demands, before.demands)
    )


def _share(plan: Shown, cause: str) -> Share:
    return Share(briefing=plan.briefing, demands=plan.demands, cause=cause)
