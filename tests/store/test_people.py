"""Who may talk to us."""

from dataclasses import replace
from datetime import time, timedelta

import pytest

from replanner.errors import InputError
from replanner.people import Invitation, Member, Role
from replanner.store.store import Store
from tests.dialogue.evening import SENT
from tests.store.conftest import Clock
from tests.store.things import DEFAULTS, joined

LATER = SENT + timedelta(days=7)


def join(store: Store, code: str, chat: int, clock: Clock) -> Member | None:
    with store.work() as work:
        return work.join(code, chat, clock.now, DEFAULTS)


def test_a_code_lets_one_chat_in(store: Store, clock: Clock) -> None:
    group = store.new_group("name = 'Tārn'")
    code = store.invite(group.id, Role.LEADER, LATER)
    assert store.invitation(code) == Invitation(group=group.id, role=Role.LEADER, expires=LATER)
    member = join(store, code, 7, clock)
    assert member == Member(
        id=1,
        group=group.id,
        chat=7,
        role=Role.LEADER,
        zone="Pacific/Auckland",
        evening_at=time(19, 30),
        quiet_from=time(21),
        quiet_to=time(6, 30),
    )
    assert store.member_of(7) == store.member(1) == member
    assert store.invitation(code) is None
    assert join(store, code, 8, clock) is None
    assert store.member_of(8) is None


def test_a_code_expires(store: Store, clock: Clock) -> None:
    code = store.invite(store.new_group("").id, Role.RIDER, LATER)
    clock.now = LATER
    assert store.invitation(code) is None
    assert join(store, code, 7, clock) is None


def test_a_code_that_was_never_given_is_good_for_nothing(store: Store, clock: Clock) -> None:
    assert store.invitation("guess") is None
    assert join(store, "guess", 7, clock) is None


def test_codes_are_not_kept_and_not_to_be_guessed(store: Store) -> None:
    group = store.new_group("").id
    codes = {store.invite(group, Role.RIDER, LATER) for _ in range(50)}
    assert len(codes) == 50
    assert min(map(len, codes)) >= 16  # of 64 letters each: 96 bits
    with store._database.reading() as look:
        kept = str(look.exec_driver_sql("SELECT * FROM invitations").all())
    assert not any(code in kept for code in codes)


def test_a_member_of_a_group_keeps_it_and_the_code_stays_good(store: Store, clock: Clock) -> None:
    (member,) = joined(store, 7)
    code = store.invite(store.new_group("").id, Role.RIDER, LATER)
    with pytest.raises(InputError, match="belongs to a group already"):
        join(store, code, 7, clock)
    assert store.member_of(7) == member
    assert store.invitation(code) is not None


def test_leaders_come_first(store: Store) -> None:
    first, second = joined(store, 1, 2)
    with store.work() as work:
        work.change_member(replace(first, role=Role.RIDER))
        work.change_member(replace(second, role=Role.LEADER))
    assert [one.chat for one in store.members(first.group)] == [2, 1]
    assert store.members(99) == ()


def test_what_a_member_has_set_is_kept(store: Store) -> None:
    mine, other = joined(store, 7, 8)
    changed = replace(
        mine,
        zone="Australia/Lord_Howe",
        evening_at=time(20, 15),
        quiet_from=time(22, 1),
        quiet_to=time(5, 59),
        hushed_until=LATER,
        reachable=False,
    )
    with store.work() as work:
        work.change_member(changed)
    assert store.member(mine.id) == changed
    assert store.member(other.id) == other


def test_a_tour_file_is_set_aside_until_the_leader_says_yes(store: Store) -> None:
    group = store.new_group("old").id
    with store.work() as work:
        work.set_aside(group, "first", "one")
        work.set_aside(group, "second", "two")
        assert work.aside(group, "first") is None
        assert work.aside(group, "second") == "two"
        changed = work.change_tour(group, "two")
        assert work.aside(group, "second") is None
    assert (changed.tour_text, changed.revision) == ("two", 2)
    assert store.group(group) == changed
    assert store.group(99) is None
