"""The loopback server driven by the real python-telegram-bot: talk, updates, people."""

import asyncio
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Thread
from typing import Any

import pytest
from telegram import Bot, Message, Update
from telegram.error import (
    BadRequest,
    Conflict,
    NetworkError,
)
from telegram.ext import Application, CallbackQueryHandler, CommandHandler, MessageHandler, filters

from tests.botapi.client import GROUP, RIDER, ask, bot_for, keyboard, talk
from tests.botapi.control import ApiProcess, read_journal
from tests.botapi.faults import Fault, Kind
from tests.botapi.server import TOKEN, BotApiServer


def test_the_library_starts_and_learns_who_it_is(server):
    me = talk(server, Bot.get_me)
    assert me.is_bot
    assert me.id == int(TOKEN.partition(":")[0])


def test_a_message_arrives_as_people_see_it_with_its_buttons(server):
    async def say(bot: Bot) -> Message:
        return await bot.send_message(
            RIDER, "Plan <b>6 &lt; 7</b> 🏍", parse_mode="HTML", reply_markup=keyboard("ok", "why")
        )

    told = talk(server, say)
    (got,) = server.sent_to(RIDER)
    assert got.text == told.text == "Plan 6 < 7 🏍"
    assert got.message_id == told.message_id
    assert [button["callback_data"] for button in got.buttons] == ["ok", "why"]
    # PAGE, MessageEntity: offsets and lengths in UTF-16 code units.
    assert told.parse_entities() == {told.entities[0]: "6 < 7"}


def test_an_application_of_the_library_lives_on_it(server):
    """Polling, commands, presses, an edit, a reply: the whole way by the library's own code."""

    async def start(update: Update, _: Any) -> None:
        await update.message.reply_text("press", reply_markup=keyboard("v1:ok"))

    async def pressed(update: Update, _: Any) -> None:
        await update.callback_query.answer("taken")
        await update.callback_query.edit_message_text("accepted")

    async def words(update: Update, _: Any) -> None:
        await update.message.reply_text(f"heard {update.message.text}", do_quote=True)

    def people() -> None:
        server.user_says(RIDER, "/start invited")
        (first,) = server.wait_for_sent(RIDER)
        server.user_presses(RIDER, first.message_id, "v1:ok")
        server.wait_for_text(RIDER, "accepted")
        server.user_says(RIDER, "running 40 late")
        server.wait_for_text(RIDER, "heard running 40 late")
        server.wait_until_confirmed()

    async def whole() -> None:
        application = (
            Application.builder()
            .token(TOKEN)
            .base_url(server.base_url)
            .base_file_url(server.base_file_url)
            .build()
        )
        application.add_handler(CommandHandler("start", start))
        application.add_handler(CallbackQueryHandler(pressed))
        application.add_handler(MessageHandler(filters.TEXT, words))
        async with application:
            await application.start()
            await application.updater.start_polling(timeout=5)
            await asyncio.to_thread(people)
            await application.updater.stop()
            await application.stop()

    asyncio.run(whole())
    first, second = server.sent_to(RIDER)
    assert [version.text for version in first.versions] == ["press", "accepted"]
    assert first.buttons == []
    assert second.reply_to is not None
    assert [answer["text"] for answer in server.answers] == ["taken"]


class TestGettingUpdates:
    """PAGE, getUpdates: offset, confirmation, limit, timeout, allowed_updates."""

    def test_they_come_again_until_an_offset_confirms_them(self, server):
        server.user_says(RIDER, "one")
        server.user_says(RIDER, "two")
        first = ask(server, "getUpdates")["result"]
        assert ask(server, "getUpdates")["result"] == first
        assert [update["message"]["text"] for update in first] == ["one", "two"]
        left = ask(server, "getUpdates", offset=first[0]["update_id"] + 1)["result"]
        assert left == first[1:]
        assert ask(server, "getUpdates")["result"] == first[1:]

    def test_a_negative_offset_keeps_the_newest_and_forgets_the_rest(self, server):
        for word in ("one", "two", "three"):
            server.user_says(RIDER, word)
        newest = ask(server, "getUpdates", offset=-1)["result"]
        assert [update["message"]["text"] for update in newest] == ["three"]
        assert len(server.pending) == 1

    def test_no_more_than_asked_for(self, server):
        for number in range(3):
            server.user_says(RIDER, str(number))
        assert len(ask(server, "getUpdates", limit=2)["result"]) == 2

    def test_a_long_poll_ends_when_somebody_speaks(self, server):
        speaker = Thread(target=lambda: (server.wait_for(polls), server.user_says(RIDER, "late")))

        def polls() -> bool:
            return server.calls("getUpdates") == 1

        speaker.start()
        began = datetime.now(UTC)
        (update,) = ask(server, "getUpdates", timeout=8)["result"]
        speaker.join()
        assert update["message"]["text"] == "late"
        assert datetime.now(UTC) - began < timedelta(seconds=4)

    def test_a_long_poll_without_news_ends_after_its_time(self, server):
        began = datetime.now(UTC)
        assert ask(server, "getUpdates", timeout=1)["result"] == []
        assert timedelta(seconds=0.9) < datetime.now(UTC) - began < timedelta(seconds=4)

    def test_of_two_who_wait_the_older_is_refused(self, server):
        async def both() -> tuple[Any, Any]:
            async with bot_for(server) as older, bot_for(server) as newer:
                first = asyncio.create_task(older.get_updates(timeout=8))
                await asyncio.to_thread(server.wait_for, lambda: server.calls("getUpdates") == 1)
                second = asyncio.create_task(newer.get_updates(timeout=8))
                lost = (await asyncio.gather(first, return_exceptions=True))[0]
                server.user_says(RIDER, "hello")
                return lost, await second

        lost, won = asyncio.run(both())
        assert isinstance(lost, Conflict)
        assert "only one bot instance" in lost.message
        assert [update.message.text for update in won] == ["hello"]

    def test_kinds_not_asked_for_stay_away_from_then_on(self, server):
        ask(server, "getUpdates", allowed_updates=["callback_query"])
        server.user_says(RIDER, "unheard")
        assert ask(server, "getUpdates")["result"] == []
        ask(server, "getUpdates", allowed_updates=[])
        server.user_says(RIDER, "heard")
        assert len(ask(server, "getUpdates")["result"]) == 1


class TestPeople:
    def heard(self, server: BotApiServer) -> list[Update]:
        return list(talk(server, Bot.get_updates))

    def test_a_position_that_moves_and_ends(self, server):
        shared = server.user_shares(RIDER, -44.6, 169.6, live_period=900, accuracy=12.0)
        server.user_moves(RIDER, shared, -44.7, 169.7)
        server.user_stops_sharing(RIDER, shared)
        first, moved, ended = self.heard(server)
        assert first.message.location.horizontal_accuracy == 12.0
        assert moved.edited_message.location.latitude == -44.7
        assert moved.edited_message.location.live_period is not None
        assert ended.edited_message.location.live_period is None
        assert moved.edited_message.message_id == shared

    def test_when_it_was_sent_and_edited(self, server):
        sent = datetime(2026, 10, 3, 6, 15, tzinfo=UTC)
        number = server.user_says(RIDER, "done", sent=sent)
        server.user_edits(RIDER, number, "not done", sent=sent + timedelta(minutes=2))
        said, edited = self.heard(server)
        assert said.message.date == sent
        assert said.message.text == "done"
        assert edited.edited_message.text == "not done"
        assert edited.edited_message.edit_date == sent + timedelta(minutes=2)

    def test_other_kinds_of_messages(self, server):
        server.user_sends_sticker(RIDER)
        server.user_sends_voice(RIDER, b"ogg")
        server.user_sends_photo(RIDER, b"\xff\xd8\xff invented")
        sticker, voice, photo = (update.message for update in self.heard(server))
        assert sticker.sticker.emoji == "👍"
        assert voice.voice.file_size == 3
        assert photo.photo[-1].width > 0

    def test_a_group_and_who_speaks_in_it(self, server):
        server.add_group(GROUP, "Invented group", {RIDER: "Leader", 4002: "Second"})
        server.user_says(GROUP, "/plan@loop_test_bot", user=4002)
        (update,) = self.heard(server)
        assert update.effective_chat.type == "group"
        assert update.effective_user.first_name == "Second"
        assert update.message.entities[0].type == "bot_command"
        talk(server, lambda bot: bot.send_message(GROUP, "plan"))
        assert [delivery.text for delivery in server.sent_to(GROUP)] == ["plan"]

    def test_a_file_comes_byte_by_byte_under_a_path_of_the_server(self, server):
        content = bytes(range(256)) * 3
        server.user_sends_file(RIDER, "../../x.gpx", content, caption="track")
        (update,) = self.heard(server)
        document = update.message.document
        assert document.file_name == "../../x.gpx"

        async def download(bot: Bot) -> tuple[str, bytes]:
            file = await bot.get_file(document.file_id)
            return file.file_path, bytes(await file.download_as_bytearray())

        path, got = talk(server, download)
        assert got == content
        assert ".." not in path

    def test_a_file_over_twenty_megabytes_cannot_be_fetched(self, server):
        server.user_sends_file(RIDER, "big.gpx", bytes((20 << 20) + 1))
        (update,) = self.heard(server)
        with pytest.raises(BadRequest, match=r"(?i)file is too big"):  # PAGE, getFile: 20 MB
            talk(server, lambda bot: bot.get_file(update.message.document.file_id))
        with pytest.raises(BadRequest, match="file_id"):
            talk(server, lambda bot: bot.get_file("unknown"))


def test_commands_and_actions(server):
    talk(server, lambda bot: bot.set_my_commands([("plan", "tomorrow's plan")]))
    talk(server, lambda bot: bot.send_chat_action(RIDER, "typing"))
    assert server.world.commands == [{"command": "plan", "description": "tomorrow's plan"}]
    assert server.world.actions == [{"chat_id": RIDER, "action": "typing"}]
    with pytest.raises(BadRequest):  # PAGE, BotCommand: lowercase letters, digits, underscores
        talk(server, lambda bot: bot.set_my_commands([("Plan B", "x")]))
    with pytest.raises(BadRequest):
        talk(server, lambda bot: bot.send_chat_action(RIDER, "dancing"))


class TestItsOwnProcess:
    def test_people_speak_through_the_control_port_and_the_journal_tells_all(self, tmp_path: Path):
        journal = tmp_path / "journal.jsonl"
        with ApiProcess(journal) as server:
            server.user_says(RIDER, "hello", sent=datetime(2026, 10, 3, tzinfo=UTC))
            server.user_sends_file(RIDER, "a.gpx", b"\x00\xff")
            server.fail_then(Fault(Kind.CUT_AFTER, "sendMessage"))
            with pytest.raises(NetworkError):
                talk(
                    server, lambda bot: bot.send_message(RIDER, "plan", reply_markup=keyboard("y"))
                )
            (got,) = server.wait_for_sent(RIDER)
            assert got.text == "plan"
            server.user_presses(RIDER, got.message_id, "y")
            said, _, pressed = talk(server, Bot.get_updates)
            assert said.message.date == datetime(2026, 10, 3, tzinfo=UTC)
            assert pressed.callback_query.data == "y"
            talk(server, lambda bot: bot.get_updates(offset=pressed.update_id + 1))
            server.wait_until_confirmed()
            with pytest.raises(AssertionError, match="no such"):
                server.pull("world")
        events = read_journal(journal)
        assert [event["event"] for event in events] == [
            *("update", "update", "fault", "sent", "update", "confirmed")
        ]
        assert events[3]["versions"][0]["text"] == "plan"

    def test_a_line_cut_short_is_left_out(self, tmp_path: Path):
        journal = tmp_path / "journal.jsonl"
        journal.write_text('{"event": "sent"}\n{"event": "se', encoding="utf-8")
        assert read_journal(journal) == [{"event": "sent"}]
