"""Only who was invited is let in; of everybody else nothing is kept (the project's own rules)."""

import math
import re
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path

from replanner.errors import ConflictError
from replanner.people import Role
from replanner.post import DueKind
from tests.safety.desk import LEADER, RIDER, STRANGER, Desk, document, position, press, text

SAID = "xylophone weather for Quernhouse please"


def housekeeping(desk: Desk) -> None:
    with desk.store.work() as work:
        work.set_due(DueKind.HOUSEKEEPING, 0, desk.now)
    desk.round(DueKind.HOUSEKEEPING)


def test_of_a_stranger_nothing_is_kept_and_nothing_is_posted(desk: Desk) -> None:
    for update in (
        text(STRANGER, SAID),
        text(STRANGER, "/start"),
        position(STRANGER, -41.234567, 174.765432),
        document(STRANGER, "xylophone.gpx", 900),
        press(STRANGER, "1 ok"),
        {"message": text(STRANGER, "")["message"] | {"sticker": {"file_id": "x"}}},
    ):
        desk.gets(update)
    assert set(desk.refused) == {STRANGER}
    assert desk.fetched == []
    assert desk.letters() == []
    mine = [
        (name, row)
        for name, rows in desk.rows().items()
        for row in rows
        if str(STRANGER) in repr(row) or "xylophone" in repr(row) or "234567" in repr(row)
    ]
    assert mine == []
    housekeeping(desk)
    assert desk.trace("xylophone", str(STRANGER), "234567", "765432", "Quillon") == []


def test_a_code_works_once_and_not_after_its_time(desk: Desk) -> None:
    code, late = desk.invite(Role.RIDER), desk.invite(Role.RIDER)
    desk.gets(text(RIDER, f"/start {code}"))
    assert desk.store.member_of(RIDER) is not None
    desk.gets(text(STRANGER, code))
    desk.now += timedelta(days=3)
    desk.gets(text(STRANGER + 1, late, desk.now))
    assert desk.refused == [STRANGER, STRANGER + 1]
    assert desk.store.member_of(STRANGER) is None
    assert desk.trace(code, late) == [code, late]  # until the hourly tidying
    housekeeping(desk)
    assert desk.trace(code, late) == []


def test_two_chats_with_one_code_at_the_same_moment(tmp_path: Path) -> None:
    for attempt in range(5):
        folder = tmp_path / str(attempt)
        folder.mkdir()
        desk = Desk(folder)
        code = desk.invite(Role.RIDER)
        waiting = [desk.arrive(text(STRANGER + number, code)) for number in range(4)]
        offices = [desk.new_office() for _ in waiting]
        with ThreadPoolExecutor(4) as threads:
            done = [
                threads.submit(office.handle, one)
                for office, one in zip(offices, waiting, strict=True)
            ]
        assert all(isinstance(one.exception(), ConflictError | None) for one in done)
        assert len(desk.store.members(desk.group.id)) == 1
        desk.store.close()


def test_who_guesses_is_soon_not_looked_at_not_even_with_the_right_code(desk: Desk) -> None:
    code = desk.invite(Role.LEADER)
    for number in range(5):
        desk.gets(text(STRANGER, f"guess-{number:010}"))
    desk.gets(text(STRANGER, code))
    assert desk.store.member_of(STRANGER) is None
    desk.gets(text(LEADER, code))  # another chat is not held up by it
    assert desk.store.member_of(LEADER) is not None
    again = desk.invite(Role.RIDER)
    desk.now += timedelta(minutes=61)
    desk.gets(text(STRANGER, again, desk.now))
    assert desk.store.member_of(STRANGER) is not None


def test_plain_words_are_no_guesses(desk: Desk) -> None:
    for said in ("hello", "what is this", "who are you", "??", "/start", "hello again"):
        desk.gets(text(RIDER, said))
    desk.gets(text(RIDER, desk.invite(Role.RIDER)))
    assert desk.store.member_of(RIDER) is not None


def test_a_code_cannot_be_guessed(desk: Desk) -> None:
    """RFC 4086 section 8: 96 bits withstand a search that knows nothing."""
    codes = [desk.invite(Role.RIDER) for _ in range(200)]
    letters = {letter for code in codes for letter in code}
    assert all(re.fullmatch(r"[A-Za-z0-9_-]{16}", code) for code in codes)
    assert len(letters) == 64  # 3,200 draws leave one out in e^-44 of cases
    assert len(codes[0]) * math.log2(64) == 96
    assert len({code[:8] for code in codes}) == 200
    assert not [
        code for code in codes if code.encode() in desk.folder.joinpath("state.sqlite").read_bytes()
    ]


def test_a_member_who_says_a_code_again_is_told_so_and_the_code_stays_good(desk: Desk) -> None:
    desk.joined(LEADER, Role.LEADER)
    code = desk.invite(Role.RIDER)
    (said,) = desk.says(LEADER, f"/start {code}")
    assert "in already" in said
    assert code not in said
    assert desk.says(LEADER, "/start") == ["You are in already. Say: plan, or commands."]
    desk.joined(RIDER, Role.RIDER)
    desk.gets(text(STRANGER, code))
    assert desk.store.member_of(STRANGER) is not None


def test_group_chats_and_channels_get_nothing(desk: Desk) -> None:
    code = desk.invite(Role.LEADER)
    for update in (
        text(-100_777, code),
        text(-100_777, "xylophone ok"),
        press(-100_777, "1 ok", by=LEADER),
        {"channel_post": text(-100_778, code)["message"]},
        {"message_reaction": {"chat": {"id": LEADER, "type": "private"}}},
        {"inline_query": {"id": "1", "from": {"id": LEADER}, "query": code}},
    ):
        desk.gets(update)
    assert desk.refused == []
    assert desk.letters() == []
    assert desk.store.members(desk.group.id) == ()
    assert desk.store.waiting(9) == ()
