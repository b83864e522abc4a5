"""Export and erasure reach every table; positions do not outlive the day anywhere in the file."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa

from replanner.dialogue.events import LogLeg, Memory, Outcome
from replanner.errors import ConflictError
from replanner.people import Member, Role
from replanner.post import Arrived, DueKind
from replanner.store import privacy
from replanner.store.store import Store, open_store
from replanner.store.tables import metadata
from replanner.trip.edits import Demands
from tests.dialogue.evening import DAY, SENT
from tests.store.conftest import Clock
from tests.store.things import BEFORE, HERE, PLAN, joined, letter, talk, underway

NEXT = DAY + timedelta(days=1)
NOON = datetime(2027, 4, 2, 12, tzinfo=UTC)  # the next day already where the riders are
LATER = SENT + timedelta(days=7)
TABLES = {table.name for table in metadata.sorted_tables} - {"replanner_schema"}


def test_every_table_has_an_owner() -> None:
    """A new table is somebody's, or says that it is nobody's."""
    owned = {*privacy.OF_MEMBER, *privacy.OF_GROUP}
    assert owned | privacy.OF_NOBODY == set(metadata.sorted_tables)
    assert not owned & privacy.OF_NOBODY


def fill(store: Store, members: tuple[Member, ...]) -> None:
    """Put something of each member and of their group into every table."""
    group = store.group(members[0].group)
    assert group is not None
    key = group.tour_key
    store.keep_plan(key, PLAN, accepted=True, demands=Demands(underway=underway(HERE)))
    store.log(key, LogLeg(leg="hask", day=DAY, outcome=Outcome.RIDDEN), SENT)
    store.invite(group.id, Role.RIDER, LATER)
    with store.work() as work:
        work.set_aside(group.id, f"token {group.id}", "another tour")
        for kind in (DueKind.MORNING, DueKind.ROAD_CHECK, DueKind.OVERDUE):
            work.set_due(kind, group.id, SENT)
        work.set_due(DueKind.HOUSEKEEPING, 0, SENT)
        for member in members:
            work.set_due(DueKind.EVENING, member.id, SENT)
            work.post([letter(f"to {member.chat}", member.chat)])
            work.keep_talk(key, member.id, talk(now=HERE), 0)
    store.receive([raw(member.chat * 10, member.chat) for member in members], SENT)


def raw(number: int, chat: int, point: tuple[float, float] | None = None) -> Arrived:
    """Return something as Telegram sends it (Bot API, "Update", "Location")."""
    message: dict[str, object] = {"message_id": 1, "chat": {"id": chat, "type": "private"}}
    if point is None:
        message["text"] = "running 40 late"
    else:
        message["location"] = {"latitude": point[0], "longitude": point[1]}
    return Arrived(
        number=number, chat=chat, raw=json.dumps({"update_id": number, "message": message})
    )


def everything(store: Store) -> dict[str, list[tuple[object, ...]]]:
    with store._database.reading() as look:
        return {
            name: sorted((tuple(row) for row in look.execute(sa.select(table))), key=repr)
            for name, table in metadata.tables.items()
        }


def test_the_export_holds_every_table_and_can_be_written_down(store: Store) -> None:
    mine, other = joined(store, 71, 72)
    fill(store, (mine, other))
    (stranger,) = joined(store, 73)
    fill(store, (stranger,))
    told = store.export(mine.id)
    assert set(told) == TABLES
    assert all(told.values()), [name for name, rows in told.items() if not rows]
    text = json.dumps(told)
    assert "to 71" in text
    assert "running 40 late" in text
    for foreign in ("to 72", "to 73", "token 2", '"chat": 72', '"id\\": 73'):
        assert foreign not in text
    assert [row["id"] for row in told["members"]] == [mine.id]
    assert [row["member"] for row in told["talks"]] == [mine.id]
    kinds = {(row["kind"], row["owner"]) for row in told["due"]}
    assert kinds == {
        ("evening", mine.id),
        ("morning", mine.group),
        ("road check", mine.group),
        ("overdue", mine.group),
    }
    assert store.export(99) == {}


def test_of_an_erased_member_nothing_stays_and_of_others_everything(store: Store) -> None:
    mine, other = joined(store, 71, 72)
    (stranger,) = joined(store, 73)
    fill(store, (mine, other))
    fill(store, (stranger,))
    exported = {one.id: store.export(one.id) for one in (other, stranger)}
    with store.work() as work:
        work.erase(mine.id)
    assert store.export(mine.id) == {}
    assert store.member_of(71) is None
    for one in (other, stranger):
        assert store.export(one.id) == exported[one.id]
    left = everything(store)
    assert not [row for row in left["letters"] if 71 in row]
    assert not [row for row in left["talks"] if row[:2] == (f"group {mine.group}", mine.id)]
    assert ("evening", mine.id) not in {row[:2] for row in left["due"]}
    assert [row[:3] for row in left["arrivals"] if row[0] == 710] == [(710, None, None)]
    store.receive([raw(710, 71)], SENT)  # known still
    assert 710 not in {one.number for one in store.waiting(9)}


def test_with_the_last_member_the_group_goes(store: Store, clock: Clock) -> None:
    nobody = everything(store)
    mine, other = joined(store, 71, 72)
    fill(store, (mine, other))
    with store.work() as work:
        work.erase(mine.id)
        work.erase(other.id)
        work.erase(other.id)
        work.set_due(DueKind.HOUSEKEEPING, 0, None)
    left = everything(store)
    numbers = left.pop("arrivals")
    assert [row[:3] for row in numbers] == [(710, None, None), (720, None, None)]
    del nobody["arrivals"]
    assert left == nobody
    assert store.new_group("next").id > mine.group  # no old number for a new group
    assert store.claim(clock.now, timedelta(minutes=1), 9) == ()


def test_the_word_that_asks_for_it_is_dealt_with_in_the_same_transaction(store: Store) -> None:
    (mine,) = joined(store, 71)
    store.receive([raw(1, 71), raw(2, 71)], SENT)
    with store.work() as work:
        work.erase(mine.id)
        work.close_arrival(1)
        work.post([letter("gone", 71)])
    assert store.waiting(9) == ()
    with pytest.raises(ConflictError), store.work() as work:
        work.close_arrival(1)
    (last,) = store.claim(SENT, timedelta(minutes=1), 9)
    store.sent(last.row, 1, SENT)
    assert store.counts() == dict.fromkeys(store.counts(), 0)


def with_positions(store: Store) -> tuple[Member, Member]:
    """Keep positions of two days wherever they are kept."""
    riders = joined(store, 71, 72)
    key = f"group {riders[0].group}"
    for day in (DAY, NEXT):
        store.remember(key, day, Memory(demands=Demands(underway=underway(HERE))))
    store.keep_talk(key, riders[0].id, talk(DAY, now=HERE), 0)
    store.keep_talk(key, riders[1].id, talk(NEXT, now=HERE), 0)
    store.receive([raw(1, 71, HERE[:2]), raw(2, 71), raw(3, 72, BEFORE[:2])], NOON)
    return riders[0], riders[1]


def test_positions_go_with_their_day_and_nothing_else_does(store: Store) -> None:
    first, second = with_positions(store)
    key = f"group {first.group}"
    with store.work() as work:
        work.close_arrival(3)
        work.forget_positions(NEXT)
    assert store.recall(key, DAY).demands.underway is None
    assert store.recall(key, NEXT).demands.underway == underway(HERE)
    assert store.talk(key, first.id) == (talk(DAY), 2)
    assert store.talk(key, second.id) == (talk(NEXT, now=HERE), 1)
    assert [one.number for one in store.waiting(9)] == [1]  # that day is not over everywhere
    with pytest.raises(ConflictError):  # who had read it before may not write it back
        store.keep_talk(key, first.id, talk(DAY, now=HERE), 1)


def test_what_was_never_dealt_with_goes_if_it_holds_a_position(store: Store) -> None:
    with_positions(store)
    with store.work() as work:
        work.forget_positions(NEXT + timedelta(days=1))
    assert [one.number for one in store.waiting(9)] == [2]
    assert store.last_number() == 3


def trace(folder: Path, *points: object) -> list[str]:
    """Return the files in which a coordinate of the points still stands."""
    figures = [str(figure).lstrip("-").encode() for point in points for figure in point[:2]]  # type: ignore[index]
    return [
        path.name
        for path in sorted(folder.iterdir())
        if any(figure in path.read_bytes() for figure in figures)
    ]


@pytest.mark.parametrize("vacuum", [True, False])
def test_no_coordinate_stays_in_the_files(tmp_path: Path, clock: Clock, vacuum: bool) -> None:
    store = open_store(str(tmp_path / "state.sqlite"), clock)
    with_positions(store)
    for number in range(50):  # enough for pages to be split and freed
        store.keep_talk("group 1", 100 + number, talk(DAY, now=HERE), 0)
    assert trace(tmp_path, HERE, BEFORE)
    with store.work() as work:
        work.forget_positions(NEXT + timedelta(days=9))
    if vacuum:
        with store._database.engine.connect() as connection:
            raw_connection = connection.connection.driver_connection
            assert raw_connection is not None
            raw_connection.execute("VACUUM")
    assert trace(tmp_path, HERE, BEFORE) == []
    store.close()
    assert trace(tmp_path, HERE, BEFORE) == []


def test_nothing_of_an_erased_member_stays_in_the_files(tmp_path: Path, clock: Clock) -> None:
    store = open_store(str(tmp_path / "state.sqlite"), clock)
    (mine,) = joined(store, 7_300_000_071)
    with_positions(store)
    store.keep_talk("group 1", mine.id, talk(now=BEFORE), 0)
    with store.work() as work:
        work.set_aside(mine.group, "token", "a tour past Quernhouse")
        work.post([letter("to Quernhouse", mine.chat)])
    assert b"Quernhouse" in b"".join(path.read_bytes() for path in tmp_path.iterdir())
    with store.work() as work:
        work.erase(mine.id)
    assert b"Quernhouse" not in b"".join(path.read_bytes() for path in tmp_path.iterdir())
    store.close()


def test_an_instant_is_told_as_text_in_an_export(store: Store) -> None:
    (mine,) = joined(store, 71)
    with store.work() as work:
        work.set_due(DueKind.EVENING, mine.id, SENT)
    (due,) = store.export(mine.id)["due"]
    assert datetime.fromisoformat(due["at"]) == SENT
