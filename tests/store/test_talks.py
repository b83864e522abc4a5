"""Conversations with their revisions, and the log of the legs."""

from datetime import timedelta

import pytest

from replanner.dialogue.events import LogLeg, Outcome
from replanner.errors import ConflictError
from replanner.store.store import Store
from tests.dialogue.evening import DAY
from tests.store.conftest import Clock
from tests.store.things import HERE, talk

NEXT = DAY + timedelta(days=1)


def test_a_conversation_counts_its_revisions(store: Store) -> None:
    assert store.talk("coast", 1) is None
    for revision in range(3):
        store.keep_talk("coast", 1, talk(serial=revision, now=HERE), revision)
        assert store.talk("coast", 1) == (talk(serial=revision, now=HERE), revision + 1)
    assert store.talk("coast", 2) is None
    assert store.talk("hills", 1) is None


@pytest.mark.parametrize("revision", [0, 1, 3])
def test_a_conversation_carried_on_meanwhile_is_a_conflict(store: Store, revision: int) -> None:
    store.keep_talk("coast", 1, talk(serial=1), 0)
    store.keep_talk("coast", 1, talk(serial=2), 1)
    with pytest.raises(ConflictError, match="carried on by another run"):
        store.keep_talk("coast", 1, talk(serial=9), revision)
    assert store.talk("coast", 1) == (talk(serial=2), 2)


def test_a_conversation_that_is_gone_is_a_conflict(store: Store) -> None:
    with pytest.raises(ConflictError):
        store.keep_talk("coast", 1, talk(), 4)
    assert store.talk("coast", 1) is None


def entry(leg: str, outcome: Outcome = Outcome.RIDDEN, remark: str = "") -> LogLeg:
    return LogLeg(leg=leg, day=DAY, outcome=outcome, remark=remark)


def test_the_log_tells_each_leg_once_a_day_oldest_first(store: Store, clock: Clock) -> None:
    store.log("coast", entry("quern", Outcome.MISSED, "fog"), clock.now)
    store.log("coast", entry("hask"), clock.on(hours=1))
    store.log("coast", entry("quern"), clock.on(hours=1))
    next_day = LogLeg(leg="quern", day=NEXT, outcome=Outcome.MISSED, remark="tārn")
    store.log("coast", next_day, clock.on(hours=1))
    assert store.logged("coast") == (entry("hask"), entry("quern"), next_day)
    assert store.logged("hills") == ()


def test_what_was_written_down_can_be_taken_back(store: Store, clock: Clock) -> None:
    for leg in ("quern", "hask", "kelp"):
        store.log("coast", entry(leg), clock.on(minutes=1))
    store.strike_log("coast", frozenset({"quern", "kelp", "never"}), DAY)
    store.strike_log("coast", frozenset({"hask"}), NEXT)
    store.strike_log("hills", frozenset({"hask"}), DAY)
    assert store.logged("coast") == (entry("hask"),)
