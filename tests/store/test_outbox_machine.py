"""Any sequence of posting, claiming, sending, failing and time passing keeps the outbox's word.

The model is plain Python: what was delivered to each chat, as the chat sees it. A sender that
vanishes after the message got out is a step of its own.
"""

import tempfile
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    Bundle,
    RuleBasedStateMachine,
    invariant,
    multiple,
    precondition,
    rule,
)

from replanner.post import Claimed
from replanner.store.store import open_store
from tests.dialogue.evening import SENT
from tests.store.things import joined, letter, post

LEASE = timedelta(minutes=2)
CHATS = (1, 2, 3)
SLOTS = ("", "plan", "check")


class Outbox(RuleBasedStateMachine):
    """Two senders on one file, and what became of every letter."""

    held = Bundle("held")

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.now = SENT
        address = str(Path(self.folder.name) / "state.sqlite")
        self.senders = [open_store(address, lambda: self.now) for _ in range(2)]
        joined(self.senders[0], *CHATS)
        self.posted: dict[str, tuple[int, str]] = {}  # chat and slot, in order
        self.since: dict[str, datetime] = {}  # when it could first go, or could again
        self.leases: dict[str, datetime] = {}
        self.attempts: dict[str, int] = {}
        self.may_be_out: set[str] = set()  # the message may have been seen
        self.ended: set[str] = set()
        self.waits: dict[str, datetime] = {}
        self.newest: dict[tuple[int, str], int] = {}
        self.messages = 0

    def teardown(self) -> None:
        for sender in self.senders:
            sender.close()
        self.folder.cleanup()

    @rule(chat=st.sampled_from(CHATS), slot=st.sampled_from(SLOTS), again=st.booleans())
    def post_one(self, chat: int, slot: str, again: bool) -> None:
        key = f"{len(self.posted)}"
        if again and self.posted:
            key = next(iter(self.posted))  # known: nothing changes
            post(self.senders[0], letter(key, chat, slot=slot, at=self.now))
            return
        post(self.senders[0], letter(key, chat, slot=slot, at=self.now))
        self.posted[key] = (chat, slot)
        self.since[key] = self.now

    @rule(seconds=st.sampled_from([1, 30, 119, 120, 121, 600]))
    def time_passes(self, seconds: int) -> None:
        self.now += timedelta(seconds=seconds)

    def next_of(self, chat: int) -> str | None:
        """Return the one letter of a chat that may be claimed now, by the model."""
        mine = [key for key, (at, _) in self.posted.items() if at == chat and key not in self.ended]
        if not mine or any(self.leases.get(key, SENT) > self.now for key in mine):
            return None
        first = mine[0]
        return first if self.waits.get(first, SENT) <= self.now else None

    @rule(target=held, sender=st.sampled_from([0, 1]), limit=st.integers(1, 3))
    def claim(self, sender: int, limit: int) -> Any:
        expected = [key for chat in CHATS if (key := self.next_of(chat)) is not None]
        claimed = self.senders[sender].claim(self.now, LEASE, limit)
        keys = [one.letter.key for one in claimed]
        assert set(keys) <= set(expected)
        assert len(keys) == min(limit, len(expected))
        # who has waited longest first, a chat that was to be left alone since it may be told again
        assert keys == sorted(keys, key=lambda key: (self.since[key], int(key)))
        for one in claimed:
            key = one.letter.key
            assert one.again == (key in self.may_be_out)
            assert one.tries == self.attempts.get(key, 0)
            chat, slot = self.posted[key]
            assert one.edits == (self.newest.get((chat, slot)) if slot else None)
            self.attempts[key] = one.tries + 1
            self.leases[key] = self.now + LEASE
            self.may_be_out.add(key)  # from here on the sender may vanish
        return multiple(*((sender, one, one.tries + 1, self.was_out(one)) for one in claimed))

    def was_out(self, one: Claimed) -> bool:
        return one.again

    def holds(self, one: Claimed, attempt: int) -> bool:
        """Whether a sender still has it, by the model."""
        key = one.letter.key
        return (
            key not in self.ended
            and self.attempts[key] == attempt
            and self.leases.get(key, SENT) > self.now
        )

    @rule(take=held)
    def sent(self, take: tuple[int, Claimed, int, bool]) -> None:
        sender, one, attempt, _ = take
        if not self.holds(one, attempt):
            return
        self.messages += 1
        message = one.edits or self.messages
        self.senders[sender].sent(one.row, message, self.now)
        self.ended.add(one.letter.key)
        chat, slot = self.posted[one.letter.key]
        self.newest[chat, slot] = message

    @rule(take=held, doubtful=st.booleans(), seconds=st.sampled_from([0, 5, 300]))
    def fails(self, take: tuple[int, Claimed, int, bool], doubtful: bool, seconds: int) -> None:
        sender, one, attempt, was_out = take
        if not self.holds(one, attempt):
            return
        until = self.now + timedelta(seconds=seconds)
        self.senders[sender].put_back(one.row, until, doubtful=doubtful, cause="made up")
        key = one.letter.key
        del self.leases[key]
        self.waits[key] = self.since[key] = until
        if not doubtful and not was_out:
            self.may_be_out.discard(key)

    @rule(take=held)
    def given_up(self, take: tuple[int, Claimed, int, bool]) -> None:
        sender, one, attempt, _ = take
        if self.holds(one, attempt):
            self.senders[sender].give_up(one.row, "refused", self.now)
            self.ended.add(one.letter.key)

    @precondition(lambda self: self.posted)
    @rule(chat=st.sampled_from(CHATS), slot=st.sampled_from(SLOTS[1:]))
    def dropped(self, chat: int, slot: str) -> None:
        with self.senders[0].work() as work:
            work.drop_waiting(chat, slot)
        for key, of in self.posted.items():
            if of == (chat, slot) and self.leases.get(key, SENT) <= self.now:
                self.ended.add(key)

    @invariant()
    def nothing_is_lost(self) -> None:
        waiting = self.senders[1].counts()["letters waiting"]
        assert waiting == len(self.posted.keys() - self.ended)


Outbox.TestCase.settings = settings(
    max_examples=8,
    stateful_step_count=25,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)
TestOutbox = Outbox.TestCase
