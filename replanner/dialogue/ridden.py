"""What is told of legs: ridden or missed, of the day under way or of another."""

from datetime import datetime

from replanner.dialogue import changing, keeping, road
from replanner.dialogue.by_plan import stand, today
from replanner.dialogue.changing import Outcome
from replanner.dialogue.intent_types import LogDay
from replanner.dialogue.road_intent import RoadWord
from replanner.dialogue.road_told import in_force
from replanner.dialogue.state import State
from replanner.dialogue.topics import Topic


def is_ridden(state: State, sent: datetime) -> bool:
    """Tell whether the day spoken about is being ridden by a plan."""
    return today(state, sent) and not state.closed_down and in_force(state) is not None


def done(state: State, sent: datetime) -> Outcome:
    """Take "done" for the leg they are on; on none, ask what was ridden of the day."""
    here = stand(state, sent)
    if here is None or here.leg is None:
        return keeping.asked(state, sent)
    return road.heard(state, RoadWord(topic=Topic.RIDDEN, legs=(here.leg,)), sent)


def told_of_both(state: State, said: LogDay, sent: datetime) -> Outcome:
    """Mark what is ridden of the day under way; what was missed is logged before it.

    One undo takes both back.
    """
    word = RoadWord(topic=Topic.RIDDEN, legs=said.ridden)
    if not said.missed or not state.leads:
        return road.heard(state, word, sent)
    logged, first = keeping.of_a_line(state, LogDay((), said.missed), sent)
    after, effects = road.heard(logged, word, sent)
    return changing.as_one_turn(state, after), (*first, *effects)


def of_the_road(state: State, word: RoadWord, sent: datetime) -> Outcome:
    """Log what is no word of the road: of another day than the one spoken about, a road missed."""
    if word.trial or not word.legs:
        return road.heard(state, word, sent)
    if word.topic is Topic.RIDDEN and not today(state, sent):
        return keeping.of_a_line(state, LogDay(word.legs, ()), sent)
    if word.topic is Topic.BOAT_MISSED and not state.book.crossings & set(word.legs):
        missed = tuple((leg, "") for leg in word.legs)  # no boat was missed, but a road
        return keeping.of_a_line(state, LogDay((), missed), sent)
    return road.heard(state, word, sent)
