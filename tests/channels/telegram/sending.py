"""The sender at work on the loopback service, unmocked, until something is so."""

import asyncio
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

from replanner.channels.telegram.sender import Files, Sender
from replanner.errors import ReplannerError
from replanner.people import ChatId
from replanner.post import Body, Letter, PlanRef, Words
from replanner.store.store import Store
from tests.botapi.client import RIDER, bot_for

PATIENCE = 10.0
PICTURE = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + bytes([0, 0, 0, 2, 0, 0, 0, 1])


def present() -> datetime:
    return datetime.now(UTC)


def letter(key: str, body: Body | str, chat: int = RIDER) -> Letter:
    """Return a letter that may be sent at once."""
    kept = Words(text=body) if isinstance(body, str) else body
    return Letter(key=key, chat=chat, body=kept, not_before=present() - timedelta(seconds=1))


async def _picture(ref: PlanRef) -> bytes:
    if ref.version == 0:
        raise ReplannerError("that plan is not kept any more")
    return PICTURE


async def _track(_: PlanRef) -> bytes:
    return b"<gpx/>"


def send(
    server: Any,
    store: Store,
    *letters: Letter,
    until: Callable[[], object] | None = None,
    per_second: float = 1000.0,
    lease: timedelta = timedelta(seconds=60),
    moved_to: str = "",
) -> list[ChatId]:
    """Post letters and let a sender work until something is so; return whom it could not reach.

    Without `until`: until nothing waits. `moved_to` is the address the service is looked for at
    once the bot has begun.
    """
    with store.work() as work:
        work.post(letters)
    refused: list[ChatId] = []

    def all_sent() -> bool:
        return store.counts()["letters waiting"] == 0

    async def whole() -> None:
        async with bot_for(server) as bot:
            if moved_to:
                bot._base_url = f"{moved_to}/bot{server.token}"
            sender = Sender(
                bot,
                store,
                Files(picture=_picture, track=_track),
                refused.append,
                present,
                per_second=per_second,
                lease=lease,
            )
            running = asyncio.create_task(sender.run(asyncio.Event()))
            try:
                async with asyncio.timeout(PATIENCE):
                    while not (until or all_sent)():
                        await asyncio.sleep(0.02)
            finally:
                running.cancel()
                await asyncio.gather(running, return_exceptions=True)

    asyncio.run(whole())
    return refused
