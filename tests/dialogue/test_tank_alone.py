"""A full tank told together with a second thing that says no more, or with one that does.

Phrasings invented.
"""

from dataclasses import replace

import pytest

from replanner.dialogue.events import Accept, RiderSaid
from replanner.dialogue.intent_types import Plain, topic_of
from replanner.dialogue.intents import understand
from replanner.dialogue.road_intent import RoadWord
from replanner.dialogue.topics import Topic
from tests.dialogue.evening import hearing
from tests.dialogue.phrasings import When, happen, under_way

FULL = ["filled up", "fuelled up", "got fuel", "tank full", "just put petrol in", "refuelled",
        "tanks brimmed", "full tank", "all filled up now"]  # fmt: skip
AND_NO_MORE = ["all good", "moving on", "lets go", "and off again", "and off we go", "ok", "yes",
               "great", "on our way", "back on the road", "all good lets go", "do it", "accept",
               "perfect", "go for it", "rolling", "heading off now", "back on the bike",
               "carrying on"]  # fmt: skip
GOING = ["moving on", "lets go", "and off again", "and off we go", "on our way",
         "back on the road", "all good lets go", "rolling", "heading off now", "back on the bike",
         "carrying on"]  # fmt: skip


@pytest.mark.parametrize("more", AND_NO_MORE)
@pytest.mark.parametrize("full", FULL)
def test_a_full_tank_is_heard_with_whatever_says_no_more(full: str, more: str) -> None:
    full_here = RoadWord(topic=Topic.FILLED, going_on=more in GOING)
    for line in (f"{full}, {more}", f"{more}, {full}".replace("and ", "", 1)):
        meant = understand(line, hearing())
        assert meant == (full_here if more in GOING else Plain(Topic.FILLED)), line
    asked = understand(f"{full}, {more}?", hearing())
    assert asked == replace(full_here, trial=True)


def test_a_full_tank_is_heard_at_its_place_with_whatever_says_no_more() -> None:
    meant = RoadWord(topic=Topic.FILLED, place="orrowick")
    assert understand("filled up at Orrowick, all good", hearing()) == meant
    off = understand("all good, fuelled up in orrowick and moving on", hearing())
    assert off == replace(meant, going_on=True)


@pytest.mark.parametrize(
    "line", ["got petrol and coffee, moving on", "fuelled and fed, off again",
             "tank's full, rolling", "had a coffee and filled up, heading off again",
             "stopped for fuel and lunch, leaving now", "full of gas and caffeine, carrying on",
             "refuelled, stretched the legs, away again", "done at the pump, riding on"],
)  # fmt: skip
def test_what_riders_had_at_the_pump_is_behind_them_when_they_go_on(line: str) -> None:
    assert understand(line, hearing()) == RoadWord(topic=Topic.FILLED, going_on=True)


def test_what_riders_had_at_the_pump_says_no_more() -> None:
    assert understand("fuelled and fed", hearing()) == Plain(Topic.FILLED)
    # By themselves these are stops that have begun, or are to be.
    for line in ("stopped for fuel", "stopped for petrol and coffee", "filled up, lunch"):
        assert topic_of(understand(line, hearing())) is not Topic.FILLED, line


@pytest.mark.parametrize(
    "line", ["not filled up, all good", "couldn't get fuel, moving on", "tank not full, lets go",
             "half full, all good", "filled up, not all good", "got no fuel, lets go",
             "fuel low, all good", "will fill up, moving on", "filled up, skip quern",
             "filled up, need lunch", "filled up, no coffee", "filled up, heading home",
             "getting petrol and coffee, then moving on", "stopping for fuel, then off again",
             "filled up, leaving at 10", "filled up, hask then lunch",
             "filled up but hask is closed", "filled up, running 20 late", "filled up, puncture"],
)  # fmt: skip
def test_what_says_more_than_a_full_tank_is_not_swallowed(line: str) -> None:
    assert topic_of(understand(line, hearing())) is not Topic.FILLED


# Also what is no phrase for a full tank, mistyped, or none at all.
OF_FUEL = [*FULL, "fuel", "juiced up", "filed up", "fueld up", "need petrol", "fuel stop over",
           "not filled up", "petrol in", "got gas"]  # fmt: skip


@pytest.mark.parametrize("when", When)
@pytest.mark.parametrize("fuel", OF_FUEL)
def test_a_line_of_fuel_never_accepts_a_plan(fuel: str, when: When) -> None:
    before, sent = under_way(when)
    for more in AND_NO_MORE:
        for line in (f"{fuel}, {more}", f"{fuel} {more}", f"{more}, {fuel}"):
            after, effects = happen(before, RiderSaid(text=line, sent=sent))
            assert after.accepted == before.accepted, line
            assert not any(isinstance(effect, Accept) for effect in effects), line
