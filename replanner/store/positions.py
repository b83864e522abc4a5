"""Forgetting where riders were once the day is over."""

import json
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta, timezone
from typing import Any

from sqlalchemy import select, update

from replanner.store.rows import Rows
from replanner.store.tables import arrivals, conversations, talks

# What tells `trip.underway.Underway` and `trip.progress.Progress`, which say where riders are or
# were, in JSON text from everything else that is kept.
_UNDERWAY = frozenset({"at", "ready", "ridden"})
_PROGRESS = frozenset({"following", "point", "ridden"})
# How a chat service writes a position.
_COORDINATES = frozenset({"latitude", "longitude"})
# There it is another day first (IANA time zone database: Pacific/Kiritimati).
_EARLIEST_ZONE = timezone(timedelta(hours=14))


class PositionRows(Rows):
    """Positions within one transaction."""

    def forget_positions(self, before: date) -> None:
        """Erase every position of days before that date, wherever it was kept.

        Where conversations are kept, also in what could be undone; and what arrived but was
        never dealt with, if it holds one.
        """
        self._transaction.forgot = True
        for row in self._connection.execute(
            select(conversations).where(conversations.c.day < before).with_for_update()
        ).all():
            text = _without(row.memory, _tells_where)
            if text is not None:
                self._connection.execute(
                    update(conversations)
                    .where(conversations.c.tour_key == row.tour_key, conversations.c.day == row.day)
                    .values(memory=text)
                )
        for row in self._connection.execute(
            select(talks).where(talks.c.day < before).with_for_update()
        ).all():
            text = _without(row.talk, _tells_where)
            if text is not None:  # a new revision: who has read the old one may not write it back
                self._connection.execute(
                    update(talks)
                    .where(talks.c.tour_key == row.tour_key, talks.c.member == row.member)
                    .values(talk=text, revision=talks.c.revision + 1)
                )
        self._forget_arrivals(before)

    def _forget_arrivals(self, before: date) -> None:
        # Whose day it was is not known here: nothing of a day that may still last is erased.
        over = datetime.combine(before, time(0), _EARLIEST_ZONE).astimezone(UTC)
        for row in self._connection.execute(
            select(arrivals)
            .where(arrivals.c.dealt_at.is_(None), arrivals.c.received_at < over)
            .with_for_update()
        ).all():
            if _without(row.raw, _has_coordinates) is not None:
                self._connection.execute(
                    update(arrivals)
                    .where(arrivals.c.number == row.number)
                    .values(dealt_at=self._transaction.now(), chat=None, raw=None)
                )


def _tells_where(thing: dict[str, Any]) -> bool:
    return thing.keys() >= _UNDERWAY or thing.keys() >= _PROGRESS


def _has_coordinates(thing: dict[str, Any]) -> bool:
    return thing.keys() >= _COORDINATES


def _without(text: str, wanted: Callable[[dict[str, Any]], bool]) -> str | None:
    """Return a JSON text with null for what is wanted; None if there is nothing of it."""
    try:
        whole = json.loads(text)
    except ValueError:
        return None
    less = _less(whole, wanted)
    return None if less == whole else json.dumps(less, ensure_ascii=False)


def _less(thing: Any, wanted: Callable[[dict[str, Any]], bool]) -> Any:
    if isinstance(thing, dict):
        if wanted(thing):
            return None
        return {key: _less(value, wanted) for key, value in thing.items()}
    if isinstance(thing, list):
        return [_less(value, wanted) for value in thing]
    return thing
