"""What goes out: letters kept with the change they tell of, claimed, sent, marked."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from sqlalchemy import (
    ColumnElement,
    FromClause,
    Select,
    and_,
    case,
    delete,
    exists,
    func,
    or_,
    select,
    tuple_,
    update,
)
from sqlalchemy.engine import Row

from replanner.people import ChatId
from replanner.post import ANSWERS, Claimed, Letter, PlanPicture, PlanTrack, Words
from replanner.store.database import lock
from replanner.store.rows import Rows, insert_or
from replanner.store.tables import GIVEN_UP, SENT, USELESS, WAITING, letters, members
from replanner.store.texts import read_body, write_body


class OutboxRows(Rows):
    """Letters within one transaction."""

    def post(self, new: Sequence[Letter]) -> None:
        """Keep letters to be sent; those whose key is known are left as they are."""
        if new:
            self._connection.execute(
                insert_or(self._connection, letters).on_conflict_do_nothing(),
                [_as_row(letter) for letter in new],
            )

    def drop_waiting(self, chat: ChatId, slot: str) -> None:
        """Drop letters of a slot that are not sent yet; one being sent now is past dropping.

        Their keys stay known.
        """
        now = self._transaction.now()
        self._connection.execute(
            update(letters)
            .where(
                letters.c.chat == chat,
                letters.c.slot == slot,
                letters.c.state == WAITING,
                _free(now),
            )
            .values(state=USELESS, body=None, done_at=now, claimed_until=None, cause="dropped")
        )

    def claim(
        self, sender: str, now: datetime, lease: timedelta, limit: int
    ) -> tuple[Claimed, ...]:
        """Take on letters that may be sent now, at most one of a chat, answers first."""
        lock(self._connection, "replanner claim letters")
        self._drop_useless(now)
        rows = self._connection.execute(
            select(letters)
            .where(letters.c.state == WAITING, _due(now), _free(now), ~_behind_another(now))
            .order_by(
                letters.c.chat.not_in(_asking(now)), _is_file(letters), _since(), letters.c.id
            )
            .limit(limit)
            .with_for_update(skip_locked=True)
        ).all()
        if rows:
            lapsed = letters.c.claimed_until.is_not(None)
            self._connection.execute(
                update(letters)
                .where(letters.c.id.in_([row.id for row in rows]))
                .values(
                    claimed_by=sender,
                    claimed_until=now + lease,
                    tries=letters.c.tries + 1,
                    doubtful=case((lapsed, True), else_=letters.c.doubtful),
                )
            )
        return tuple(self._claimed(row) for row in rows)

    def sent(
        self, row: int, message: int | None, now: datetime, rest: timedelta = timedelta(0)
    ) -> None:
        """Mark a letter as sent; what it said is not kept, only that it went out.

        The chat's next letter is not sent before the rest is over.
        """
        values: dict[str, object] = {
            "state": SENT,
            "body": None,
            "done_at": now,
            "claimed_until": None,
        }
        if message is not None:
            values["message"] = message
        self._connection.execute(update(letters).where(letters.c.id == row).values(**values))
        if rest:
            self._rest(row, now + rest)
        self._forget_strangers(row)

    def _rest(self, row: int, until: datetime) -> None:
        """Let no other letter of the chat go out before that instant."""
        chat = select(letters.c.chat).where(letters.c.id == row).scalar_subquery()
        earlier = or_(letters.c.retry_at.is_(None), letters.c.retry_at < until)
        self._connection.execute(
            update(letters)
            .where(letters.c.chat == chat, letters.c.state == WAITING, earlier)
            .values(retry_at=until)
        )

    def put_back(
        self, sender: str, row: int, not_before: datetime, *, doubtful: bool, cause: str
    ) -> None:
        """Let a letter be sent later, unless another sender has it by now."""
        self._connection.execute(
            update(letters)
            .where(
                letters.c.id == row,
                letters.c.state == WAITING,
                or_(letters.c.claimed_by.is_(None), letters.c.claimed_by == sender),
            )
            .values(
                retry_at=not_before,
                claimed_by=None,
                claimed_until=None,
                doubtful=True if doubtful else letters.c.doubtful,
                cause=cause,
            )
        )

    def give_up(self, row: int, cause: str, now: datetime) -> None:
        """Never send a letter."""
        self._connection.execute(
            update(letters)
            .where(letters.c.id == row, letters.c.state == WAITING)
            .values(state=GIVEN_UP, body=None, cause=cause, done_at=now, claimed_until=None)
        )
        self._forget_strangers(row)

    def posted(self, prefix: str) -> frozenset[str]:
        """Return the keys of all letters kept, sent or not, that begin so."""
        begins = letters.c.key.startswith(prefix, autoescape=True)
        return frozenset(self._connection.scalars(select(letters.c.key).where(begins)))

    def tidy_letters(self, before: datetime) -> None:
        """Erase what was sent or given up before that instant."""
        over = and_(letters.c.state != WAITING, letters.c.done_at < before)
        self._connection.execute(delete(letters).where(over))

    def _drop_useless(self, now: datetime) -> None:
        self._connection.execute(
            update(letters)
            .where(letters.c.state == WAITING, letters.c.useless_after < now, _free(now))
            .values(state=USELESS, body=None, done_at=now, claimed_until=None)
        )

    def _forget_strangers(self, row: int) -> None:
        """Keep nothing of a chat that belongs to nobody (any more)."""
        known = select(members.c.id).where(members.c.chat == letters.c.chat)
        self._connection.execute(delete(letters).where(letters.c.id == row, ~exists(known)))

    def _claimed(self, row: Row[tuple[object, ...]]) -> Claimed:
        where = f"{self._where}, letter {row.id}"
        letter = Letter(
            key=row.key,
            chat=row.chat,
            body=read_body(row.kind, row.body, where=where),
            not_before=row.not_before,
            useless_after=row.useless_after,
        )
        return Claimed(
            row=row.id,
            letter=letter,
            again=row.doubtful or row.claimed_until is not None,
            edits=self._sent_before(row.chat, row.slot),
            tries=row.tries,
        )

    def _sent_before(self, chat: ChatId, slot: str) -> int | None:
        """Return the message that a letter of this slot takes the place of."""
        if not slot:
            return None
        return self._connection.scalar(
            select(letters.c.message)
            .where(
                letters.c.chat == chat,
                letters.c.slot == slot,
                letters.c.state == SENT,
                letters.c.message.is_not(None),
            )
            .order_by(letters.c.done_at.desc(), letters.c.id.desc())
            .limit(1)
        )


def _as_row(letter: Letter) -> dict[str, object]:
    kind, body = write_body(letter.body)
    return {
        "key": letter.key,
        "chat": letter.chat,
        "slot": letter.body.slot if isinstance(letter.body, Words) else "",
        "kind": kind,
        "body": body,
        "not_before": letter.not_before,
        "useless_after": letter.useless_after,
        "state": WAITING,
        "tries": 0,
        "doubtful": False,
    }


def _due(now: datetime) -> ColumnElement[bool]:
    retry = letters.c.retry_at
    return and_(letters.c.not_before <= now, or_(retry.is_(None), retry <= now))


def _asking(now: datetime) -> Select[tuple[int]]:
    """Return the chats that wait for an answer: what they are sent before it is in its way."""
    asks = letters.c.key.startswith(ANSWERS)
    return select(letters.c.chat).where(letters.c.state == WAITING, _due(now), asks)


def _since() -> ColumnElement[datetime]:
    """Return since when a letter may be sent: in a full house, who rests gives way to the first."""
    return func.coalesce(letters.c.retry_at, letters.c.not_before)


def _free(now: datetime) -> ColumnElement[bool]:
    """Nobody is sending it: it was not claimed, or the lease ran out."""
    return or_(letters.c.claimed_until.is_(None), letters.c.claimed_until <= now)


def _is_file(letter: FromClause) -> ColumnElement[int]:
    """Return 1 for files that go with an evening: all that is said goes before them, else 0."""
    kinds = [kind.__name__ for kind in (PlanPicture, PlanTrack)]
    unasked = and_(letter.c.kind.in_(kinds), letter.c.key.not_like(f"{ANSWERS}%"))
    return case((unasked, 1), else_=0)


def _behind_another(now: datetime) -> ColumnElement[bool]:
    """Another letter of the chat is being sent, or comes first: one put back holds its place."""
    other = letters.alias("other")
    before = tuple_(_is_file(other), other.c.not_before, other.c.id) < tuple_(
        _is_file(letters), letters.c.not_before, letters.c.id
    )
    return exists(
        select(other.c.id).where(
            other.c.chat == letters.c.chat,
            other.c.state == WAITING,
            other.c.id != letters.c.id,
            or_(other.c.claimed_until > now, and_(other.c.not_before <= now, before)),
        )
    )
