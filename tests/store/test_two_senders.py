"""Several processes on one database: nothing is claimed by two of them within a lease."""

import random
import time
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from multiprocessing.queues import Queue
from typing import Any

from replanner.errors import ConflictError
from replanner.post import Due, DueKind
from replanner.store.store import Store, open_store
from tests.dialogue.evening import SENT
from tests.store.processes import CONTEXT
from tests.store.things import joined, letter, post

PAST = datetime(2020, 1, 1, tzinfo=UTC)  # due by the clock on the wall
LEASE = timedelta(minutes=5)
CHATS, EACH, OWNERS = 20, 6, 300
PROCESSES = 3
_PATIENCE_SECONDS = 120


def _present() -> datetime:
    return datetime.now(UTC)


def _send(address: str, seed: int, told: "Queue[tuple[str, int, float, float]]") -> None:
    """Claim and send until nothing is left; tell each letter with when it was held."""
    store = open_store(address, _present)
    dice = random.Random(seed)
    while True:
        claimed = store.claim(_present(), LEASE, dice.randint(1, 5))
        for one in claimed:
            begun = time.monotonic()
            time.sleep(dice.random() * 0.004)
            told.put((one.letter.key, one.letter.chat, begun, time.monotonic()))
            store.sent(one.row, int(one.row), _present())
        if not claimed and store.counts()["letters waiting"] == 0:
            break
    store.close()


def _tick(address: str, seed: int, told: "Queue[tuple[str, int, float, float]]") -> None:
    """Claim what is due and do it, until nothing is."""
    store = open_store(address, _present)
    dice = random.Random(seed)
    while dues := store.claim_due(_present(), LEASE, dice.randint(1, 40)):
        for due in dues:
            told.put((due.kind.value, due.owner, 0.0, 0.0))
            with store.work() as work:
                work.settle(due, None)
    store.close()


def run(
    target: Callable[[str, int, Any], None], address: str, things: int
) -> list[tuple[str, int, float, float]]:
    """Let processes work at once; return what they told, in any order."""
    told: Queue[tuple[str, int, float, float]] = CONTEXT.Queue()
    children = [
        CONTEXT.Process(target=target, args=(address, seed, told)) for seed in range(PROCESSES)
    ]
    for child in children:
        child.start()
    try:
        heard = [told.get(timeout=_PATIENCE_SECONDS) for _ in range(things)]
        for child in children:
            child.join(_PATIENCE_SECONDS)
            assert child.exitcode == 0
    finally:
        for child in children:
            child.kill()
    assert told.empty()
    return heard


def test_each_letter_is_sent_once_and_in_the_order_of_its_chat(store: Store, address: str) -> None:
    joined(store, *range(CHATS))
    post(
        store,
        *(
            letter(f"{number} {chat}", chat, at=PAST)
            for number in range(EACH)
            for chat in range(CHATS)
        ),
    )
    heard = run(_send, address, CHATS * EACH)
    assert set(Counter((key, chat) for key, chat, *_ in heard).values()) == {1}
    assert store.counts()["letters sent"] == CHATS * EACH
    for chat in range(CHATS):
        mine = sorted((begun, over, key) for key, at, begun, over in heard if at == chat)
        assert [key for *_, key in mine] == [f"{number} {chat}" for number in range(EACH)]
        # one after another: none was begun while another of the chat was being sent
        assert all(one[1] <= other[0] for one, other in pairwise(mine))


def test_each_thing_due_is_done_once(store: Store, address: str) -> None:
    with store.work() as work:
        for owner in range(OWNERS):
            work.set_due(DueKind.EVENING, owner, PAST)
    heard = run(_tick, address, OWNERS)
    assert Counter(owner for _, owner, *_ in heard) == Counter(range(OWNERS))
    assert store.counts()["due"] == 0


def _settle(address: str, seed: int, told: "Queue[tuple[str, int, float, float]]") -> None:
    """Do the same thing as every other process, as if each had claimed it."""
    store = open_store(address, _present)
    for owner in range(30):
        due = Due(kind=DueKind.MORNING, owner=owner, at=SENT)
        try:
            with store.work() as work:
                work.post([letter(f"plan {owner} by {seed}", owner)])
                work.settle(due, None)
        except ConflictError:
            told.put(("late", owner, 0.0, 0.0))
        else:
            told.put(("first", owner, 0.0, 0.0))
    store.close()


def test_of_several_that_do_the_same_one_is_stored(store: Store, address: str) -> None:
    with store.work() as work:
        for owner in range(30):
            work.set_due(DueKind.MORNING, owner, SENT)
    heard = run(_settle, address, 30 * PROCESSES)
    assert Counter(owner for word, owner, *_ in heard if word == "first") == Counter(range(30))
    assert store.counts()["letters waiting"] == 30
