"""What every part of a transaction stands on."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import cast

from sqlalchemy import Connection, Table
from sqlalchemy.dialects import postgresql, sqlite

from replanner.errors import ConflictError
from replanner.store.database import lock


@dataclass(slots=True)
class Transaction:
    """One transaction, and whether it can still be stored.

    Parameters
    ----------
    where : str
        What an error calls the database.
    now : callable
        The present instant, UTC-aware.
    writes : bool
        False: it only looks.
    conflict : ConflictError or None
        Another run was quicker: nothing of it may be stored.
    forgot : bool
        Something was erased: its traces in the file are to be wiped.
    erased_arrivals : set of int
        Dealt with by erasing whose they are; one of them may be the word that asked for it.
    """

    connection: Connection
    where: str
    now: Callable[[], datetime]
    writes: bool = False
    conflict: ConflictError | None = None
    forgot: bool = False
    erased_arrivals: set[int] = field(default_factory=set)


class Rows:
    """Reads and writes within one transaction."""

    def __init__(self, transaction: Transaction) -> None:
        self._transaction = transaction
        self._connection = transaction.connection
        self._where = transaction.where

    def _hold(self, tour_key: str) -> None:
        """Let no other transaction that writes go on with this tour before ours ends.

        What was read of it is then still true when something is written that depends on it.
        """
        if self._transaction.writes:
            lock(self._connection, f"replanner tour {tour_key}")

    def _require_one(self, rows: int, what: str) -> None:
        """Refuse to go on, for good, unless a conditional change has met its row."""
        if rows != 1:
            self._transaction.conflict = ConflictError(f"{what} by another run", where=self._where)
            raise self._transaction.conflict


def insert_or(connection: Connection, table: Table) -> sqlite.Insert:
    """Return an insert that can say what happens when the row is there.

    SQLite's and PostgreSQL's are separate classes with the same methods.
    """
    if connection.dialect.name == "postgresql":
        return cast("sqlite.Insert", postgresql.insert(table))
    return sqlite.insert(table)
