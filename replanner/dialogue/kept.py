"""A conversation as it is kept between two events, and taken up again by what the group has since.

A rider's own part (what he was shown, what he was asked, what he can undo) is kept by itself; what
is in force for the group (wishes, the accepted plan, alerts) is the group's, and may have moved on
by another rider's word.
"""

from dataclasses import dataclass, replace
from datetime import date

from replanner.advice.briefing import Briefing
from replanner.dialogue.book import TourBook
from replanner.dialogue.events import Memory
from replanner.dialogue.state import (
    Choice,
    Confirm,
    Parked,
    Shown,
    State,
    Turn,
    begin,
    made_under,
    parked,
)
from replanner.trip.edits import Demands

_TURNS_KEPT = 5  # each holds up to two plans: more would make every event slow to keep


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptTalk:
    """What is kept of a rider's own part of a conversation about a day.

    `accepted` is kept for the demands it was made under: those in force have moved on since.
    """

    day: date
    demands: Demands
    shown: Shown | None
    trial: Shown | None
    history: tuple[Turn, ...]
    question: Confirm | Choice | None
    own_caution_shown: bool
    cautions_shown: bool
    serial: int
    accepted: Shown | None = None
    parked: Parked | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Common:
    """What the group has come to about a day.

    Parameters
    ----------
    memory : Memory
    accepted, last : Briefing or None
        The accepted plan of the day, and the newest one (the accepted one before others).
    """

    memory: Memory
    accepted: Briefing | None
    last: Briefing | None


def kept(state: State) -> KeptTalk:
    """Return what to keep of a conversation."""
    return KeptTalk(
        day=state.day,
        demands=state.demands,
        shown=state.shown,
        trial=state.trial,
        history=state.history[-_TURNS_KEPT:],
        question=state.question,
        own_caution_shown=state.own_caution_shown,
        cautions_shown=state.cautions_shown,
        serial=state.serial,
        accepted=state.accepted,
        parked=state.parked,
    )


def taken_up(
    talk: KeptTalk | None,
    common: Common,
    day: date,
    *,
    tour_key: str,
    book: TourBook,
    leads: bool,
) -> State:
    """Take a conversation up where it was left.

    Parameters
    ----------
    talk : KeptTalk or None
        None: the first word.
    common : Common
        Of that day.
    day : date
        The day spoken about now: what was said of another day is left behind.
    leads : bool
        Whether the rider decides for the group.

    Returns
    -------
    State
        If the group's wishes have moved on since, the plan shown is the group's newest, and there
        is nothing to undo or to answer any more.
    """
    fresh = begin(tour_key, book, day, memory=common.memory, accepted=common.accepted)
    fresh = replace(fresh, leads=leads)
    if talk is None:
        return replace(_with_last(fresh, common), own_caution_shown=False, cautions_shown=False)
    own = replace(fresh, serial=talk.serial, cautions_shown=talk.cautions_shown, parked=talk.parked)
    if talk.accepted is not None and talk.accepted.briefing == common.accepted:
        own = replace(own, accepted=talk.accepted)
    if talk.day != day:
        left = parked(talk.day, talk.demands, talk.shown, talk.parked)
        return _moved_on(replace(own, parked=left), common, talk)
    own = replace(own, own_caution_shown=talk.own_caution_shown)
    if talk.demands != fresh.demands or talk.shown is None:
        return _moved_on(own, common, talk)
    return replace(
        own, shown=talk.shown, trial=talk.trial, history=talk.history, question=talk.question
    )


def _moved_on(own: State, common: Common, talk: KeptTalk) -> State:
    """Go on from the group's newest plan: a button shown before it is of an older one."""
    now = _taken_back(own) or _with_last(own, common)
    same = now.shown == (talk.trial or talk.shown) and talk.question is None
    return now if same else replace(now, serial=talk.serial + 1)


def _taken_back(state: State) -> State | None:
    """Show the plan made on the road again, if the group's wishes are still those; else None."""
    left = state.parked
    if left is None or left.day != state.day or left.demands != state.demands:
        return None
    return replace(state, shown=left.shown, parked=None)


def _with_last(state: State, common: Common) -> State:
    if common.last is None:
        return state
    if state.accepted is not None and state.accepted.briefing == common.last:
        return replace(state, shown=state.accepted)
    demands = made_under(state.demands, common.last)
    return replace(state, shown=Shown(briefing=common.last, demands=demands))
