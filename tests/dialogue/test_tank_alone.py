"""A full tank told together with a second thing that says no more, or with one that does.

Phrasings invented.
"""

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
               "perfect", "go for it"]  # fmt: skip


@pytest.mark.parametrize("more", AND_NO_MORE)
@pytest.mark.parametrize("full", FULL)
def test_a_full_tank_is_heard_with_whatever_says_no_more(full: str, more: str) -> None:
    for line in (f"{full}, {more}", f"{more}, {full}".replace("and ", "", 1)):
        assert understand(line, hearing()) == Plain(Topic.FILLED), line
    asked = understand(f"{full}, {more}?", hearing())
    assert asked == RoadWord(topic=Topic.FILLED, trial=True)


def test_a_full_tank_is_heard_at_its_place_with_whatever_says_no_more() -> None:
    meant = RoadWord(topic=Topic.FILLED, place="orrowick")
    assert understand("filled up at Orrowick, all good", hearing()) == meant
    assert understand("all good, fuelled up in orrowick and moving on", hearing()) == meant


@pytest.mark.parametrize(
    "line", ["not filled up, all good", "couldn't get fuel, moving on", "tank not full, lets go",
             "half full, all good", "filled up, not all good", "got no fuel, lets go",
             "fuel low, all good", "will fill up, moving on", "filled up, skip quern",
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
