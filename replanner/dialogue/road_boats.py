"""Boats and tides on the road: off, missed, and what the board at the causeway says."""

from dataclasses import replace
from datetime import datetime, timedelta

from replanner.clock import local_instant
from replanner.dialogue import replies
from replanner.dialogue.by_plan import Stand, stand
from replanner.dialogue.changing import Outcome, change, say
from replanner.dialogue.road_change import from_here, nowhere, with_tail
from replanner.dialogue.road_intent import RoadWord
from replanner.dialogue.road_told import in_force
from replanner.dialogue.state import State
from replanner.dialogue.topics import Topic
from replanner.trip.model import LegId, LegKind, Way
from replanner.trip.reported import report_of
from replanner.trip.underway import ReportKind

# Whoever has missed a boat says so when its boarding is over, not an hour before it sails.
_BOARDING = timedelta(minutes=40)
_A_MINUTE = timedelta(minutes=1)


def boat(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Take that a boat does not go, until tonight."""
    leg, words = _crossing(state, word), state.words
    if leg is None:
        return with_tail(state, sent, words.say("There is no crossing on this day."))
    if word.trial:
        return with_tail(state, sent, words.say("I know sailings from the tour file only."))
    told = report_of(leg, ReportKind.NO_SAILING, sent, state.book.tz)
    wanted = replace(state.demands, reports=state.demands.reports | {told})
    echo = words.say("No boat until tonight: {leg}.", leg=replies.named((leg,), state))
    here = stand(state, sent)
    return change(state, wanted, echo) if here is None else from_here(state, here, wanted, echo)


def missed(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Plan on from the quay without the boat that is gone: the next one, or the way round."""
    leg, here, words = _crossing(state, word), stand(state, sent), state.words
    if leg is None:
        return with_tail(state, sent, words.say("There is no crossing on this day."))
    if here is None:
        return nowhere(state, sent)
    gone = _gone(state, leg, sent)
    until = (gone or sent) + _A_MINUTE
    told = replace(report_of(leg, ReportKind.NO_SAILING, sent, state.book.tz), until=until)
    wanted = replace(state.demands, reports=state.demands.reports | {told})
    name = replies.named((leg,), state)
    echo = (
        words.say("Missed the {time} of {leg}.", time=replies.clock(gone, state), leg=name)
        if gone
        else words.say("Missed {leg}.", leg=name)
    )
    return from_here(state, _at_quay(state, here, leg, sent), wanted, echo)


def next_boat(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Tell the boat of the plan."""
    leg, plan, words = _crossing(state, word), in_force(state), state.words
    for planned in plan.briefing.legs if plan else ():
        if planned.id == leg and planned.sailing is not None:
            name = replies.named((planned.id,), state)
            time = replies.clock(planned.sailing, state)
            return with_tail(state, sent, words.say("{leg}: boat {time}.", leg=name, time=time))
    return with_tail(state, sent, words.say("No boat is in this plan."))


def _crossing(state: State, word: RoadWord) -> LegId | None:
    """Return the crossing meant: the one named, the plan's, or the day's."""
    if word.legs:
        return word.legs[0]
    plan, day = in_force(state), state.book.day(state.day)
    planned = tuple(leg.id for leg in plan.briefing.legs) if plan else ()
    done = state.demands.ridden
    for leg in (*planned, *(day.legs if day else ())):
        if dict(state.book.kinds).get(leg) == LegKind.CROSSING and leg not in done:
            return leg
    return None


def _gone(state: State, leg: LegId, sent: datetime) -> datetime | None:
    """Return the sailing of the plan that is gone or full; None: none was planned about now."""
    plan = in_force(state)
    for planned in plan.briefing.legs if plan else ():
        if planned.id == leg:
            near = planned.sailing is not None and planned.sailing - sent <= _BOARDING
            return planned.sailing if near else None
    return None


def _at_quay(state: State, here: Stand, leg: LegId, sent: datetime) -> Stand:
    """Return the riders at the quay of a crossing, with nothing of it ridden."""
    plan, road = in_force(state), state.book.road.leg(leg)
    planned = plan.briefing.legs if plan else ()
    ways = [one.way for one in planned if one.id == leg]
    from_it_on = (
        {one.id for one in planned[[one.id for one in planned].index(leg) :]} if ways else {leg}
    )
    if road is None:
        return here
    quay = road.end if ways[:1] == [Way.REVERSE] else road.start
    name = state.book.place(quay)
    underway = replace(
        here.underway,
        place=quay,
        on_leg=None,
        point=None,
        turning_back=False,
        ready=sent,
        ridden=here.underway.ridden - from_it_on,
        boarding=None,
    )
    return replace(here, underway=underway, told=state.words.say("You are at {where}.", where=name))


def tide_board(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Let the board beat the table: a causeway that it closes before the plan is through is shut.

    A board that gives more time than the table loosens nothing.
    """
    words, plan = state.words, in_force(state)
    tidal = [
        (leg, road)
        for leg in (plan.briefing.legs if plan else ())
        if (road := state.book.road.leg(leg.id)) is not None
        and road.tide_margin_minutes is not None
    ]
    board = words.say("The tide board beats my table.")
    if word.wall is None or not tidal:
        line = words.say("Say: tide board says 11:30.") if tidal else ""
        none = "" if tidal else _no_tide(state)
        return with_tail(state, sent, " ".join(part for part in (board, line, none) if part))
    leg, road = tidal[0]
    name, shuts = (
        replies.named((leg.id,), state),
        local_instant(state.day, word.wall, state.book.tz),
    )
    margin = timedelta(minutes=road.tide_margin_minutes or 0.0)
    time = replies.clock(shuts, state)
    if leg.end + margin <= shuts:
        spare = (shuts - leg.end).total_seconds() / 60.0
        line = words.say(
            "Board: shut from {time}. {leg} is planned to be through {n} min before; my table "
            "stays where it is stricter.",
            time=time,
            leg=name,
            n=f"{spare:.0f}",
        )
        return with_tail(state, sent, line)
    here = stand(state, sent)
    echo = words.say("{board} Shut from {time}: {leg} not today.", board=board, time=time, leg=name)
    told = report_of(leg.id, ReportKind.CLOSED, sent, state.book.tz)
    wanted = replace(
        state.demands,
        reports=state.demands.reports | {told},
        forced=state.demands.forced - {leg.id},
    )
    return change(state, wanted, echo) if here is None else from_here(state, here, wanted, echo)


def _no_tide(state: State) -> str:
    """Say that no tide is crossed; a causeway that the table has kept out stays out."""
    words, day = state.words, state.book.day(state.day)
    out = [leg for leg in (day.legs if day else ()) if _is_tidal(state, leg)]
    none = words.say("No tide is crossed in this plan.")
    if not out:
        return none
    names = replies.named(out, state)
    return f"{none} {words.say('A board only tightens: {legs} stays out.', legs=names)}"


def _is_tidal(state: State, leg: LegId) -> bool:
    road = state.book.road.leg(leg)
    return road is not None and road.tide_margin_minutes is not None


def heard(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Answer a word about boats or tides."""
    match word.topic:
        case Topic.BOAT_MISSED:
            return missed(state, word, sent)
        case Topic.NEXT_BOAT:
            return next_boat(state, word, sent)
        case Topic.TIDE_BOARD:
            return tide_board(state, word, sent)
        case Topic.BOAT:
            return boat(state, word, sent)
        case _:
            return say(state, replies.not_understood((), state.words))
