"""Fetching: kept first, confirmed after; whatever fails in between, nothing is lost or doubled."""

import asyncio
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import Any

import pytest
from telegram import Bot, Update
from telegram.request import HTTPXRequest

from replanner.channels.telegram import poller as poller_module
from replanner.channels.telegram.incoming import read
from replanner.channels.telegram.poller import Poller
from replanner.errors import StoreError
from replanner.post import Arrived, TextIn
from replanner.store.store import Store
from tests.botapi.client import RIDER, bot_for, talk
from tests.botapi.faults import Fault, Kind
from tests.botapi.server import BotApiServer
from tests.botapi.state import FIRST_UPDATE

PATIENCE = 10.0
Receive = Callable[[Sequence[Arrived]], None]


@pytest.fixture(autouse=True)
def short_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(poller_module, "_FIRST_PAUSE", 0.05)


def poll(
    server: BotApiServer, store: Store, until: Callable[[], object], receive: Receive | None = None
) -> None:
    """Let a poller work until something is so."""

    async def keep(arrivals: Sequence[Arrived]) -> None:
        (receive or (lambda some: store.receive(some, datetime.now(UTC))))(arrivals)

    async def last() -> int | None:
        return store.last_number()

    async def whole() -> None:
        async with bot_for(server) as bot, fetching() as request:
            poller = Poller(bot, request, last, keep, lambda: datetime.now(UTC))
            running = asyncio.create_task(poller.run(asyncio.Event()))
            try:
                async with asyncio.timeout(PATIENCE):
                    while not until():
                        await asyncio.sleep(0.02)
            finally:
                running.cancel()
                await asyncio.gather(running, return_exceptions=True)

    asyncio.run(whole())


def fetching() -> HTTPXRequest:
    return HTTPXRequest(read_timeout=5.0, httpx_kwargs={"verify": False})


def texts(store: Store) -> list[str]:
    """Return what is on record, oldest first; each is closed on the way."""
    found = []
    while waiting := store.waiting(10):
        for arrived in waiting:
            incoming = read(arrived)
            assert incoming is not None
            assert isinstance(incoming.what, TextIn)
            found.append(incoming.what.text)
            with store.work() as work:
                work.close_arrival(arrived.number)
    return found


def test_what_was_said_is_on_record_and_then_confirmed(server: BotApiServer, store: Store) -> None:
    server.user_says(RIDER, "one")
    server.user_says(RIDER, "Tārn <b> & Förde")
    poll(server, store, lambda: not server.pending)
    assert texts(store) == ["one", "Tārn <b> & Förde"]


def test_what_is_not_on_record_is_not_confirmed(server: BotApiServer, store: Store) -> None:
    tries: list[int] = []

    def fails(arrivals: Sequence[Arrived]) -> None:
        tries.append(len(arrivals))
        raise StoreError("the disk is full")

    server.user_says(RIDER, "one")
    poll(server, store, lambda: len(tries) >= 3, fails)
    assert len(server.pending) == 1
    poll(server, store, lambda: not server.pending)
    assert texts(store) == ["one"]


@pytest.mark.parametrize("kind", list(Kind))
def test_whatever_goes_wrong_it_is_there_once(
    server: BotApiServer, store: Store, kind: Kind
) -> None:
    server.faults.then(Fault(kind, "getUpdates", 0.2), Fault(kind, "getUpdates", 0.2))
    server.user_says(RIDER, "one")
    server.user_says(RIDER, "two")
    poll(server, store, lambda: not server.pending)
    assert texts(store) == ["one", "two"]


def test_the_second_of_two_pollers_is_let_in_and_the_first_waits(
    server: BotApiServer, store: Store
) -> None:
    async def keep(arrivals: Sequence[Arrived]) -> None:
        store.receive(arrivals, datetime.now(UTC))

    async def last() -> int | None:
        return store.last_number()

    async def whole() -> None:
        async with bot_for(server) as bot, fetching() as request, fetching() as other:
            pollers = [
                Poller(bot, one, last, keep, lambda: datetime.now(UTC)) for one in (request, other)
            ]
            first = asyncio.create_task(pollers[0].run(asyncio.Event()))
            await asyncio.sleep(0.3)
            second = asyncio.create_task(pollers[1].run(asyncio.Event()))
            await asyncio.sleep(0.3)
            calls = server.calls("getUpdates")
            server.user_says(RIDER, "one")
            async with asyncio.timeout(PATIENCE):
                while server.pending:
                    await asyncio.sleep(0.02)
            await asyncio.sleep(0.3)
            # The older one was refused (409) and waits; the newer asks on and on.
            assert server.calls("getUpdates") - calls <= 2
            for task in (first, second):
                assert not task.done()
                task.cancel()
            await asyncio.gather(first, second, return_exceptions=True)

    asyncio.run(whole())
    assert texts(store) == ["one"]


def test_an_update_the_library_cannot_read_stops_nothing(
    server: BotApiServer, store: Store
) -> None:
    """A message without its number and date: the service may change, and the library lag behind."""
    chat = {"id": RIDER, "type": "private"}
    server.user_says(RIDER, "before")
    with server.world.changed:
        server.world.push("message", {"chat": chat, "text": "odd"})
        server.world.push("callback_query", {"data": "1 ok", "from": {"id": RIDER}})
        server.world.push("message", ["no message at all"])  # type: ignore[arg-type]
    server.user_says(RIDER, "after")

    async def by_the_library(bot: Bot) -> tuple[Update, ...]:
        return await bot.get_updates()

    with pytest.raises(KeyError):
        talk(server, by_the_library)
    poll(server, store, lambda: not server.pending)
    with store.work() as work:
        on_record = work.last_number()
    assert on_record == FIRST_UPDATE + 4
    heard = []
    while waiting := store.waiting(9):
        for arrived in waiting:
            heard.append(read(arrived))
            with store.work() as work:
                work.close_arrival(arrived.number)
    said = [one.what.text for one in heard if one and isinstance(one.what, TextIn)]
    assert said == ["before", "odd", "after"]
    assert None in heard  # what is no message is laid aside, alone


@pytest.mark.parametrize("result", ["[{}]", '{"some": "page"}', "[7]", '[{"update_id": "x"}]'])
def test_answers_that_are_not_the_services_stop_nothing(
    server: BotApiServer, store: Store, result: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Proxies and gates in hotels answer whatever they like; then the service is there again."""
    given = [b'{"ok": true, "result": %s}' % result.encode(), b"[]", b'{"ok": true}', b"<html>"]
    real = HTTPXRequest.do_request

    async def odd(self: HTTPXRequest, url: str, *args: Any, **named: Any) -> tuple[int, bytes]:
        if given and "getUpdates" in url:
            return 200, given.pop()
        return await real(self, url, *args, **named)

    monkeypatch.setattr(HTTPXRequest, "do_request", odd)
    server.user_says(RIDER, "one")
    poll(server, store, lambda: not server.pending)
    assert not given
    assert texts(store) == ["one"]
