"""Opening the file: ours and sound, or left exactly as it is."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event, insert, inspect, select
from sqlalchemy.exc import DatabaseError

from replanner.errors import StoreError
from replanner.store.tables import SCHEMA_VERSION, metadata, schema

_HEADER = b"SQLite format 3\x00"  # sqlite.org/fileformat2.html, section 1.3
_BUSY_SECONDS = 10
_WRITES = "writes"


def open_database(path: Path) -> Engine:
    """Return an engine on the plan file, made if it is not there yet.

    Raises
    ------
    StoreError
        If the file is no database, another program's, or of a newer version: it is not touched.
    """
    try:
        _look_before(path)
        path.parent.mkdir(parents=True, exist_ok=True)
        engine = _engine(path)
        with writing(engine) as connection:
            _make_or_check(connection, path)
    except (DatabaseError, sqlite3.Error, OSError) as error:
        raise unusable(path, error) from error
    return engine


def unusable(path: Path, error: Exception) -> StoreError:
    """Return the one line for the rider of what went wrong below."""
    cause = str(getattr(error, "orig", None) or error).splitlines()[0]
    return StoreError(
        f"the plan file cannot be used: {cause}",
        where=str(path),
        mend="move it away or name another one",
    )


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Hold the write lock from the first moment: all is stored at the end, or nothing."""
    with engine.execution_options(**{_WRITES: True}).begin() as connection:
        yield connection


def _look_before(path: Path) -> None:
    """Refuse a file that is not ours, reading only."""
    if not path.exists() or path.stat().st_size == 0:
        return
    with path.open("rb") as file:
        if file.read(len(_HEADER)) != _HEADER:
            raise StoreError("this file is no plan file", where=str(path), mend="name another one")
    with closing(sqlite3.connect(f"file:{quote(str(path.resolve()))}?mode=ro", uri=True)) as look:
        tables = {row[0] for row in look.execute("SELECT name FROM sqlite_master")}
        if not tables:
            return
        if schema.name not in tables:
            raise StoreError(
                "this database belongs to another program",
                where=str(path),
                mend="name another file",
            )
        row = look.execute(f"SELECT version FROM {schema.name}").fetchone()  # noqa: S608 - our own name
        _check_version(row[0] if row else None, path)


def _check_version(version: int | None, path: Path) -> None:
    if version == SCHEMA_VERSION:
        return
    if isinstance(version, int) and version > SCHEMA_VERSION:
        raise StoreError(
            f"the plan file is of version {version}, this program knows {SCHEMA_VERSION}",
            where=str(path),
            mend="use a newer replanner or another file",
        )
    raise StoreError("the plan file has no sound version", where=str(path), mend="name another one")


def _engine(path: Path) -> Engine:
    engine = create_engine(f"sqlite:///{path}", connect_args={"timeout": _BUSY_SECONDS})

    @event.listens_for(engine, "connect")
    def _prepare(connection: sqlite3.Connection, _record: object) -> None:
        # The driver's own BEGIN comes too late and only before some statements; ours is below
        # (SQLAlchemy documentation, "pysqlite: serializable isolation").
        connection.isolation_level = None
        connection.execute(f"PRAGMA busy_timeout = {_BUSY_SECONDS * 1000}")
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get(_WRITES, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _make_or_check(connection: Connection, path: Path) -> None:
    if not inspect(connection).has_table(schema.name):
        metadata.create_all(connection)
        connection.execute(insert(schema).values(id=1, version=SCHEMA_VERSION))
    _check_version(connection.scalar(select(schema.c.version)), path)
