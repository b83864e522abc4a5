"""What riders type on the road. Phrasings invented, modelled on the trade's forty replies (common
practice, no source). Miles and knots: exact by definition (1609.344 m; 1852 m an hour).
"""

from datetime import time

import pytest

from replanner.dialogue.intent_types import (
    Close,
    Intent,
    Late,
    LeaveAt,
    Plain,
    Reopen,
    UnknownName,
    Which,
    topic_of,
)
from replanner.dialogue.intents import understand
from replanner.dialogue.phrases_road import ROAD_PHRASES
from replanner.dialogue.road_intent import ROAD_LINES, ROAD_TOPICS, RoadWord
from replanner.dialogue.topics import Topic
from tests.dialogue.evening import hearing
from tests.dialogue.slips import slips_of
from tests.dialogue.test_intents import changes_the_plan


def word(topic: Topic, *legs: str, **other: object) -> RoadWord:
    return RoadWord(topic=topic, legs=legs, **other)


SAID: dict[str, Intent] = {
    "running 40 late": Late(40.0),
    "we're running half an hour late": Late(30.0),
    "20 min behind": Late(20.0),
    "lost an hour": Late(60.0),
    "stopping 20 min": word(Topic.STOPPING, minutes=20.0),
    "lunch 45": word(Topic.STOPPING, minutes=45.0),
    "stop here an hour": word(Topic.STOPPING, minutes=60.0),
    "having coffee 15 min": word(Topic.STOPPING, minutes=15.0),
    "stopping for lunch": Plain(Topic.STOPPING),
    "done quern": word(Topic.RIDDEN, "quern"),
    "Quern Point loop done": word(Topic.RIDDEN, "quern"),
    "finished the saddle": word(Topic.RIDDEN, "hask"),
    "quern and gannet are done": word(Topic.RIDDEN, "quern", "gannet"),
    "at orrowick": word(Topic.AT_PLACE, place="orrowick"),
    "i am at Sable": word(Topic.AT_PLACE, place="sable"),
    "reached sable": word(Topic.AT_PLACE, place="sable"),
    "now on quern": word(Topic.AT_PLACE, "quern"),
    "turning back": Plain(Topic.TURNING_BACK),
    "turned round": Plain(Topic.TURNING_BACK),
    "had to turn back": Plain(Topic.TURNING_BACK),
    "turning back on hask saddle": word(Topic.TURNING_BACK, "hask"),
    "shortest way home": Plain(Topic.HOME),
    "take me home": Plain(Topic.HOME),
    "we've had enough": Plain(Topic.HOME),
    "deep gravel on the quern loop": word(Topic.GRAVEL, "quern"),
    "fresh chippings on brindle loop": word(Topic.GRAVEL, "brindle"),
    "loose gravel here": Plain(Topic.GRAVEL),
    "mud on the causeway": word(Topic.MUD, "causeway"),
    "hask saddle is very muddy": word(Topic.MUD, "hask"),
    "black ice on hask saddle": word(Topic.SLIPPERY, "hask"),
    "diesel on the brindle low road": word(Topic.SLIPPERY, "brindle-low"),
    "oil here": Plain(Topic.SLIPPERY),
    "the gravel has been swept": Plain(Topic.SWEPT),
    "gravel swept on brindle loop": word(Topic.SWEPT, "brindle"),
    "brindle loop has been swept": word(Topic.SWEPT, "brindle"),
    "windy": Plain(Topic.WIND_SEEN),
    "it's really windy": Plain(Topic.WIND_SEEN),
    "strong gusts on hask saddle": word(Topic.WIND_SEEN, "hask"),
    "blown all over the road": Plain(Topic.BLOWN),
    "getting blown about": Plain(Topic.BLOWN),
    "it's raining here": Plain(Topic.WET_SEEN),
    "wet on hask saddle": word(Topic.WET_SEEN, "hask"),
    "fog bank ahead": Plain(Topic.FOG_SEEN),
    "foggy on the saddle": word(Topic.FOG_SEEN, "hask"),
    "it's dry here": Plain(Topic.DRY_SEEN),
    "hask saddle is dry": word(Topic.DRY_SEEN, "hask"),
    "we hear thunder": Plain(Topic.THUNDER),
    "lightning close": Plain(Topic.THUNDER),
    "so tired": Plain(Topic.TIRED),
    "need a break": Plain(Topic.TIRED),
    "pillion is freezing": Plain(Topic.COLD),
    "can't feel my fingers": Plain(Topic.COLD),
    "got a puncture": Plain(Topic.BREAKDOWN),
    "bike broken down": Plain(Topic.BREAKDOWN),
    "moving by 14:30": word(Topic.MOVING, wall=time(14, 30)),
    "moving again at 3": word(Topic.MOVING, wall=time(15)),
    "it's fixed": Plain(Topic.MOVING),
    "fuel": Plain(Topic.FUEL),
    "where's the nearest fuel": Plain(Topic.FUEL),
    "fuel 60": word(Topic.FUEL, km=60.0, said="60 km"),
    "fuel 60 miles": word(Topic.FUEL, km=96.56064, said="60 miles"),
    "60 miles left": word(Topic.FUEL_LEFT, km=96.56064, said="60 miles"),
    "fuel for 80 km": word(Topic.FUEL_LEFT, km=80.0, said="80 km"),
    "filled up": Plain(Topic.FILLED),
    "just got petrol": Plain(Topic.FILLED),
    "tank is full": Plain(Topic.FILLED),
    "filled up?": word(Topic.FILLED, trial=True),
    "where can I fill up": Plain(Topic.FUEL),
    "tank is empty": Plain(Topic.FUEL),
    "fuel in 60 miles": word(Topic.FUEL_AHEAD, km=96.56064, said="60 miles"),
    "the boat is off": Plain(Topic.BOAT),
    "no ferry today": Plain(Topic.BOAT),
    "kelp narrows ferry is cancelled": word(Topic.BOAT, "kelp"),
    "the ferry was full": Plain(Topic.BOAT_MISSED),
    "next boat": Plain(Topic.NEXT_BOAT),
    "stay at sable": word(Topic.STAY, place="sable"),
    "staying another night": Plain(Topic.STAY),
    "reverse quern": word(Topic.REVERSE, "quern"),
    "other way round": Plain(Topic.REVERSE),
    "someone is leaving": Plain(Topic.GROUP),
    "can I fly here": Plain(Topic.DRONE),
    "gust limit 30 knots": word(Topic.LIMIT, said="30 knots", metres_per_second=30 * 1852 / 3600),
    "saw the sign": Plain(Topic.SIGN_SEEN),
    "somebody told me": Plain(Topic.HEARSAY),
    "road closed at the saddle": Close(("hask",)),
    "quern is closed, sign says so": Close(("quern",)),
    "quern shut, saw the barrier": Close(("quern",)),
    "juiced up": Plain(Topic.FILLED),
    "need juice": Plain(Topic.FUEL),
    "hask saddle is open again": Reopen(("hask",)),
}


@pytest.mark.parametrize(("line", "meant"), SAID.items(), ids=SAID.keys())
def test_a_line_on_the_road_means_what_a_rider_means_by_it(line: str, meant: Intent) -> None:
    assert understand(line, hearing()) == meant


def test_at_least_sixty_phrasings_of_the_road_are_tried() -> None:
    assert len(SAID) >= 60


@pytest.mark.parametrize("line", SAID)
def test_no_slip_of_the_finger_becomes_another_word_that_changes_the_plan(line: str) -> None:
    """A mistyped figure or unit is another figure, and is echoed: the topic and the legs count."""

    def kernel(intent: Intent) -> object:
        if isinstance(intent, LeaveAt) or getattr(intent, "topic", None) is Topic.MOVING:
            return "off"  # "going by 3" and "moving by 3" come to the same
        if isinstance(intent, RoadWord):
            return intent.topic, intent.legs, intent.place
        return intent.topic if isinstance(intent, Plain) else intent

    meant = SAID[line]
    wrong = {
        slipped: heard
        for slipped in slips_of(line)
        if changes_the_plan(heard := understand(slipped, hearing()))
        and not (isinstance(meant, Late) and isinstance(heard, Late))
        and kernel(heard) != kernel(meant)
    }
    assert not wrong


def test_a_question_about_the_road_reports_nothing() -> None:
    for line in ("gravel on quern?", "is it wet on hask saddle", "could we be at sable"):
        heard = understand(line, hearing())
        assert not changes_the_plan(heard) or getattr(heard, "trial", True), line


def test_where_two_roads_fit_the_rider_is_asked_and_each_answer_is_understood() -> None:
    heard = understand("gravel on the brindle", hearing())
    assert isinstance(heard, Which)
    meant = [understand(option.says, hearing()) for option in heard.options]
    assert meant == [word(Topic.GRAVEL, "brindle"), word(Topic.GRAVEL, "brindle-low")]


def test_an_unknown_place_is_told_with_the_nearest_two() -> None:
    heard = understand("at timbuktu", hearing())
    assert isinstance(heard, UnknownName)
    assert set(heard.near) <= {"Orrowick", "Sable"}


def test_each_topic_of_the_road_has_phrases_and_a_sure_line_where_it_takes_legs() -> None:
    assert set(ROAD_PHRASES) >= ROAD_TOPICS
    for topic, (shape, *_) in ROAD_LINES.items():
        heard = understand(shape.format(legs="Quern Point loop"), hearing())
        if topic is Topic.DRONE:
            continue  # what is said after "fly at" is not looked up
        assert isinstance(heard, RoadWord), shape
        assert (heard.topic, heard.legs) == (topic, ("quern",))


@pytest.mark.parametrize(
    "line", ["not filled up", "haven't filled up", "didn't get petrol", "tank is not full",
             "half full tank", "need to fill up", "fill up", "filled with joy"],
)  # fmt: skip
def test_who_has_not_filled_up_is_not_taken_to_have(line: str) -> None:
    assert topic_of(understand(line, hearing())) is not Topic.FILLED


def test_what_is_no_figure_is_no_fuel() -> None:
    heard = understand("fuel in banana", hearing())
    assert heard == Plain(Topic.FUEL)  # asked where the next pump is, no distance taken
