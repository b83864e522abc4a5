"""An open database: transactions that are whole or nothing, and errors in one line."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from threading import RLock

from sqlalchemy import Connection, Engine, func, select
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from replanner.errors import ConflictError, StoreError

WRITES = "writes"

# Two transactions in each other's way (PostgreSQL documentation, appendix A, class 40).
_CONFLICTS = {"40001", "40P01"}


@dataclass(frozen=True, slots=True)
class Database:
    """An engine, and what an error calls it.

    Parameters
    ----------
    where : str
        The path of the file, or the address without its password.
    """

    engine: Engine
    where: str
    _turn: RLock = field(default_factory=RLock, compare=False, repr=False)

    @property
    def is_sqlite(self) -> bool:
        """A file on this machine, with one writer at a time."""
        return self.engine.dialect.name == "sqlite"

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Begin a transaction that writes: all is stored at the end, or nothing.

        SQLite: holds the only write lock from the first moment. PostgreSQL: reads what is
        committed; who depends on what he has read takes `lock` or writes conditionally.

        Raises
        ------
        ConflictError
            If the database let another transaction go first.
        StoreError
            If it cannot be stored.
        """
        try:
            with (
                self._next_turn(),
                self.engine.execution_options(**{WRITES: True}).begin() as connection,
            ):
                yield connection
        except SQLAlchemyError as error:
            raise self.unusable(error) from error

    @contextmanager
    def _next_turn(self) -> Iterator[None]:
        """Let writers of this process go one after another where there is one writer at a time.

        SQLite itself looks again and again in ever longer steps, and lets later ones go first: in
        a full house some waited for more than a second.
        """
        if not self.is_sqlite:
            yield
            return
        with self._turn:
            yield

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Begin a transaction that sees one moment of the database."""
        options = (
            {}
            if self.is_sqlite
            else {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
        )
        try:
            with (
                self.engine.connect().execution_options(**options) as connection,
                connection.begin(),
            ):
                yield connection
        except SQLAlchemyError as error:
            raise self.unusable(error) from error

    def wipe(self) -> None:
        """Leave no trace of what was erased in the files beside an SQLite database.

        What is erased is overwritten in the file itself (`PRAGMA secure_delete`), but stands in
        the write-ahead log until that is emptied; a reader in the way puts it off to the next
        time. A PostgreSQL server gives the space of erased rows back in its own time.
        """
        if not self.is_sqlite:
            return
        try:
            with closing(self.engine.raw_connection()) as connection:
                connection.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
        except (SQLAlchemyError, sqlite3.Error) as error:
            raise self.unusable(error) from error

    def unusable(self, error: Exception) -> StoreError | ConflictError:
        """Return the one line for the rider of what went wrong below."""
        return unusable(self.where, error)

    def close(self) -> None:
        """Let the database go."""
        self.engine.dispose()


def lock(connection: Connection, name: str) -> None:
    """Wait until no other transaction holds this name, and hold it until ours ends.

    SQLite has one writer at a time anyhow.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(select(func.pg_advisory_xact_lock(func.hashtextextended(name, 0))))


def unusable(where: str, error: Exception) -> StoreError | ConflictError:
    """Return the one line for the rider of what went wrong below."""
    below = error.orig if isinstance(error, DBAPIError) else None
    if getattr(below, "sqlstate", None) in _CONFLICTS:
        return ConflictError("another run was quicker", where=where, mend="try again")
    cause = (str(below or error).splitlines() or [type(error).__name__])[0]
    return StoreError(
        f"the plan file cannot be used: {cause}",
        where=where,
        mend="move it away or name another one",
    )
