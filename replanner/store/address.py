"""Where the state is kept: one setting, a file's path or a database address."""

from pathlib import Path

import platformdirs
from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from replanner.errors import InputError
from replanner.files.settings import STATE_VARIABLE

_WHERE = f"[state] address in settings.toml, or {STATE_VARIABLE}"
_FILES_FOLDER, _FILE = "replanner", "replanner.sqlite"


def database_url(address: str) -> URL:
    """Return the database an address means.

    Parameters
    ----------
    address : str
        As SQLAlchemy writes it (``sqlite:///state.sqlite``,
        ``postgresql://user@host/database``), or the path of a file, or empty: SQLite in the user
        data folder.

    Raises
    ------
    InputError
        If it means no database that can be used.
    """
    if not address:
        return _of_file(platformdirs.user_data_path(_FILES_FOLDER) / _FILE)
    if "://" not in address:
        return _of_file(Path(address))
    try:
        url = make_url(address)
    except ArgumentError:
        raise InputError(
            "this is no database address", where=_WHERE, mend="write sqlite:/// and a path"
        ) from None
    match url.get_backend_name():
        case "sqlite" if url.database and url.database != ":memory:":
            return _of_file(Path(url.database))
        case "postgresql" | "postgres":
            return url.set(drivername="postgresql+psycopg")
        case other:
            raise InputError(
                f"{other} databases without a name and those of other kinds cannot be used"
                if other == "sqlite"
                else f"{other} databases cannot be used",
                where=_WHERE,
                mend="write sqlite:/// and the path of a file, or a postgresql:// address",
            )


def _of_file(path: Path) -> URL:
    return URL.create("sqlite", database=str(path.expanduser()))
