"""Processes killed, and processes at once, on one file."""

import os
import signal
import sqlite3
import sys
import time
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import pytest

from replanner.advice.briefing import Briefing
from replanner.store.store import open_store
from replanner.trip.edits import Demands
from tests.dialogue.evening import DAY, SENT
from tests.store.processes import CONTEXT
from tests.store.things import PLAN

# More of them to be surer: REPLANNER_KILLS=300 pytest tests/store/test_processes.py
RUNS = int(os.environ.get("REPLANNER_KILLS", "3"))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "plans.db"


def numbered(number: int) -> Briefing:
    """Return a plan that says in several places which one it is."""
    return replace(PLAN, tour=f"tour {number}", value_minutes=float(number))


def _write_for_ever(path: Path) -> None:
    store = open_store(str(path), lambda: datetime.now(UTC))
    for number in count(1):
        demands = Demands(left_out=frozenset({str(number)}))
        store.keep_plan("coast", numbered(number), accepted=True, demands=demands)


def _accept_many(path: Path, key: str, times: int) -> None:
    store = open_store(str(path), lambda: datetime.now(UTC))
    for number in range(1, times + 1):
        store.keep_plan(key, numbered(number), accepted=True)
        store.keep_plan("shared", numbered(number), accepted=True)


@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGKILL")
def test_a_writer_killed_at_any_moment_leaves_whole_plans(path: Path) -> None:
    open_store(str(path), lambda: SENT).close()
    reached = 0
    for _ in range(RUNS):
        child = CONTEXT.Process(target=_write_for_ever, args=(path,))
        child.start()
        _wait_for_more(path, reached)
        assert child.pid is not None
        os.kill(child.pid, signal.SIGKILL)
        child.join()
        with closing(sqlite3.connect(path)) as look:
            assert look.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        store = open_store(str(path), lambda: SENT)
        kept = store.accepted_plan("coast", DAY)
        assert kept is not None
        number = kept.value_minutes
        assert number is not None
        assert kept == numbered(int(number))
        # the demands are those of the very plan accepted: both or neither were stored
        assert store.recall("coast", DAY).demands.left_out == {str(int(number))}
        store.close()
        reached = _plans_in(path)


def _plans_in(path: Path) -> int:
    with closing(sqlite3.connect(path)) as look:
        return int(look.execute("SELECT count(*) FROM plans").fetchone()[0])


def _wait_for_more(path: Path, than: int) -> None:
    until = time.monotonic() + 60
    while _plans_in(path) < than + 5:
        assert time.monotonic() < until, "the child wrote nothing"
        time.sleep(0.01)


@pytest.mark.skipif(sys.platform == "win32", reason="spawned alike, but slowly")
def test_two_processes_at_once_lose_no_accept(path: Path) -> None:
    times = 25
    children = [
        CONTEXT.Process(target=_accept_many, args=(path, key, times)) for key in ("one", "two")
    ]
    for child in children:
        child.start()
    for child in children:
        child.join(90)
        assert child.exitcode == 0
    store = open_store(str(path), lambda: SENT)
    for key in ("one", "two"):
        assert store.accepted_plan(key, DAY) == numbered(times)
    store.close()
    with closing(sqlite3.connect(path)) as look:
        rows = look.execute(
            "SELECT tour_key, count(*), max(version), sum(accepted) FROM plans GROUP BY tour_key"
        ).fetchall()
    assert sorted(rows) == [
        ("one", times, times, 1),
        ("shared", 2 * times, 2 * times, 1),
        ("two", times, times, 1),
    ]
