"""Bringing tables up to date by Alembic, inside one transaction: all of it, or nothing."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.util import CommandError
from sqlalchemy import Connection

from replanner.errors import StoreError

_FIRST = "1"  # the revision of files made before Alembic kept count


def upgrade(connection: Connection, version: int | None, where: str) -> None:
    """Bring the tables up to date within the transaction of a connection.

    Parameters
    ----------
    connection : Connection
        In a transaction that nobody else writes beside.
    version : int or None
        Of the tables that are there; None: there are none.
    where : str
        What an error calls the database.

    Raises
    ------
    StoreError
        If it cannot be done.
    """
    config = Config()
    config.set_main_option("script_location", _escaped(Path(__file__).parent / "migrations"))
    config.attributes["connection"] = connection
    try:
        if version == int(_FIRST):
            command.stamp(config, _FIRST)
        command.upgrade(config, "head")
    except (CommandError, ValueError) as error:
        cause = str(error).splitlines()[0]
        raise StoreError(
            f"the plan file of version {version} cannot be brought up to date: {cause}",
            where=where,
            mend="it is left as it was: use the replanner that made it, or name another file",
        ) from error


def _escaped(path: Path) -> str:
    return str(path).replace("%", "%%")  # the configuration reads % as its own
