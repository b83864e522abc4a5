"""Older files are taken over whole, or left as they were."""

import json
import sqlite3
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from replanner.errors import StoreError
from replanner.store import upgrade
from replanner.store.store import Store, open_store
from replanner.store.tables import SCHEMA_VERSION, metadata
from tests.dialogue.evening import DAY, SENT
from tests.store.processes import CONTEXT
from tests.store.things import PLAN

# Written by the program of version 1 and dumped with sqlite3's `iterdump`; invented as the plan is.
VERSION_1 = Path(__file__).with_name("version_1.sql").read_text(encoding="utf-8")
INSTANTS = ("made_at", "accepted_at", "kept_at")


@pytest.fixture
def old(tmp_path: Path) -> Path:
    path = tmp_path / "old.sqlite"
    with closing(sqlite3.connect(path)) as made:
        made.execute("PRAGMA journal_mode = WAL")
        made.executescript(VERSION_1)
    return path


def rows(path: Path, table: str) -> list[dict[str, object]]:
    with closing(sqlite3.connect(path)) as look:
        look.row_factory = sqlite3.Row
        found = [dict(row) for row in look.execute(f"SELECT * FROM {table}")]  # noqa: S608 - ours
    return sorted(found, key=str)


def dump(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as look:
        return list(look.iterdump())


def told(name: str, value: object) -> object:
    """Return what a stored value tells; what was English prose then is told as values now."""
    if value is None or name not in (*INSTANTS, "briefing"):
        return value
    if name in INSTANTS:
        return datetime.fromisoformat(str(value))
    plan = json.loads(str(value))
    del plan["spare_limit"], plan["plan_b"]["better_when"], plan["own_order"]["breaks"]
    for leg in plan["left_out"]:
        del leg["to_ride_it"]
    return plan


def test_a_file_of_version_1_is_taken_over_without_losing_a_plan(old: Path) -> None:
    before = {table: rows(old, table) for table in ("plans", "conversations")}
    assert [len(found) for found in before.values()] == [3, 2]
    open_store(str(old), lambda: SENT).close()
    for table, was in before.items():
        now = rows(old, table)
        assert [{name: told(name, value) for name, value in row.items()} for row in now] == [
            {name: told(name, value) for name, value in row.items()} for row in was
        ]
        widths = {len(str(row[name])) for row in now for name in INSTANTS if row.get(name)}
        assert widths == {len("2027-04-01T07:30:00.000000+00:00")}
    assert rows(old, "replanner_schema") == [{"id": 1, "version": SCHEMA_VERSION}]


def test_what_version_1_kept_is_in_force(old: Path) -> None:
    store = open_store(str(old), lambda: SENT)
    accepted = store.accepted_plan("coast", DAY)
    assert accepted is not None
    assert [leg.name for leg in accepted.legs] == [leg.name for leg in PLAN.legs]
    assert store.recall("coast", DAY).demands.left_out == {"hask"}
    assert store.recall("coast", DAY + timedelta(days=1)).demands.moved == {("quern", DAY)}
    assert store.keep_plan("coast", PLAN, accepted=True).version == 3
    store.close()


def test_an_upgrade_that_fails_leaves_the_file_as_it_was(old: Path) -> None:
    with closing(sqlite3.connect(old)) as other:
        other.execute("UPDATE conversations SET kept_at = 'yesterday' WHERE day = '2027-04-03'")
        other.commit()
    before = dump(old)
    with pytest.raises(StoreError, match=r"cannot be brought up to date: .*'yesterday'") as caught:
        open_store(str(old), lambda: SENT)
    assert "\n" not in str(caught.value)
    assert dump(old) == before


def test_an_upgrade_that_fails_at_its_end_leaves_the_file_as_it_was(
    old: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def all_but_stored(*arguments: object) -> None:
        upgrade.upgrade(*arguments)  # type: ignore[arg-type]
        raise OSError("no space left on device")

    before = dump(old)
    with monkeypatch.context() as patched:
        patched.setattr("replanner.store.opening.upgrade_tables", all_but_stored)
        with pytest.raises(StoreError, match="no space left"):
            open_store(str(old), lambda: SENT)
    assert dump(old) == before
    open_store(str(old), lambda: SENT).close()
    assert dump(old) != before


def test_the_steps_lead_to_the_tables_we_use(store: Store) -> None:
    with store._database.writing() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, metadata) == []
        assert context.get_current_revision() == str(SCHEMA_VERSION)


def test_every_step_has_its_number() -> None:
    script = ScriptDirectory(str(Path(upgrade.__file__).parent / "migrations"))
    steps = sorted(int(step.revision) for step in script.walk_revisions())
    assert steps == list(range(1, SCHEMA_VERSION + 1))
    assert script.get_current_head() == str(SCHEMA_VERSION)


def test_a_newer_version_is_refused(store: Store, address: str) -> None:
    with store._database.writing() as connection:
        connection.exec_driver_sql("UPDATE replanner_schema SET version = 3")
    with pytest.raises(StoreError, match="version 3, this program knows 2"):
        open_store(address, lambda: SENT)


def test_another_programs_database_is_refused(store: Store, address: str) -> None:
    with store._database.writing() as connection:
        connection.exec_driver_sql("ALTER TABLE replanner_schema RENAME TO songs")
    with pytest.raises(StoreError, match="another program"):
        open_store(address, lambda: SENT)


def _open_and_keep(address: str, key: str) -> None:
    store = open_store(address, lambda: SENT)
    store.keep_plan(key, PLAN, accepted=True)
    store.close()


def test_processes_that_open_an_empty_database_at_once_agree(address: str) -> None:
    children = [
        CONTEXT.Process(target=_open_and_keep, args=(address, f"tour {number}"))
        for number in range(3)
    ]
    for child in children:
        child.start()
    for child in children:
        child.join(90)
        assert child.exitcode == 0
    store = open_store(address, lambda: SENT)
    assert all(store.accepted_plan(f"tour {number}", DAY) == PLAN for number in range(3))
    store.close()
