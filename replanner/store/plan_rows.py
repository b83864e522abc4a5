"""What was planned, what was accepted, what is in force."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import Select, func, insert, select, update

from replanner.advice.briefing import Briefing
from replanner.dialogue.events import Memory
from replanner.post import PlanRef
from replanner.store.recalling import recalled
from replanner.store.rows import Rows, insert_or
from replanner.store.tables import conversations, plans
from replanner.store.texts import BRIEFINGS, MEMORIES
from replanner.trip.edits import Demands


class PlanRows(Rows):
    """Plans and memories within one transaction."""

    def last_plan(self, tour_key: str, day: date) -> Briefing | None:
        """Return the newest stored plan of that day, accepted ones before others."""
        of_day = _of_day(tour_key, day)
        newest = of_day.order_by(plans.c.accepted.desc(), plans.c.version.desc())
        return self._plan(tour_key, newest)

    def newest_plan(self, tour_key: str, day: date) -> Briefing | None:
        """Return the newest stored plan of that day, accepted or not."""
        return self._plan(tour_key, _of_day(tour_key, day).order_by(plans.c.version.desc()))

    def accepted_plan(self, tour_key: str, day: date) -> Briefing | None:
        """Return the accepted plan of that day."""
        return self._plan(tour_key, _of_day(tour_key, day).where(plans.c.accepted))

    def plan(self, ref: PlanRef) -> Briefing | None:
        """Return a stored plan."""
        of_day = _any_of_day(ref.tour_key, ref.day)
        return self._plan(ref.tour_key, of_day.where(plans.c.version == ref.version))

    def keep_plan(
        self,
        tour_key: str,
        briefing: Briefing,
        *,
        accepted: bool,
        demands: Demands | None = None,
    ) -> PlanRef:
        """Store a plan, and the demands it was made under."""
        self._hold(tour_key)
        text = BRIEFINGS.write(briefing)
        version = None if accepted else self._version_of(_of_day(tour_key, briefing.date), text)
        if version is None:
            version = self._add(tour_key, briefing, text, accepted=accepted)
        if demands is not None:
            memory = self._memories(tour_key).get(briefing.date, Memory())
            self.remember(tour_key, briefing.date, replace(memory, demands=demands))
        return PlanRef(tour_key=tour_key, day=briefing.date, version=version)

    def keep_to_show(self, tour_key: str, briefing: Briefing) -> PlanRef:
        """Store a plan only to draw or to write it: a what-if does not become the newest plan.

        One that is stored already keeps its version; else it gets one below those that count.
        """
        self._hold(tour_key)
        text = BRIEFINGS.write(briefing)
        version = self._version_of(_any_of_day(tour_key, briefing.date), text)
        if version is None:
            version = self._below(tour_key, briefing.date)
            self._insert(tour_key, briefing, text, version, accepted=False)
        return PlanRef(tour_key=tour_key, day=briefing.date, version=version)

    def withdraw(self, tour_key: str, day: date) -> None:
        """Let no plan of that day be accepted any more."""
        self._hold(tour_key)
        self._connection.execute(
            update(plans)
            .where(plans.c.tour_key == tour_key, plans.c.day == day, plans.c.accepted)
            .values(accepted=False)
        )

    def remember(self, tour_key: str, day: date, memory: Memory) -> None:
        """Keep what a conversation about that day must not forget."""
        self._hold(tour_key)
        values = {"memory": MEMORIES.write(memory), "kept_at": self._after_all(tour_key)}
        self._connection.execute(
            insert_or(self._connection, conversations)
            .values(tour_key=tour_key, day=day, **values)
            .on_conflict_do_update(index_elements=["tour_key", "day"], set_=values)
        )

    def _after_all(self, tour_key: str) -> datetime:
        """Return the present instant, or one past the last of the tour if a clock stands still."""
        newest = self._connection.scalar(
            select(func.max(conversations.c.kept_at)).where(conversations.c.tour_key == tour_key)
        )
        now = self._transaction.now()
        return now if newest is None else max(now, newest + timedelta(microseconds=1))

    def recall(self, tour_key: str, day: date) -> Memory:
        """Return what was kept for that day, with what other days' demands say of it."""
        self._hold(tour_key)
        return recalled(self._memories(tour_key), day)

    def _version_of(self, among: Select[Any], text: str) -> int | None:
        same = among.where(plans.c.briefing == text)
        row = self._connection.execute(same.order_by(plans.c.version.desc()).limit(1)).first()
        return None if row is None else int(row.version)

    def _add(self, tour_key: str, briefing: Briefing, text: str, *, accepted: bool) -> int:
        if accepted:
            self.withdraw(tour_key, briefing.date)
        versions = select(func.max(plans.c.version)).where(
            plans.c.tour_key == tour_key, plans.c.day == briefing.date
        )
        version = max(self._connection.scalar(versions) or 0, 0) + 1
        self._insert(tour_key, briefing, text, version, accepted=accepted)
        return version

    def _below(self, tour_key: str, day: date) -> int:
        versions = select(func.min(plans.c.version)).where(
            plans.c.tour_key == tour_key, plans.c.day == day
        )
        return min(self._connection.scalar(versions) or 0, 0) - 1

    def _insert(
        self, tour_key: str, briefing: Briefing, text: str, version: int, *, accepted: bool
    ) -> None:
        self._connection.execute(
            insert(plans).values(
                tour_key=tour_key,
                day=briefing.date,
                version=version,
                made_at=briefing.made_at,
                accepted=accepted,
                accepted_at=self._transaction.now() if accepted else None,
                briefing=text,
            )
        )

    def _plan(self, tour_key: str, query: Select[Any]) -> Briefing | None:
        self._hold(tour_key)
        row = self._connection.execute(query.limit(1)).first()
        if row is None:
            return None
        return BRIEFINGS.read(row.briefing, where=f"{self._where}, plan {row.version}")

    def _memories(self, tour_key: str) -> dict[date, Memory]:
        """Return what was kept of every day, the one kept last at the end."""
        rows = self._connection.execute(
            select(conversations.c.day, conversations.c.memory)
            .where(conversations.c.tour_key == tour_key)
            .order_by(conversations.c.kept_at, conversations.c.day)
        )
        return {
            row.day: MEMORIES.read(
                row.memory, where=f"{self._where}, wishes of {tour_key} on {row.day}"
            )
            for row in rows
        }


def _of_day(tour_key: str, day: date) -> Select[Any]:
    """Return the plans that were a day's plan once."""
    return _any_of_day(tour_key, day).where(plans.c.version > 0)


def _any_of_day(tour_key: str, day: date) -> Select[Any]:
    """Return all plans of a day, those only kept to be shown too."""
    return select(plans.c.briefing, plans.c.version).where(
        plans.c.tour_key == tour_key, plans.c.day == day
    )
