"""A copy of the state while it is in use."""

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from replanner.errors import StoreError
from replanner.store.database import Database, unusable


def back_up(database: Database, path: Path) -> None:
    """Write a copy of an SQLite state as of now, sound and whole, or none at all.

    To go back to it: stop the program, move the state's file away together with those beside it
    that end in ``-wal`` and ``-shm`` (left there, they would be taken for the copy's), put the
    copy in its place, start again. PostgreSQL has its own tools: ``pg_dump`` and ``pg_restore``.

    Raises
    ------
    StoreError
        If it cannot be written, or the state is on PostgreSQL.
    """
    if not database.is_sqlite:
        raise StoreError(
            "a PostgreSQL state is not copied from here", where=database.where, mend="use pg_dump"
        )
    if path.exists() and path.samefile(database.where):
        raise StoreError("the copy would take the place of the state", where=str(path))
    beside = path.with_name(f"{path.name}.new")
    try:
        beside.unlink(missing_ok=True)
        with (
            closing(sqlite3.connect(database.where)) as source,
            closing(sqlite3.connect(beside)) as copy,
        ):
            source.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")  # one file, nothing beside it
            sound = copy.execute("PRAGMA integrity_check").fetchone()[0]
        if sound != "ok":
            raise StoreError(f"the copy is not sound: {sound}", where=str(path))
        beside.replace(path)
        _sync(path.parent)
    except (sqlite3.Error, OSError) as error:
        raise unusable(str(path), error) from error


def _sync(folder: Path) -> None:
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
