"""A rider takes his data along and leaves; every table of the file is looked at.

That a person may have a copy of what is kept, and have it erased: GDPR, articles 15 and 17.
"""

import json
from datetime import timedelta

from replanner.people import Role
from replanner.post import TextFile
from tests.safety.desk import FOREIGN, LEADER, RIDER, Desk, text


def erase(desk: Desk, chat: int) -> str:
    """Let a rider ask for it until it is done; return the last thing he is told."""
    told: list[str] = []
    for said in ("erase my data", "yes"):
        if desk.store.member_of(chat) is not None:
            told += desk.says(chat, said)
    assert desk.store.member_of(chat) is None
    return told[-1]


def test_of_who_leaves_nothing_stays_in_any_table_or_file(desk: Desk) -> None:
    desk.joined(LEADER, Role.LEADER)
    rider = desk.joined(RIDER, Role.RIDER)
    desk.evening()
    desk.says(RIDER, "what if i skip hask")
    desk.gets(text(RIDER, "xylophone"))  # its answer is not sent yet
    desk.arrive(text(RIDER, "Quernhouse"))  # this one is not even read
    assert "erased" in erase(desk, RIDER)
    for name, rows in desk.rows().items():
        for row in rows:
            assert RIDER not in row, (name, row)
            assert "xylophone" not in repr(row), name
    assert desk.trace("xylophone", "Quernhouse", str(RIDER)) == []
    assert desk.store.export(rider.id) == {}
    assert [one.chat for one in desk.store.members(desk.group.id)] == [LEADER]


def test_the_group_goes_with_its_last_member(desk: Desk) -> None:
    other = desk.store.new_group("Coast of Lanterns, other riders")
    desk.joined(LEADER, Role.LEADER)
    stays = desk.joined(FOREIGN, Role.LEADER, other)
    desk.evening()
    desk.says(LEADER, "ok")
    before = desk.in_force(other)
    erase(desk, LEADER)
    assert desk.store.group(desk.group.id) is None
    left = desk.rows()
    for name in ("plans", "conversations", "talks", "log"):
        assert {row for row in left[name] if desk.group.tour_key in row} == set(), name
    assert desk.trace("the tour of the one group") == []
    assert desk.in_force(other) == before
    assert desk.store.member(stays.id) == stays


def test_what_is_kept_is_handed_over_whole(desk: Desk) -> None:
    desk.joined(LEADER, Role.LEADER)
    rider = desk.joined(RIDER, Role.RIDER)
    desk.evening()
    desk.letters()
    desk.gets(text(RIDER, "export my data", desk.now))
    (file,) = [body for body in desk.letters(RIDER) if isinstance(body, TextFile)]
    kept = json.loads(file.text)
    tables = set(desk.rows()) - {"replanner_schema", "sqlite_sequence", "alembic_version"}
    assert set(kept) == tables
    assert [row["chat"] for row in kept["members"]] == [RIDER]
    assert [row["member"] for row in kept["talks"]] == [rider.id]
    assert str(LEADER) not in file.text


def test_a_leader_who_leaves_is_followed_by_who_rode_along_longest(desk: Desk) -> None:
    desk.joined(LEADER, Role.LEADER)
    first = desk.joined(RIDER, Role.RIDER)
    desk.joined(FOREIGN, Role.RIDER)
    desk.evening()
    desk.letters()
    desk.gets(text(LEADER, "erase my data", desk.now))
    desk.gets(text(LEADER, "yes", desk.now))
    told: dict[int, list[str]] = {RIDER: [], FOREIGN: []}
    while claimed := desk.store.claim(desk.now, timedelta(minutes=1), 64):
        for one in claimed:
            told.setdefault(one.letter.chat, []).append(getattr(one.letter.body, "text", ""))
            desk.store.sent(one.row, 1, desk.now)
    assert told[RIDER] == [
        "Your leader has left. You decide for the group now: you have been with it longest."
    ]
    assert told[FOREIGN] == ["Your leader has left. Another rider of your group decides now."]
    heir = desk.store.member(first.id)
    assert heir is not None
    assert heir.role is Role.LEADER
    desk.says(RIDER, "skip hask")
    assert desk.in_force()[0].demands.left_out == {"hask"}
