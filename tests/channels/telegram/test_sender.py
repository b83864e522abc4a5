"""What the sender makes of each answer, the real client library unmocked against the service.

Which errors are certain and which leave a doubt: certainly unsent are 429, refusals, and a
connection never made; every other failure may have happened after the message had arrived.
"""

import socket
import time
from datetime import timedelta
from itertools import pairwise
from typing import Any

import pytest
from sqlalchemy import select
from telegram.error import BadRequest, NetworkError, TelegramError
from telegram.request import HTTPXRequest

from replanner.channels.telegram import sender
from replanner.dialogue.events import Button
from replanner.post import PlanPicture, PlanRef, PlanTrack, PressAnswered, TextFile, Words
from replanner.store.store import Store
from replanner.store.tables import letters as letters_table
from tests.botapi.client import RIDER
from tests.botapi.faults import Fault, Kind
from tests.botapi.limits import Limits
from tests.botapi.server import TOKEN, BotApiServer
from tests.channels.telegram.sending import PICTURE, letter, send
from tests.dialogue.evening import DAY
from tests.store.things import joined

REF = PlanRef(tour_key="group 1", day=DAY, version=1)


def rows(store: Store) -> list[Any]:
    """Return the letters as they are kept."""
    with store._database.reading() as connection:
        return list(connection.execute(select(letters_table)))


def told(server: BotApiServer, chat: int = RIDER) -> list[str]:
    return [one.text for one in server.sent_to(chat)]


def test_sent_once_and_marked_so(server: BotApiServer, store: Store) -> None:
    send(server, store, letter("plan", "Leave <08:30> & ride"))
    assert told(server) == ["Leave <08:30> & ride"]
    assert store.counts()["letters waiting"] == 0


def test_too_many_at_once_waits_as_told_and_is_no_repeat(
    server: BotApiServer, store: Store
) -> None:
    server.faults.then(Fault(Kind.TOO_MANY, "sendMessage", 1.0))
    begun = time.monotonic()
    send(server, store, letter("plan", "the plan"))
    assert told(server) == ["the plan"]
    assert time.monotonic() - begun >= 1.0


def test_cut_after_the_service_had_it_is_sent_again_and_says_so(
    server: BotApiServer, store: Store
) -> None:
    server.faults.then(Fault(Kind.CUT_AFTER, "sendMessage"))
    send(server, store, letter("plan", "the plan"))
    assert told(server) == ["the plan", "(again) the plan"]


@pytest.mark.parametrize("kind", [Kind.CUT_BEFORE, Kind.INTERNAL, Kind.BAD_GATEWAY])
def test_what_may_have_arrived_says_so(server: BotApiServer, store: Store, kind: Kind) -> None:
    server.faults.then(Fault(kind, "sendMessage"))
    send(server, store, letter("plan", "the plan"))
    assert told(server) == ["(again) the plan"]


def test_a_connection_never_made_leaves_no_doubt(server: BotApiServer, store: Store) -> None:
    def put_back() -> bool:
        return "Connect" in (rows(store)[0].cause or "")

    joined(store, RIDER)
    with socket.socket() as shut:  # bound, not listening: refused
        shut.bind(("127.0.0.1", 0))
        gone = f"http://127.0.0.1:{shut.getsockname()[1]}"
        send(server, store, letter("plan", "the plan"), until=put_back, moved_to=gone)
    assert not rows(store)[0].doubtful
    send(server, store)
    assert told(server) == ["the plan"]


@pytest.mark.parametrize("kind", [NetworkError, BadRequest])
def test_no_token_is_kept_of_why_a_letter_did_not_go(
    server: BotApiServer, store: Store, kind: type[TelegramError], monkeypatch: pytest.MonkeyPatch
) -> None:
    async def fails(self: HTTPXRequest, url: str, *args: Any, **named: Any) -> tuple[int, bytes]:
        if "sendMessage" not in url:
            return await real(self, url, *args, **named)
        raise kind(f"no luck with {url}")

    real = HTTPXRequest.do_request
    joined(store, RIDER)
    monkeypatch.setattr(HTTPXRequest, "do_request", fails)
    send(server, store, letter("plan", "the plan"), until=lambda: rows(store)[0].cause)
    (row,) = rows(store)
    assert "no luck with" in row.cause
    assert "[token]/sendMessage" in row.cause
    assert TOKEN.split(":")[1] not in row.cause


def odd_answers(monkeypatch: pytest.MonkeyPatch, given: list[bytes]) -> None:
    """Let something between us and the service answer what is sent, as often as is given."""
    real = HTTPXRequest.do_request

    async def odd(self: HTTPXRequest, url: str, *args: Any, **named: Any) -> tuple[int, bytes]:
        if given and "sendMessage" in url:
            return 200, given.pop(0)
        return await real(self, url, *args, **named)

    monkeypatch.setattr(HTTPXRequest, "do_request", odd)


def test_answers_nobody_foresaw_leave_a_doubt_and_hold_nothing_up(
    server: BotApiServer, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    joined(store, RIDER)
    odd_answers(monkeypatch, [b'{"ok": true}', b"<html>", b'{"result": {"message_id": 5}}'])
    monkeypatch.setattr(sender, "_FIRST_BACKOFF", timedelta(milliseconds=20))
    send(server, store, letter("a", "the plan"), letter("b", "and more"))
    assert told(server) == ["(again) the plan", "and more"]


def test_what_fails_for_ever_is_given_up(
    server: BotApiServer, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    joined(store, RIDER)
    odd_answers(monkeypatch, [b'{"ok": true}'] * 11)
    monkeypatch.setattr(sender, "_FIRST_BACKOFF", timedelta(milliseconds=1))
    send(server, store, letter("a", "the plan"), letter("b", "and more"))
    assert told(server) == ["and more"]
    assert store.counts()["letters given up"] == 1


def test_a_chat_that_takes_nothing_is_told_of_and_its_letter_given_up(
    server: BotApiServer, store: Store
) -> None:
    server.user_blocks(RIDER)
    assert send(server, store, letter("plan", "the plan")) == [RIDER]
    assert told(server) == []


def test_what_is_refused_for_good_does_not_hold_up_the_rest(
    server: BotApiServer, store: Store
) -> None:
    joined(store, RIDER)
    send(server, store, letter("a", ""), letter("b", "the plan"))  # no text: refused
    assert told(server) == ["the plan"]
    assert store.counts()["letters given up"] == 1


def test_a_letter_of_a_slot_takes_the_place_of_the_one_before(
    server: BotApiServer, store: Store
) -> None:
    joined(store, RIDER)
    ok = (Button(label="Ok", word="ok"),)
    send(server, store, letter("a", Words(text="one", buttons=ok, serial=1, slot="plan")))
    send(server, store, letter("b", Words(text="two", buttons=ok, serial=2, slot="plan")))
    (only,) = server.sent_to(RIDER)
    assert [only.text, only.shown.text] == ["one", "two"]
    assert [button["callback_data"] for button in only.buttons] == ["2 ok"]


def test_an_edit_that_changes_nothing_is_none(server: BotApiServer, store: Store) -> None:
    joined(store, RIDER)
    for key in ("a", "b"):
        send(server, store, letter(key, Words(text="one", slot="plan")))
    assert told(server) == ["one"]
    assert store.counts()["letters given up"] == 0


def test_an_edit_cut_after_is_one_edit_without_a_mark(server: BotApiServer, store: Store) -> None:
    joined(store, RIDER)
    send(server, store, letter("a", Words(text="one", slot="plan")))
    server.faults.then(Fault(Kind.CUT_AFTER, "editMessageText"))
    send(server, store, letter("b", Words(text="two", slot="plan")))
    (only,) = server.sent_to(RIDER)
    assert only.shown.text == "two"


def test_what_was_deleted_is_sent_anew(server: BotApiServer, store: Store) -> None:
    joined(store, RIDER)
    send(server, store, letter("a", Words(text="one", slot="plan")))
    with server.world.changed:  # the rider deletes it
        server.world.messages.pop((RIDER, server.sent_to(RIDER)[0].message_id))
    send(server, store, letter("b", Words(text="two", slot="plan")))
    assert told(server)[-1] == "two"
    assert len(told(server)) == 2


def test_pictures_tracks_and_files_arrive_and_say_when_they_come_again(
    server: BotApiServer, store: Store
) -> None:
    server.faults.then(Fault(Kind.CUT_AFTER, "sendPhoto"))
    bodies = (PlanPicture(plan=REF), PlanTrack(plan=REF), TextFile(name="kept.json", text="{}"))
    send(server, store, *(letter(f"in:{number}", body) for number, body in enumerate(bodies)))
    got = server.sent_to(RIDER)
    assert [(one.kind, one.file_name) for one in got][2:] == [
        ("document", f"plan-{DAY.isoformat()}.gpx"),
        ("document", "kept.json"),
    ]
    assert [one.text.strip() for one in got] == ["", "(again)", "", ""]
    assert server.content_of(got[0]) == PICTURE


def test_a_picture_that_cannot_be_made_holds_nothing_up(server: BotApiServer, store: Store) -> None:
    lost = PlanPicture(plan=PlanRef(tour_key="group 1", day=DAY, version=0))
    send(server, store, letter("a", lost), letter("b", "the plan"))
    assert told(server) == ["the plan"]


def test_a_press_is_answered_one_too_old_is_let_go(server: BotApiServer, store: Store) -> None:
    joined(store, RIDER)
    ok = (Button(label="Ok", word="ok"),)
    send(server, store, letter("a", Words(text="one", buttons=ok, serial=1)))
    query = server.user_presses(RIDER, server.sent_to(RIDER)[0].message_id, "1 ok")
    send(
        server,
        store,
        letter("b", PressAnswered(press=query)),
        letter("c", PressAnswered(press="12345")),
    )
    assert [one["id"] for one in server.answers] == [query]
    assert store.counts()["letters given up"] == 0


def test_a_long_text_cut_off_in_the_middle_says_so(server: BotApiServer, store: Store) -> None:
    long = "\n".join(["a" * 4000, "b" * 4000])
    server.faults.then(Fault(Kind.SLOW, "sendMessage", 0.0), Fault(Kind.TOO_MANY, "sendMessage"))
    send(server, store, letter("plan", long))
    assert [text[:9] for text in told(server)] == ["aaaaaaaaa", "(again) a", "bbbbbbbbb"]


def test_an_even_pace_is_never_too_much_for_the_service(store: Store) -> None:
    """Telegram's limits as its FAQ tells them; the service refuses what is over them."""
    with BotApiServer(limits=Limits()) as server:
        chats = range(1, 36)
        for chat in chats:
            server.add_user(chat)
        letters = [letter(f"{chat} {text}", text, chat) for chat in chats for text in "ab"]
        begun = time.monotonic()
        send(server, store, *letters, per_second=28.0)
        took = time.monotonic() - begun
        assert all(told(server, chat) == ["a", "b"] for chat in chats)
        assert server.faults.drawn[Kind.TOO_MANY] == 0
        assert server.calls("sendMessage") == 70  # none was refused and tried again
    assert took < 70 / 28 * 1.5 + 1.0


def test_a_chat_s_letters_come_in_order_with_a_rest_between(
    server: BotApiServer, store: Store
) -> None:
    joined(store, RIDER)
    send(server, store, *(letter(text, text) for text in "abc"))
    got = server.sent_to(RIDER)
    assert [one.text for one in got] == ["a", "b", "c"]
    assert all(b.at - a.at >= 0.95 for a, b in pairwise(got))


def test_what_waited_longer_than_it_was_surely_ours_is_not_sent_by_us(
    server: BotApiServer, store: Store
) -> None:
    """Another process takes it on after the lease; sent by both it would be two, unmarked."""
    others = [letter(str(chat), "x", chat) for chat in range(1, 5)]
    for chat in range(1, 5):
        server.add_user(chat)
    lease = timedelta(seconds=1)
    send(server, store, *others, per_second=1.0, lease=lease)  # the second waits past half of it
    assert [told(server, chat) for chat in range(1, 5)] == [["x"]] * 4  # none marked


def test_stopped_in_the_middle_it_ends_what_it_has_begun(
    server: BotApiServer, store: Store
) -> None:
    joined(store, RIDER)
    server.faults.then(Fault(Kind.SLOW, "sendMessage", 0.5))
    send(server, store, letter("a", "a"), until=lambda: server.calls("sendMessage"))
    assert store.counts()["letters waiting"] == 0
    assert told(server) == ["a"]
