"""A copy made while the state is in use, and going back to it as the documentation says."""

import sqlite3
import threading
from contextlib import closing
from itertools import count
from pathlib import Path

import pytest

from replanner.errors import StoreError
from replanner.store.store import Store, open_store
from tests.dialogue.evening import DAY
from tests.store.conftest import Clock
from tests.store.things import OTHER, PLAN, joined, letter, post


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "state.sqlite"


def test_going_back_to_a_copy(path: Path, tmp_path: Path, clock: Clock) -> None:
    store = open_store(str(path), clock)
    joined(store, 7)
    store.keep_plan("coast", PLAN, accepted=True)
    store.backup(tmp_path / "copy.sqlite")
    store.keep_plan("coast", OTHER, accepted=True)
    post(store, letter("later", 7))
    # The program is killed: what is beside the file stays. Then as `back_up` documents.
    for name in ("state.sqlite-wal", "state.sqlite-shm", "state.sqlite"):
        assert (tmp_path / name).exists()
        (tmp_path / name).rename(tmp_path / f"away-{name}")
    (tmp_path / "copy.sqlite").rename(path)
    again = open_store(str(path), clock)
    assert again.accepted_plan("coast", DAY) == PLAN
    assert again.member_of(7) is not None
    assert again.counts()["letters waiting"] == 0
    again.close()
    store.close()


def test_a_copy_made_while_others_write_is_whole(path: Path, tmp_path: Path, clock: Clock) -> None:
    store = open_store(str(path), clock)
    over = threading.Event()

    def write() -> None:
        for number in count():
            post(store, letter(f"a {number}", 1), letter(f"b {number}", 2))
            if over.is_set():
                return

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for number in range(3):
            copy = tmp_path / f"copy {number}.sqlite"
            store.backup(copy)
            with closing(sqlite3.connect(copy)) as look:
                assert look.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
                found = look.execute(
                    "SELECT count(*), sum(chat = 1), sum(chat = 2) FROM letters"
                ).fetchone()
            assert found[1:] == (found[0] // 2, found[0] // 2) or found == (0, None, None)
            assert not list(tmp_path.glob("copy*-wal"))
    finally:
        over.set()
        writer.join()
        store.close()


def test_a_new_copy_takes_the_place_of_the_old_one_at_once(path: Path, clock: Clock) -> None:
    store = open_store(str(path), clock)
    copy = path.with_name("copy.sqlite")
    store.backup(copy)
    store.keep_plan("coast", PLAN, accepted=True)
    store.backup(copy)
    again = open_store(str(copy), clock)
    assert again.accepted_plan("coast", DAY) == PLAN
    again.close()
    assert not path.with_name("copy.sqlite.new").exists()
    store.close()


def test_a_copy_that_cannot_be_written_is_one_clear_line(path: Path, clock: Clock) -> None:
    store = open_store(str(path), clock)
    with pytest.raises(StoreError) as caught:
        store.backup(path / "nowhere" / "copy.sqlite")
    assert "\n" not in str(caught.value)
    with pytest.raises(StoreError, match="take the place of the state"):
        store.backup(path)
    store.keep_plan("coast", PLAN, accepted=True)
    store.close()


def test_a_server_is_copied_by_its_own_tools(store: Store, address: str, tmp_path: Path) -> None:
    if address.startswith("sqlite"):
        store.backup(tmp_path / "copy.sqlite")
        assert (tmp_path / "copy.sqlite").exists()
        return
    with pytest.raises(StoreError, match="pg_dump"):
        store.backup(tmp_path / "copy.sqlite")
