"""The plan store on a real file: exact, whole or not at all, one accepted plan a day."""

import multiprocessing
import os
import signal
import sqlite3
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.advice.briefing import Briefing
from replanner.dialogue.events import Memory, Replan
from replanner.errors import StoreError
from replanner.store.plans import SqlitePlanStore
from replanner.store.texts import BRIEFINGS, MEMORIES
from replanner.trip.edits import Demands
from tests.advice.briefings import ALL
from tests.dialogue.evening import DAY, SENT, at, plan

NEXT = DAY + timedelta(days=1)
PLAN = plan(Replan(day=DAY, demands=Demands()))
OTHER = plan(Replan(day=DAY, demands=Demands(left_out=frozenset({"hask"}))))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "plans.db"


@pytest.fixture
def store(path: Path) -> Iterator[SqlitePlanStore]:
    ticks = count()
    store = SqlitePlanStore(path, lambda: SENT + timedelta(seconds=next(ticks)))
    yield store
    store.close()


def types_of(thing: Any) -> Any:
    """Return the thing as nested types and values, so that 1 and 1.0, list and tuple differ."""
    if is_dataclass(thing):
        return (type(thing), [types_of(getattr(thing, f.name)) for f in fields(thing)])
    if isinstance(thing, tuple):
        return (tuple, [types_of(part) for part in thing])
    if isinstance(thing, dict):
        return (dict, [(key, types_of(value)) for key, value in sorted(thing.items())])
    if isinstance(thing, datetime):
        return (datetime, thing.isoformat(), thing.utcoffset())
    return (type(thing), repr(thing))


@pytest.mark.parametrize("name", sorted(ALL))
def test_every_kind_of_plan_comes_back_exactly(name: str) -> None:
    briefing = ALL[name]
    back = BRIEFINGS.read(BRIEFINGS.write(briefing), where="here")
    assert back == briefing
    assert types_of(back) == types_of(briefing)


def test_an_instant_keeps_its_offset_and_an_infinity_stays_one() -> None:
    briefing = replace(
        PLAN,
        made_at=datetime.fromisoformat("2027-04-04T02:30:00+13:00"),
        value_minutes=float("inf"),
    )
    back = BRIEFINGS.read(BRIEFINGS.write(briefing), where="here")
    assert back.made_at.isoformat() == "2027-04-04T02:30:00+13:00"
    assert back.value_minutes == float("inf")


_LEGS = st.frozensets(st.text(min_size=1, max_size=8), max_size=4)


@given(
    st.builds(
        Memory,
        demands=st.builds(
            Demands,
            left_out=_LEGS,
            forced=_LEGS,
            closed=_LEGS,
            departure=st.none() | st.datetimes(timezones=st.just(UTC)),
            own_order=st.booleans(),
            moved=st.frozensets(st.tuples(st.text(max_size=8), st.dates()), max_size=3),
            before=st.frozensets(st.tuples(st.text(max_size=8), st.text(max_size=8)), max_size=3),
        ),
        own_caution_shown=st.booleans(),
        cautions_shown=st.booleans(),
    )
)
def test_any_memory_comes_back_exactly(memory: Memory) -> None:
    assert MEMORIES.read(MEMORIES.write(memory), where="here") == memory


def test_nothing_kept_is_nothing_found(store: SqlitePlanStore) -> None:
    assert store.last_plan("coast", DAY) is None
    assert store.accepted_plan("coast", DAY) is None
    assert store.recall("coast", DAY) == Memory()


def test_the_accepted_plan_comes_before_newer_ones(store: SqlitePlanStore) -> None:
    store.keep_plan("coast", PLAN, accepted=True)
    store.keep_plan("coast", OTHER, accepted=False)
    assert store.last_plan("coast", DAY) == PLAN
    assert store.accepted_plan("coast", DAY) == PLAN


def test_without_an_accepted_plan_the_newest_is_the_last(store: SqlitePlanStore) -> None:
    store.keep_plan("coast", PLAN, accepted=False)
    store.keep_plan("coast", OTHER, accepted=False)
    assert store.last_plan("coast", DAY) == OTHER
    assert store.accepted_plan("coast", DAY) is None


def test_one_plan_a_day_is_accepted(store: SqlitePlanStore, path: Path) -> None:
    store.keep_plan("coast", PLAN, accepted=True)
    store.keep_plan("coast", OTHER, accepted=True)
    assert store.accepted_plan("coast", DAY) == OTHER
    with closing(sqlite3.connect(path)) as look:
        assert look.execute("SELECT count(*) FROM plans WHERE accepted").fetchone() == (1,)
        with pytest.raises(sqlite3.IntegrityError):
            look.execute("UPDATE plans SET accepted = 1")


def test_tours_and_days_are_kept_apart(store: SqlitePlanStore) -> None:
    store.keep_plan("coast", PLAN, accepted=True)
    store.keep_plan("hills", OTHER, accepted=True)
    store.keep_plan("coast", replace(PLAN, date=NEXT), accepted=True)
    assert store.accepted_plan("coast", DAY) == PLAN
    assert store.accepted_plan("hills", DAY) == OTHER


def test_an_ok_taken_back_leaves_the_plan_but_not_accepted(store: SqlitePlanStore) -> None:
    store.keep_plan("coast", PLAN, accepted=True)
    store.withdraw("coast", DAY)
    assert store.accepted_plan("coast", DAY) is None
    assert store.last_plan("coast", DAY) == PLAN


def test_an_ok_keeps_the_demands_with_the_plan(store: SqlitePlanStore) -> None:
    store.remember("coast", DAY, Memory(cautions_shown=True))
    demands = Demands(left_out=frozenset({"hask"}), departure=at("07:00"))
    store.keep_plan("coast", OTHER, accepted=True, demands=demands)
    assert store.recall("coast", DAY) == Memory(demands=demands, cautions_shown=True)


def test_demands_are_not_kept_when_the_plan_is_not(
    store: SqlitePlanStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise StoreError("broken off")

    store.keep_plan("coast", PLAN, accepted=True)
    monkeypatch.setattr(store, "_keep", broken)
    with pytest.raises(StoreError, match="broken off"):
        store.keep_plan("coast", OTHER, accepted=True, demands=Demands())
    assert store.accepted_plan("coast", DAY) == PLAN
    assert store.last_plan("coast", DAY) == PLAN


def test_a_leg_moved_is_known_on_the_day_it_moves_to(store: SqlitePlanStore) -> None:
    moved = frozenset({("quern", NEXT)})
    store.remember("coast", DAY, Memory(demands=Demands(moved=moved), cautions_shown=True))
    there = store.recall("coast", NEXT)
    assert there.demands.moved == moved
    assert there.cautions_shown
    assert not there.own_caution_shown
    assert store.recall("hills", NEXT) == Memory()


def test_the_later_word_on_a_moved_leg_counts(store: SqlitePlanStore) -> None:
    third = NEXT + timedelta(days=1)
    store.remember("coast", DAY, Memory(demands=Demands(moved=frozenset({("quern", NEXT)}))))
    store.remember("coast", NEXT, Memory(demands=Demands(moved=frozenset({("quern", third)}))))
    for day in (DAY, NEXT, third):
        assert store.recall("coast", day).demands.moved == {("quern", third)}


def test_what_was_kept_is_there_in_the_next_run(path: Path) -> None:
    first = SqlitePlanStore(path, lambda: SENT)
    first.keep_plan("coast", PLAN, accepted=True)
    first.close()
    second = SqlitePlanStore(path, lambda: SENT)
    assert second.accepted_plan("coast", DAY) == PLAN
    second.close()


def test_the_pragmas_hold(store: SqlitePlanStore) -> None:
    with store._engine.connect() as connection:
        told = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "foreign_keys", "busy_timeout", "synchronous")
        }
    # Synchronous is told as a number, FULL as 2 (sqlite.org/pragma.html).
    assert told == {
        "journal_mode": "wal",
        "foreign_keys": 1,
        "busy_timeout": 10_000,
        "synchronous": 2,
    }


def untouched(path: Path, match: str) -> None:
    before = path.read_bytes(), path.stat().st_mtime_ns
    with pytest.raises(StoreError, match=match) as caught:
        SqlitePlanStore(path, lambda: SENT)
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
    SqlitePlanStore(path, lambda: SENT).close()
    with closing(sqlite3.connect(path)) as newer:
        newer.execute("UPDATE replanner_schema SET version = 99")
        newer.commit()
    untouched(path, "version 99, this program knows 1")


def test_a_cut_off_database_is_one_clear_line(path: Path) -> None:
    store = SqlitePlanStore(path, lambda: SENT)
    store.keep_plan("coast", PLAN, accepted=True)
    store.close()
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2 // 4096 * 4096 - 1000])
    with pytest.raises(StoreError) as caught:
        SqlitePlanStore(path, lambda: SENT).accepted_plan("coast", DAY)
    assert "\n" not in str(caught.value)


def test_a_plan_of_another_version_is_one_clear_line(store: SqlitePlanStore, path: Path) -> None:
    store.keep_plan("coast", PLAN, accepted=True)
    with closing(sqlite3.connect(path)) as other:
        other.execute("UPDATE plans SET briefing = '{\"tour\": 1}'")
        other.commit()
    with pytest.raises(StoreError, match="another version may have written it") as caught:
        store.accepted_plan("coast", DAY)
    assert "\n" not in str(caught.value)


def test_a_folder_that_cannot_be_made_is_one_clear_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError):
        SqlitePlanStore(tmp_path / "file" / "plans.db", lambda: SENT)


def numbered(number: int) -> Briefing:
    """Return a plan that says in several places which one it is."""
    return replace(PLAN, tour=f"tour {number}", value_minutes=float(number))


def _write_for_ever(path: Path) -> None:
    store = SqlitePlanStore(path, lambda: datetime.now(UTC))
    for number in count(1):
        demands = Demands(left_out=frozenset({str(number)}))
        store.keep_plan("coast", numbered(number), accepted=True, demands=demands)


def _accept_many(path: Path, key: str, times: int) -> None:
    store = SqlitePlanStore(path, lambda: datetime.now(UTC))
    for number in range(1, times + 1):
        store.keep_plan(key, numbered(number), accepted=True)
        store.keep_plan("shared", numbered(number), accepted=True)


@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGKILL")
def test_a_writer_killed_at_any_moment_leaves_whole_plans(path: Path) -> None:
    SqlitePlanStore(path, lambda: SENT).close()
    context = multiprocessing.get_context("spawn")
    reached = 0
    for _ in range(3):
        child = context.Process(target=_write_for_ever, args=(path,))
        child.start()
        _wait_for_more(path, reached)
        assert child.pid is not None
        os.kill(child.pid, signal.SIGKILL)
        child.join()
        with closing(sqlite3.connect(path)) as look:
            assert look.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        store = SqlitePlanStore(path, lambda: SENT)
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
    context = multiprocessing.get_context("spawn")
    times = 25
    children = [
        context.Process(target=_accept_many, args=(path, key, times)) for key in ("one", "two")
    ]
    for child in children:
        child.start()
    for child in children:
        child.join(90)
        assert child.exitcode == 0
    store = SqlitePlanStore(path, lambda: SENT)
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
