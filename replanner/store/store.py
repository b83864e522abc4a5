"""Everything that outlives a run, on SQLite or PostgreSQL."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

from replanner.advice.briefing import Briefing
from replanner.dialogue.events import LogLeg, Memory
from replanner.dialogue.kept import KeptTalk
from replanner.people import ChatId, Group, GroupId, Invitation, Member, MemberId, Role
from replanner.post import Arrived, Claimed, Due, PlanRef
from replanner.store.backup import back_up
from replanner.store.database import Database
from replanner.store.opening import open_database
from replanner.store.rows import Transaction
from replanner.store.work import StoreWork
from replanner.trip.edits import Demands
from replanner.trip.model import LegId


def open_store(address: str, now: Callable[[], datetime]) -> "Store":
    """Open the state, made if it is not there, brought up to date if it is of an older version.

    Parameters
    ----------
    address : str
        As `address.database_url` reads it.
    now : callable
        The present instant, UTC-aware.

    Raises
    ------
    InputError, StoreError
        In one line, what is wrong with it; then nothing was touched.
    """
    return Store(open_database(address), now)


class Store:
    """A `PlanStore`, `People` and `PostOffice`: each method is a transaction of its own.

    Raises
    ------
    StoreError
        By every method: one line saying which database and what is wrong with it.
    """

    def __init__(self, database: Database, now: Callable[[], datetime]) -> None:
        self._database = database
        self._now = now
        self._sender = uuid4().hex

    def close(self) -> None:
        """Let the database go."""
        self._database.close()

    def backup(self, path: Path) -> None:
        """Write a copy as of now; see `backup.back_up`, also for how to go back to it."""
        back_up(self._database, path)

    @contextmanager
    def work(self) -> Iterator[StoreWork]:
        """Begin one transaction; left without an error, it is stored.

        Within it use its own methods only: those of the store would wait for its end.

        Raises
        ------
        ConflictError
            If another run was quicker, even where the error was caught within: nothing is stored.
        """
        with self._database.writing() as connection:
            transaction = Transaction(connection, self._database.where, self._now, writes=True)
            yield StoreWork(transaction)
            if transaction.conflict is not None:
                raise transaction.conflict
        if transaction.forgot:
            self._database.wipe()

    @contextmanager
    def _look(self) -> Iterator[StoreWork]:
        with self._database.reading() as connection:
            yield StoreWork(Transaction(connection, self._database.where, self._now))

    # Plans

    def last_plan(self, tour_key: str, day: date) -> Briefing | None:
        """Return the newest stored plan of that day, accepted ones before others."""
        with self._look() as look:
            return look.last_plan(tour_key, day)

    def newest_plan(self, tour_key: str, day: date) -> Briefing | None:
        """Return the newest stored plan of that day, accepted or not."""
        with self._look() as look:
            return look.newest_plan(tour_key, day)

    def accepted_plan(self, tour_key: str, day: date) -> Briefing | None:
        """Return the accepted plan of that day."""
        with self._look() as look:
            return look.accepted_plan(tour_key, day)

    def plan(self, ref: PlanRef) -> Briefing | None:
        """Return a stored plan."""
        with self._look() as look:
            return look.plan(ref)

    def keep_plan(
        self,
        tour_key: str,
        briefing: Briefing,
        *,
        accepted: bool,
        demands: Demands | None = None,
    ) -> PlanRef:
        """Store a plan, and the demands it was made under, in one transaction."""
        with self.work() as work:
            return work.keep_plan(tour_key, briefing, accepted=accepted, demands=demands)

    def keep_to_show(self, tour_key: str, briefing: Briefing) -> PlanRef:
        """Store a plan only to draw or to write it: a what-if does not become the newest plan."""
        with self.work() as work:
            return work.keep_to_show(tour_key, briefing)

    def withdraw(self, tour_key: str, day: date) -> None:
        """Let no plan of that day be accepted any more."""
        with self.work() as work:
            work.withdraw(tour_key, day)

    def remember(self, tour_key: str, day: date, memory: Memory) -> None:
        """Keep what a conversation about that day must not forget."""
        with self.work() as work:
            work.remember(tour_key, day, memory)

    def recall(self, tour_key: str, day: date) -> Memory:
        """Return what was kept for that day, with what other days' demands say of it."""
        with self._look() as look:
            return look.recall(tour_key, day)

    def talk(self, tour_key: str, who: MemberId) -> tuple[KeptTalk | None, int] | None:
        """Return a conversation as kept (None: unreadable) and its revision; None: none was."""
        with self._look() as look:
            return look.talk(tour_key, who)

    def keep_talk(self, tour_key: str, who: MemberId, talk: KeptTalk, revision: int) -> None:
        """Keep a conversation whose revision was `revision` (0: a new one)."""
        with self.work() as work:
            work.keep_talk(tour_key, who, talk, revision)

    def log(self, tour_key: str, entry: LogLeg, at: datetime) -> None:
        """Write down what became of a leg, instead of what was written of it on that day."""
        with self.work() as work:
            work.log(tour_key, entry, at)

    def strike_log(self, tour_key: str, legs: frozenset[LegId], day: date) -> None:
        """Take back what was written down."""
        with self.work() as work:
            work.strike_log(tour_key, legs, day)

    def logged(self, tour_key: str) -> tuple[LogLeg, ...]:
        """Return all that was written down, oldest first."""
        with self._look() as look:
            return look.logged(tour_key)

    # People

    def member_of(self, chat: ChatId) -> Member | None:
        """Return the member a chat belongs to."""
        with self._look() as look:
            return look.member_of(chat)

    def member(self, member: MemberId) -> Member | None:
        """Return a member."""
        with self._look() as look:
            return look.member(member)

    def group(self, group: GroupId) -> Group | None:
        """Return a group."""
        with self._look() as look:
            return look.group(group)

    def members(self, group: GroupId) -> tuple[Member, ...]:
        """Return the members of a group, leaders first."""
        with self._look() as look:
            return look.members(group)

    def group_riding(self, tour_text: str) -> Group | None:
        """Return the group whose tour file has exactly that text."""
        with self._look() as look:
            return look.group_riding(tour_text)

    def new_group(self, tour_text: str) -> Group:
        """Make a group for a tour."""
        with self.work() as work:
            return work.new_group(tour_text)

    def invite(self, group: GroupId, role: Role, expires: datetime) -> str:
        """Return a code for one chat; only its hash is kept."""
        with self.work() as work:
            return work.invite(group, role, expires)

    def invitation(self, code: str) -> Invitation | None:
        """Return what a code is good for, None if nothing."""
        with self._look() as look:
            return look.invitation(code)

    def export(self, member: MemberId) -> dict[str, Any]:
        """Return everything kept of a member, by table: rows as what JSON can hold."""
        with self._look() as look:
            return look.export(member)

    # Post

    def receive(self, arrivals: Sequence[Arrived], now: datetime) -> None:
        """Keep what arrived; what is known already is left as it is."""
        with self.work() as work:
            work.receive(arrivals, now)

    def waiting(self, limit: int) -> tuple[Arrived, ...]:
        """Return the oldest thing not dealt with of each chat, oldest first."""
        with self._look() as look:
            return look.waiting(limit)

    def last_number(self) -> int | None:
        """Return the highest number that ever arrived."""
        with self._look() as look:
            return look.last_number()

    def claim(self, now: datetime, lease: timedelta, limit: int) -> tuple[Claimed, ...]:
        """Take on letters that may be sent now, oldest first, at most one of a chat."""
        with self.work() as work:
            return work.claim(self._sender, now, lease, limit)

    def sent(
        self, row: int, message: int | None, now: datetime, rest: timedelta = timedelta(0)
    ) -> None:
        """Mark a letter as sent; `message` is the service's number of it.

        The chat's next letter is not sent before the rest is over.
        """
        with self.work() as work:
            work.sent(row, message, now, rest)

    def put_back(self, row: int, not_before: datetime, *, doubtful: bool, cause: str) -> None:
        """Let a letter be sent later; `doubtful`: it may have arrived all the same."""
        with self.work() as work:
            work.put_back(self._sender, row, not_before, doubtful=doubtful, cause=cause)

    def give_up(self, row: int, cause: str, now: datetime) -> None:
        """Never send a letter: refused for good, or useless by now."""
        with self.work() as work:
            work.give_up(row, cause, now)

    def claim_due(self, now: datetime, lease: timedelta, limit: int) -> tuple[Due, ...]:
        """Take on what is due, earliest first, for as long as the lease runs."""
        with self.work() as work:
            return work.claim_due(now, lease, limit)

    def posted(self, prefix: str) -> frozenset[str]:
        """Return the keys of all letters kept, sent or not, that begin so."""
        with self._look() as look:
            return look.posted(prefix)

    def tidy(self, before: datetime) -> None:
        """Erase what was sent, given up or dealt with before that instant."""
        with self.work() as work:
            work.tidy_letters(before)
            work.tidy_arrivals(before)

    def counts(self) -> dict[str, int]:
        """Return how much waits, was sent, failed: for an operator to look at."""
        with self._look() as look:
            return look.counts()
