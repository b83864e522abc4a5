"""Each rider's own part of a conversation, and the log of what became of the legs."""

import logging
from datetime import date, datetime

from sqlalchemy import and_, delete, insert, select, update

from replanner.dialogue.events import LogLeg, Outcome
from replanner.dialogue.kept import KeptTalk
from replanner.errors import StoreError
from replanner.people import MemberId
from replanner.store.rows import Rows
from replanner.store.tables import log, talks
from replanner.store.texts import TALKS
from replanner.trip.model import LegId

_LOG = logging.getLogger(__name__)


class TalkRows(Rows):
    """Talks and the log within one transaction."""

    def talk(self, tour_key: str, who: MemberId) -> tuple[KeptTalk | None, int] | None:
        """Return a conversation as it was kept, and its revision; None: none was.

        One that another version wrote and this one cannot read is begun anew: the group's plans
        and wishes are kept apart from it.
        """
        row = self._connection.execute(
            select(talks.c.talk, talks.c.revision).where(
                talks.c.tour_key == tour_key, talks.c.member == who
            )
        ).first()
        if row is None:
            return None
        try:
            talk = TALKS.read(row.talk, where=f"{self._where}, talk of member {who}")
        except StoreError as error:
            _LOG.warning("%s", error)
            talk = None
        return talk, row.revision

    def keep_talk(self, tour_key: str, who: MemberId, talk: KeptTalk, revision: int) -> None:
        """Keep a conversation whose revision was `revision` (0: a new one)."""
        self._hold(tour_key)
        mine = and_(talks.c.tour_key == tour_key, talks.c.member == who)
        kept = self._connection.scalar(select(talks.c.revision).where(mine))
        values = {
            "day": talk.day,
            "talk": TALKS.write(talk),
            "revision": revision + 1,
            "kept_at": self._transaction.now(),
        }
        if kept is None and revision == 0:
            self._connection.execute(insert(talks).values(tour_key=tour_key, member=who, **values))
            return
        done = self._connection.execute(
            update(talks).where(mine, talks.c.revision == revision).values(**values)
        )
        self._require_one(done.rowcount, "the conversation was carried on")

    def log(self, tour_key: str, entry: LogLeg, at: datetime) -> None:
        """Write down what became of a leg, instead of what was written of it on that day."""
        self.strike_log(tour_key, frozenset({entry.leg}), entry.day)
        self._connection.execute(
            insert(log).values(
                tour_key=tour_key,
                day=entry.day,
                leg=entry.leg,
                outcome=entry.outcome.value,
                remark=entry.remark,
                written_at=at,
            )
        )

    def strike_log(self, tour_key: str, legs: frozenset[LegId], day: date) -> None:
        """Take back what was written down."""
        self._hold(tour_key)
        self._connection.execute(
            delete(log).where(log.c.tour_key == tour_key, log.c.day == day, log.c.leg.in_(legs))
        )

    def logged(self, tour_key: str) -> tuple[LogLeg, ...]:
        """Return all that was written down, oldest first."""
        self._hold(tour_key)
        rows = self._connection.execute(
            select(log)
            .where(log.c.tour_key == tour_key)
            .order_by(log.c.written_at, log.c.day, log.c.leg)
        )
        return tuple(
            LogLeg(leg=row.leg, day=row.day, outcome=Outcome(row.outcome), remark=row.remark)
            for row in rows
        )
