"""The plan store on SQLite: what was planned, what was accepted, what is in force."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Select, func, insert, select, update
from sqlalchemy.dialects.sqlite import insert as insert_or_replace
from sqlalchemy.exc import SQLAlchemyError

from replanner.advice.briefing import Briefing
from replanner.dialogue.events import Memory
from replanner.store.database import open_database, unusable, writing
from replanner.store.tables import conversations, plans
from replanner.store.texts import BRIEFINGS, MEMORIES
from replanner.trip.edits import Demands


class SqlitePlanStore:
    """A `PlanStore` in one file.

    Parameters
    ----------
    path : Path
        Made with its folders if it is not there.
    now : callable
        The present instant, UTC-aware.

    Raises
    ------
    StoreError
        Here and in every method: one line saying which file and what is wrong with it.
    """

    def __init__(self, path: Path, now: Callable[[], datetime]) -> None:
        self._path = path
        self._now = now
        self._engine = open_database(path)

    def close(self) -> None:
        """Let the file go."""
        self._engine.dispose()

    def last_plan(self, tour_key: str, day: date) -> Briefing | None:
        """Return the newest stored plan of that day, accepted ones before others."""
        of_day = _of_day(tour_key, day)
        return self._plan(of_day.order_by(plans.c.accepted.desc(), plans.c.version.desc()))

    def accepted_plan(self, tour_key: str, day: date) -> Briefing | None:
        """Return the accepted plan of that day."""
        return self._plan(_of_day(tour_key, day).where(plans.c.accepted))

    def keep_plan(
        self,
        tour_key: str,
        briefing: Briefing,
        *,
        accepted: bool,
        demands: Demands | None = None,
    ) -> None:
        """Store a plan, and the demands it was made under, in one transaction."""
        text = BRIEFINGS.write(briefing)
        with self._writing() as connection:
            if accepted:
                _withdraw(connection, tour_key, briefing.date)
            versions = select(func.max(plans.c.version)).where(
                plans.c.tour_key == tour_key, plans.c.day == briefing.date
            )
            connection.execute(
                insert(plans).values(
                    tour_key=tour_key,
                    day=briefing.date,
                    version=(connection.scalar(versions) or 0) + 1,
                    made_at=_iso(briefing.made_at),
                    accepted=accepted,
                    accepted_at=_iso(self._now()) if accepted else None,
                    briefing=text,
                )
            )
            if demands is not None:
                memory = self._memory(connection, tour_key, briefing.date)
                kept = replace(memory, demands=demands)
                self._keep(connection, tour_key, briefing.date, kept)

    def withdraw(self, tour_key: str, day: date) -> None:
        """Let no plan of that day be accepted any more."""
        with self._writing() as connection:
            _withdraw(connection, tour_key, day)

    def remember(self, tour_key: str, day: date, memory: Memory) -> None:
        """Keep what a conversation about that day must not forget."""
        with self._writing() as connection:
            self._keep(connection, tour_key, day, memory)

    def recall(self, tour_key: str, day: date) -> Memory:
        """Return what was kept for that day, with what other days move to or from it."""
        with self._reading() as connection:
            kept = select(conversations.c.day, conversations.c.memory)
            rows = connection.execute(
                kept.where(conversations.c.tour_key == tour_key).order_by(conversations.c.kept_at)
            ).all()
        memories = {row.day: self._memory_of(row.memory, tour_key, row.day) for row in rows}
        mine = memories.get(day, Memory())
        moved: dict[str, date] = {}
        for memory in memories.values():  # oldest first: the word given last counts
            moved |= dict(memory.demands.moved)
        return replace(
            mine,
            demands=replace(mine.demands, moved=frozenset(moved.items())),
            cautions_shown=any(memory.cautions_shown for memory in memories.values()),
        )

    def _plan(self, query: Select[Any]) -> Briefing | None:
        with self._reading() as connection:
            row = connection.execute(query.limit(1)).first()
        if row is None:
            return None
        return BRIEFINGS.read(row.briefing, where=f"{self._path}, plan {row.version}")

    def _memory(self, connection: Connection, tour_key: str, day: date) -> Memory:
        text = connection.scalar(
            select(conversations.c.memory).where(
                conversations.c.tour_key == tour_key, conversations.c.day == day
            )
        )
        return Memory() if text is None else self._memory_of(text, tour_key, day)

    def _memory_of(self, text: str, tour_key: str, day: date) -> Memory:
        return MEMORIES.read(text, where=f"{self._path}, wishes of {tour_key} on {day}")

    def _keep(self, connection: Connection, tour_key: str, day: date, memory: Memory) -> None:
        values = {"memory": MEMORIES.write(memory), "kept_at": _iso(self._now())}
        connection.execute(
            insert_or_replace(conversations)
            .values(tour_key=tour_key, day=day, **values)
            .on_conflict_do_update(index_elements=["tour_key", "day"], set_=values)
        )

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        try:
            with writing(self._engine) as connection:
                yield connection
        except SQLAlchemyError as error:
            raise unusable(self._path, error) from error

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        try:
            with self._engine.begin() as connection:
                yield connection
        except SQLAlchemyError as error:
            raise unusable(self._path, error) from error


def _of_day(tour_key: str, day: date) -> Select[Any]:
    return select(plans.c.briefing, plans.c.version).where(
        plans.c.tour_key == tour_key, plans.c.day == day
    )


def _withdraw(connection: Connection, tour_key: str, day: date) -> None:
    connection.execute(
        update(plans)
        .where(plans.c.tour_key == tour_key, plans.c.day == day, plans.c.accepted)
        .values(accepted=False)
    )


def _iso(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat()
