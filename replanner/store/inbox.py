"""What came in, kept before the chat service is told so, and what is due when."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from sqlalchemy import and_, delete, func, or_, select, update

from replanner.post import Arrived, Due, DueKind
from replanner.store.rows import Rows, insert_or
from replanner.store.tables import arrivals, due

_AT_ONCE = 5_000  # rows named in one statement: both databases take several times as many


class InboxRows(Rows):
    """Arrivals and due hours within one transaction."""

    def receive(self, new: Sequence[Arrived], now: datetime) -> None:
        """Keep what arrived; what is known already is left as it is."""
        if new:
            self._connection.execute(
                insert_or(self._connection, arrivals).on_conflict_do_nothing(),
                [
                    {"number": one.number, "chat": one.chat, "raw": one.raw, "received_at": now}
                    for one in new
                ],
            )

    def waiting(self, limit: int) -> tuple[Arrived, ...]:
        """Return the oldest thing not dealt with of each chat, oldest first."""
        oldest = (
            select(func.min(arrivals.c.number).label("number"))
            .where(arrivals.c.dealt_at.is_(None))
            .group_by(arrivals.c.chat)
            .order_by("number")
            .limit(limit)
            .subquery()
        )
        rows = self._connection.execute(
            select(arrivals)
            .join(oldest, arrivals.c.number == oldest.c.number)
            .order_by(arrivals.c.number)
        )
        return tuple(Arrived(number=row.number, chat=row.chat, raw=row.raw) for row in rows)

    def last_number(self) -> int | None:
        """Return the highest number that ever arrived."""
        highest: int | None = self._connection.scalar(select(func.max(arrivals.c.number)))
        return highest

    def close_arrival(self, number: int) -> None:
        """Mark something that arrived as dealt with: its number stays, nothing else."""
        if number in self._transaction.erased_arrivals:
            self._transaction.erased_arrivals.remove(number)
            return
        done = self._connection.execute(
            update(arrivals)
            .where(arrivals.c.number == number, arrivals.c.dealt_at.is_(None))
            .values(dealt_at=self._transaction.now(), chat=None, raw=None)
        )
        self._require_one(done.rowcount, "what arrived was dealt with")

    def tidy_arrivals(self, before: datetime) -> None:
        """Erase the numbers of what was dealt with before that instant, but the highest."""
        over = and_(arrivals.c.dealt_at < before, arrivals.c.number < (self.last_number() or 0))
        self._connection.execute(delete(arrivals).where(over))

    def claim_due(self, now: datetime, lease: timedelta, limit: int) -> tuple[Due, ...]:
        """Take on what is due, earliest first, for as long as the lease runs."""
        free = or_(due.c.claimed_until.is_(None), due.c.claimed_until <= now)
        rows = self._connection.execute(
            select(due)
            .where(due.c.at <= now, free)
            .order_by(due.c.at, due.c.kind, due.c.owner)
            .limit(limit)
            .with_for_update(skip_locked=True)
        ).all()
        for kind in {row.kind for row in rows}:
            owners = [row.owner for row in rows if row.kind == kind]
            for start in range(0, len(owners), _AT_ONCE):
                some = owners[start : start + _AT_ONCE]
                self._connection.execute(
                    update(due)
                    .where(due.c.kind == kind, due.c.owner.in_(some))
                    .values(claimed_until=now + lease)
                )
        return tuple(Due(kind=DueKind(row.kind), owner=row.owner, at=row.at) for row in rows)

    def settle(self, one: Due, then: datetime | None) -> None:
        """Mark something due as done; `then` is when it is due next, None: not again."""
        same = and_(due.c.kind == one.kind.value, due.c.owner == one.owner, due.c.at == one.at)
        done = self._connection.execute(
            delete(due).where(same)
            if then is None
            else update(due).where(same).values(at=then, claimed_until=None)
        )
        self._require_one(done.rowcount, "what was due was done")

    def set_due(self, kind: DueKind, owner: int, at: datetime | None) -> None:
        """Set when something is due next; None: not at all. An unchanged hour keeps its lease."""
        if at is None:
            self._connection.execute(
                delete(due).where(due.c.kind == kind.value, due.c.owner == owner)
            )
            return
        self._connection.execute(
            insert_or(self._connection, due)
            .values(kind=kind.value, owner=owner, at=at)
            .on_conflict_do_update(
                index_elements=["kind", "owner"],
                set_={"at": at, "claimed_until": None},
                where=due.c.at != at,
            )
        )
