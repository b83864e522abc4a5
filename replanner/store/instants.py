"""Instants as text of one width, in UTC.

`2027-03-28T01:30:00.000000+00:00`: text of one width sorts as the instants do, on every database
and under every collation; any tool can read it, and nothing depends on a server's time zone or on
how a driver reads its own date type.
"""

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import String, TypeDecorator
from sqlalchemy.engine.interfaces import Dialect


def instant_text(moment: datetime) -> str:
    """Return an instant as it is stored; raise ValueError if it carries no zone."""
    if moment.tzinfo is None:
        raise ValueError(f"an instant must carry a time zone, got {moment.isoformat()}")
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


class Instant(TypeDecorator[datetime]):
    """A column of instants: UTC-aware in Python, comparable in SQL."""

    impl = String
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:  # noqa: ARG002 - SQLAlchemy's signature
        """Write an instant."""
        return None if value is None else instant_text(value)

    def process_result_value(self, value: Any | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002 - SQLAlchemy's signature
        """Read an instant."""
        return None if value is None else datetime.fromisoformat(value)
