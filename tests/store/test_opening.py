"""Opening a file: ours and sound, or left exactly as it is."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from replanner.errors import StoreError
from replanner.store.store import open_store
from tests.dialogue.evening import DAY, SENT
from tests.store.things import PLAN

_PRAGMAS = ("journal_mode", "foreign_keys", "busy_timeout", "synchronous", "secure_delete")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "plans.db"


def test_the_pragmas_hold(path: Path) -> None:
    store = open_store(str(path), lambda: SENT)
    with store._database.engine.connect() as connection:
        told = {name: connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in _PRAGMAS}
    # Synchronous is told as a number, FULL as 2 (sqlite.org/pragma.html).
    assert told == {
        "journal_mode": "wal",
        "foreign_keys": 1,
        "busy_timeout": 10_000,
        "synchronous": 2,
        "secure_delete": 1,
    }
    store.close()


def untouched(path: Path, match: str) -> None:
    before = path.read_bytes(), path.stat().st_mtime_ns
    with pytest.raises(StoreError, match=match) as caught:
        open_store(str(path), lambda: SENT)
    assert "\n" not in str(caught.value)
    assert str(path) in str(caught.value)
    assert (path.read_bytes(), path.stat().st_mtime_ns) == before


def test_a_file_that_is_no_database_is_left_alone(path: Path) -> None:
    path.write_text("my diary\n")
    untouched(path, "no plan file")


def test_another_programs_database_is_left_alone(path: Path) -> None:
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE songs (title TEXT)")
        other.commit()
    untouched(path, "another program")


def test_a_database_of_a_newer_version_is_left_alone(path: Path) -> None:
    open_store(str(path), lambda: SENT).close()
    with closing(sqlite3.connect(path)) as newer:
        newer.execute("UPDATE replanner_schema SET version = 99")
        newer.commit()
    untouched(path, "version 99, this program knows 2")


def test_a_cut_off_database_is_one_clear_line(path: Path) -> None:
    store = open_store(str(path), lambda: SENT)
    store.keep_plan("coast", PLAN, accepted=True)
    store.close()
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2 // 4096 * 4096 - 1000])
    with pytest.raises(StoreError) as caught:
        open_store(str(path), lambda: SENT).accepted_plan("coast", DAY)
    assert "\n" not in str(caught.value)


def test_a_folder_that_cannot_be_made_is_one_clear_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError):
        open_store(str(tmp_path / "file" / "plans.db"), lambda: SENT)
