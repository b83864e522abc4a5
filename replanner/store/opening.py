"""Opening the state: ours and sound, or left exactly as it is."""

import sqlite3
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import URL, Connection, Engine, create_engine, event, inspect, select
from sqlalchemy.exc import SQLAlchemyError

from replanner.errors import StoreError
from replanner.store.address import database_url
from replanner.store.database import WRITES, Database, lock, unusable
from replanner.store.tables import SCHEMA_VERSION, schema

_HEADER = b"SQLite format 3\x00"  # sqlite.org/fileformat2.html, section 1.3
_BUSY_SECONDS = 10


def open_database(address: str) -> Database:
    """Return the database of an address: made if it is not there, brought up to date if older.

    Raises
    ------
    InputError
        If the address means no database that can be used.
    StoreError
        If it is no database, another program's, or of a newer version: it is not touched.
    """
    url = database_url(address)
    where = url.database if url.get_backend_name() == "sqlite" else url.render_as_string()
    where = where or ""
    try:
        engine = _sqlite(Path(where)) if url.get_backend_name() == "sqlite" else _postgres(url)
        database = Database(engine, where)
        try:
            _bring_up_to_date(database)
        except BaseException:
            database.close()
            raise
    except (SQLAlchemyError, sqlite3.Error, OSError) as error:
        raise unusable(where, error) from error
    return database


def _bring_up_to_date(database: Database) -> None:
    with database.reading() as connection:
        if _version(connection, database.where) == SCHEMA_VERSION:
            return
    with database.writing() as connection:
        lock(connection, "replanner upgrade")
        version = _version(connection, database.where)  # another process may have been quicker
        if version != SCHEMA_VERSION:
            upgrade_tables(connection, version, database.where)


def upgrade_tables(connection: Connection, version: int | None, where: str) -> None:
    """Bring the tables up to date; Alembic takes long to import, and is seldom needed."""
    from replanner.store.upgrade import upgrade  # noqa: PLC0415 - said above

    upgrade(connection, version, where)


def _version(connection: Connection, where: str) -> int | None:
    """Return the version of the tables, None where there are none; refuse what is not ours."""
    names = inspect(connection).get_table_names()
    if not names:
        return None
    if schema.name not in names:
        raise _foreign(where)
    version = connection.scalar(select(schema.c.version))
    check_version(version, where)
    return version


def _foreign(where: str) -> StoreError:
    return StoreError(
        "this database belongs to another program", where=where, mend="name another one"
    )


def check_version(version: int | None, where: str) -> None:
    """Refuse tables of a version that we do not know."""
    if isinstance(version, int) and 1 <= version <= SCHEMA_VERSION:
        return
    if isinstance(version, int) and version > SCHEMA_VERSION:
        raise StoreError(
            f"the plan file is of version {version}, this program knows {SCHEMA_VERSION}",
            where=where,
            mend="use a newer replanner or another file",
        )
    raise StoreError("the plan file has no sound version", where=where, mend="name another one")


def _sqlite(path: Path) -> Engine:
    look_before(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    engine = create_engine(
        URL.create("sqlite", database=str(path)), connect_args={"timeout": _BUSY_SECONDS}
    )

    @event.listens_for(engine, "connect")
    def _prepare(connection: sqlite3.Connection, _record: object) -> None:
        # The driver's own BEGIN comes too late and only before some statements; ours is below
        # (SQLAlchemy documentation, "pysqlite: serializable isolation").
        connection.isolation_level = None
        connection.execute(f"PRAGMA busy_timeout = {_BUSY_SECONDS * 1000}")
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA secure_delete = ON")  # what is erased is overwritten

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get(WRITES, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def look_before(path: Path) -> None:
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
            raise _foreign(str(path))
        row = look.execute(f"SELECT version FROM {schema.name}").fetchone()  # noqa: S608 - our own name
        check_version(row[0] if row else None, str(path))


def _postgres(url: URL) -> Engine:
    try:
        return create_engine(
            url,
            pool_pre_ping=True,  # a server restarted meanwhile is met with a new connection
            connect_args={
                "connect_timeout": _BUSY_SECONDS,
                "options": f"-c lock_timeout={_BUSY_SECONDS}s",
            },
        )
    except ModuleNotFoundError as error:
        raise StoreError(
            "PostgreSQL needs the psycopg package",
            where=url.render_as_string(),
            mend="pip install 'replanner[postgres]'",
        ) from error
