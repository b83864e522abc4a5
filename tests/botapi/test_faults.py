"""Faults and limits of the loopback server, as the real client library meets them."""

import asyncio
import socket
from datetime import timedelta

import pytest
from telegram import Bot
from telegram.error import (
    NetworkError,
    RetryAfter,
    TimedOut,
)

from tests.botapi.client import RIDER, ask, bot_for, talk
from tests.botapi.facts import Refusal
from tests.botapi.faults import DOWNLOAD, Fault, Kind
from tests.botapi.limits import Limits
from tests.botapi.server import BotApiServer


class TestLimits:
    """FAQ (facts.py): about 30 a second overall, 1 a second in a chat, 20 a minute in a group."""

    def test_a_burst_in_one_chat_passes_and_what_follows_waits(self):
        with BotApiServer(limits=Limits(chat_per_second=0.2)) as server:
            server.add_user(RIDER)
            answers = [ask(server, "sendMessage", chat_id=RIDER, text="x") for _ in range(4)]
            assert [answer["ok"] for answer in answers] == [True] * 3 + [False]
            seconds = answers[3]["parameters"]["retry_after"]
            assert 1 <= seconds <= 5
            assert answers[3] == {
                "ok": False,
                "error_code": 429,
                "description": f"Too Many Requests: retry after {seconds}",
                "parameters": {"retry_after": seconds},
            }
            with pytest.raises(RetryAfter) as waits:
                talk(server, lambda bot: bot.send_message(RIDER, "x"))
            assert timedelta(0) < waits.value.retry_after <= timedelta(seconds=seconds)
            assert len(server.sent) == 3

    def test_who_does_not_wait_the_time_told_is_refused_again(self):
        limits = Limits(chat_per_second=1.0, chat_burst=1.0)
        limits.admit(RIDER, 0.0, group=False)
        for now in (0.1, 0.9, 1.05):
            with pytest.raises(Refusal, match="429") as waits:
                limits.admit(RIDER, now, group=False)
            assert waits.value.retry_after == 1
        limits.admit(RIDER, 1.11, group=False)

    def test_the_paces(self):
        """By a clock of the test's own: 28 a second evenly never waits, 40 a second does."""
        assert refused(Limits(), pace=28.0, seconds=60.0) == 0
        assert refused(Limits(), pace=40.0, seconds=60.0) > 0
        assert refused(Limits.off(), pace=400.0, seconds=6.0) == 0
        assert refused(Limits(), pace=0.99, seconds=60.0, chats=1) == 0
        assert refused(Limits(), pace=1.5, seconds=60.0, chats=1) > 0

    def test_a_group_gets_twenty_a_minute(self):
        limits = Limits(chat_burst=100.0)
        assert refused(limits, pace=2.0, seconds=9.5, chats=1, group=True) == 0
        assert refused(limits, pace=2.0, seconds=9.5, chats=1, group=True) > 0


def refused(
    limits: Limits, *, pace: float, seconds: float, chats: int = 10_000, group: bool = False
) -> int:
    """Return how many of evenly spaced messages to chats in turn are refused."""
    count = 0
    for number in range(int(pace * seconds)):
        try:
            limits.admit(number % chats, number / pace, group=group)
        except Refusal as refusal:
            count += refusal.code == 429
    return count


class TestFaults:
    def say(self, server: BotApiServer) -> None:
        talk(server, lambda bot: bot.send_message(RIDER, "plan"))

    @pytest.mark.parametrize(
        ("kind", "error", "delivered"),
        [
            (Kind.TOO_MANY, RetryAfter, 0),
            (Kind.INTERNAL, NetworkError, 0),
            (Kind.BAD_GATEWAY, NetworkError, 0),
            (Kind.CUT_BEFORE, NetworkError, 0),
            (Kind.CUT_AFTER, NetworkError, 1),
        ],
    )
    def test_what_the_library_sees_and_what_arrived(self, server, kind, error, delivered):
        server.faults.then(Fault(kind, "sendMessage"))
        with pytest.raises(error):
            self.say(server)
        assert len(server.sent) == delivered
        self.say(server)
        assert len(server.sent) == delivered + 1

    def test_an_answer_that_is_too_late_was_delivered(self, server):
        async def impatient() -> None:
            async with bot_for(server, read_timeout=0.3) as bot:
                await bot.send_message(RIDER, "plan")

        server.faults.then(Fault(Kind.SLOW, "sendMessage", seconds=1.0))
        with pytest.raises(TimedOut):
            asyncio.run(impatient())
        assert len(server.sent) == 1

    def test_updates_twice_and_again(self, server):
        server.user_says(RIDER, "one")
        server.faults.then(Fault(Kind.TWICE))
        first, second = ask(server, "getUpdates")["result"]
        assert first == second
        server.faults.then(Fault(Kind.AGAIN))
        assert ask(server, "getUpdates", offset=first["update_id"] + 1)["result"] == [first]
        assert ask(server, "getUpdates", offset=first["update_id"] + 1)["result"] == []

    def test_an_answer_lost_on_the_way_comes_again(self, server):
        server.user_says(RIDER, "one")
        server.faults.then(Fault(Kind.CUT_AFTER, "getUpdates"))
        with pytest.raises(NetworkError):
            talk(server, Bot.get_updates)
        assert len(talk(server, Bot.get_updates)) == 1

    def test_a_download_can_break_too(self, server):
        async def download(bot: Bot) -> bytes:
            file = await bot.get_file("F000001")
            return bytes(await file.download_as_bytearray())

        server.user_sends_file(RIDER, "a.gpx", b"x")
        server.faults.then(Fault(Kind.CUT_BEFORE, DOWNLOAD))
        with pytest.raises(NetworkError):
            talk(server, download)
        assert talk(server, download) == b"x"

    def test_a_call_half_spoken_when_the_bot_died_does_not_count(self, server):
        host, _, port = server.url.removeprefix("http://").partition(":")
        body = b'{"chat_id": 4001, "text": "never'
        head = f"POST /bot{server.token}/sendMessage HTTP/1.1\r\nContent-Type: application/json\r\n"
        with socket.create_connection((host, int(port))) as dying:
            dying.sendall(f"{head}Content-Length: {len(body) + 2}\r\n\r\n".encode() + body)
            dying.shutdown(socket.SHUT_WR)
            assert dying.recv(1) == b""
        assert server.sent == []

    def test_chance_is_the_same_in_every_run(self, server):
        def run() -> list[bool]:
            with BotApiServer() as fresh:
                fresh.add_user(RIDER)
                fresh.faults.by_chance(7, {Kind.INTERNAL: 0.3}, methods=["sendMessage"])
                return [ask(fresh, "sendMessage", chat_id=RIDER, text="x")["ok"] for _ in range(60)]

        first = run()
        assert first == run()
        assert 6 <= first.count(False) <= 30
        server.faults.by_chance(7, {Kind.INTERNAL: 1.0})
        server.faults.none()
        self.say(server)
