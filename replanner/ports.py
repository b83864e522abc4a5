"""What the core asks of the world: protocols, implemented in the shell."""

from collections.abc import Sequence
from contextlib import AbstractContextManager
from datetime import date, datetime, time, timedelta
from typing import Any, Protocol

from replanner.advice.briefing import Briefing
from replanner.dialogue.events import LogLeg, Memory
from replanner.dialogue.kept import KeptTalk
from replanner.people import ChatId, Group, GroupId, Invitation, Member, MemberId, Role
from replanner.post import Arrived, Claimed, Due, DueKind, Letter, PlanRef
from replanner.trip.edits import Demands
from replanner.trip.model import LegId
from replanner.weather.hourly import ForecastSource

__all__ = ["ForecastSource", "People", "PlanStore", "PostOffice", "Work"]


class PlanStore(Protocol):
    """Keeps what must outlive a run. `tour_key` tells tours apart."""

    def last_plan(self, tour_key: str, day: date) -> Briefing | None:
        """Return the newest stored plan of that day, accepted ones before others."""
        ...

    def newest_plan(self, tour_key: str, day: date) -> Briefing | None:
        """Return the newest stored plan of that day, accepted or not."""
        ...

    def accepted_plan(self, tour_key: str, day: date) -> Briefing | None:
        """Return the accepted plan of that day."""
        ...

    def keep_plan(
        self,
        tour_key: str,
        briefing: Briefing,
        *,
        accepted: bool,
        demands: Demands | None = None,
    ) -> PlanRef:
        """Store a plan, and the demands it was made under, in one transaction.

        An accepted plan takes the place of the one accepted before on that day. A plan that is
        stored already is not stored twice when it is not to be accepted: it keeps its version.
        """
        ...

    def keep_to_show(self, tour_key: str, briefing: Briefing) -> PlanRef:
        """Store a plan only to draw or to write it: a what-if does not become the newest plan."""
        ...

    def withdraw(self, tour_key: str, day: date) -> None:
        """Let no plan of that day be accepted any more."""
        ...

    def remember(self, tour_key: str, day: date, memory: Memory) -> None:
        """Keep what a conversation about that day must not forget."""
        ...

    def recall(self, tour_key: str, day: date) -> Memory:
        """Return what was kept, an empty memory if nothing was.

        What other days' demands say of this day too is part of it: legs moved to or from it,
        nights spent elsewhere, reports that have not expired by its end.
        """
        ...

    def plan(self, ref: PlanRef) -> Briefing | None:
        """Return a stored plan."""
        ...

    def talk(self, tour_key: str, who: MemberId) -> tuple[KeptTalk | None, int] | None:
        """Return a conversation as kept (None: unreadable) and its revision; None: none was."""
        ...

    def keep_talk(self, tour_key: str, who: MemberId, talk: KeptTalk, revision: int) -> None:
        """Keep a conversation whose revision was `revision` (0: a new one).

        Raises
        ------
        ConflictError
            If another run has kept it meanwhile: nothing of this transaction is stored.
        """
        ...

    def log(self, tour_key: str, entry: LogLeg, at: datetime) -> None:
        """Write down what became of a leg, instead of what was written of it on that day."""
        ...

    def strike_log(self, tour_key: str, legs: frozenset[LegId], day: date) -> None:
        """Take back what was written down."""
        ...

    def logged(self, tour_key: str) -> tuple[LogLeg, ...]:
        """Return all that was written down, oldest first."""
        ...


class Work(PlanStore, Protocol):
    """One transaction: all of it is stored, or nothing."""

    def close_arrival(self, number: int) -> None:
        """Mark something that arrived as dealt with.

        Raises
        ------
        ConflictError
            If it was dealt with already.
        """
        ...

    def post(self, letters: Sequence[Letter]) -> None:
        """Keep letters to be sent; those whose key is known are left as they are."""
        ...

    def drop_waiting(self, chat: ChatId, slot: str) -> None:
        """Drop letters of a slot that are not sent yet."""
        ...

    def settle(self, due: Due, then: datetime | None) -> None:
        """Mark something due as done; `then` is when it is due next, None: not again.

        Raises
        ------
        ConflictError
            If it was done already.
        """
        ...

    def set_due(self, kind: DueKind, owner: int, at: datetime | None) -> None:
        """Set when something is due next; None: not at all."""
        ...

    def change_member(self, member: Member) -> None:
        """Keep what a member has set."""
        ...

    def join(
        self, code: str, chat: ChatId, now: datetime, defaults: tuple[str, time, time, time]
    ) -> Member | None:
        """Let a chat use an invitation; None: no such code, used, or expired.

        `defaults` are the zone, the evening hour, and from when to when it is quiet.
        """
        ...

    def change_tour(self, group: GroupId, text: str) -> Group:
        """Give a group another tour file."""
        ...

    def set_aside(self, group: GroupId, token: str, text: str) -> None:
        """Keep a tour file until the leader has said yes; the one set aside before goes."""
        ...

    def aside(self, group: GroupId, token: str) -> str | None:
        """Return a tour file set aside."""
        ...

    def erase(self, member: MemberId) -> None:
        """Erase everything of a member; with the last one, everything of the group."""
        ...

    def forget_positions(self, before: date) -> None:
        """Erase every position of days before that date, wherever it was kept."""
        ...


class People(Protocol):
    """Who may talk to us."""

    def member_of(self, chat: ChatId) -> Member | None:
        """Return the member a chat belongs to."""
        ...

    def member(self, member: MemberId) -> Member | None:
        """Return a member."""
        ...

    def group(self, group: GroupId) -> Group | None:
        """Return a group."""
        ...

    def members(self, group: GroupId) -> tuple[Member, ...]:
        """Return the members of a group, leaders first."""
        ...

    def group_riding(self, tour_text: str) -> Group | None:
        """Return the group whose tour file has exactly that text."""
        ...

    def new_group(self, tour_text: str) -> Group:
        """Make a group for a tour."""
        ...

    def invite(self, group: GroupId, role: Role, expires: datetime) -> str:
        """Return a code for one chat; only its hash is kept."""
        ...

    def invitation(self, code: str) -> Invitation | None:
        """Return what a code is good for, None if nothing."""
        ...

    def export(self, member: MemberId) -> dict[str, Any]:
        """Return everything kept of a member, by table."""
        ...


class PostOffice(Protocol):
    """What came in and what goes out, and when something is due; safe against a second process."""

    def work(self) -> AbstractContextManager[Work]:
        """Begin one transaction; left without an error, it is stored."""
        ...

    def receive(self, arrivals: Sequence[Arrived], now: datetime) -> None:
        """Keep what arrived; what is known already is left as it is."""
        ...

    def waiting(self, limit: int) -> tuple[Arrived, ...]:
        """Return the oldest thing not dealt with of each chat, oldest first."""
        ...

    def last_number(self) -> int | None:
        """Return the highest number that ever arrived."""
        ...

    def claim(self, now: datetime, lease: timedelta, limit: int) -> tuple[Claimed, ...]:
        """Take on letters that may be sent now, oldest first, for as long as the lease runs.

        At most one of a chat at a time, so that a chat gets them in order. One whose earlier
        lease ran out comes again, marked.
        """
        ...

    def sent(
        self, row: int, message: int | None, now: datetime, rest: timedelta = timedelta(0)
    ) -> None:
        """Mark a letter as sent; `message` is the service's number of it.

        The chat's next letter is not sent before the rest is over.
        """
        ...

    def put_back(self, row: int, not_before: datetime, *, doubtful: bool, cause: str) -> None:
        """Let a letter be sent later; `doubtful`: it may have arrived all the same."""
        ...

    def give_up(self, row: int, cause: str, now: datetime) -> None:
        """Never send a letter: refused for good, or useless by now."""
        ...

    def claim_due(self, now: datetime, lease: timedelta, limit: int) -> tuple[Due, ...]:
        """Take on what is due, earliest first, for as long as the lease runs."""
        ...

    def posted(self, prefix: str) -> frozenset[str]:
        """Return the keys of all letters kept, sent or not, that begin so."""
        ...

    def tidy(self, before: datetime) -> None:
        """Erase what was sent, given up or dealt with before that instant."""
        ...

    def counts(self) -> dict[str, int]:
        """Return how much waits, was sent, failed: for an operator to look at."""
        ...
