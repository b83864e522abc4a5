"""The real client library, unmocked, talking to the loopback server."""

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any, TypeVar

import requests
from telegram import Bot, InlineKeyboardButton, InlineKeyboardMarkup
from telegram.request import HTTPXRequest

from tests.botapi.server import BotApiServer

RIDER = 4001
GROUP = -5001
PNG_2_BY_1 = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + bytes([0, 0, 0, 2, 0, 0, 0, 1])

Done = TypeVar("Done")


def bot_for(server: Any, *, token: str | None = None, read_timeout: float = 5.0) -> Bot:
    """Return a bot (to be used as an async context manager) of a server or its process."""
    plain = {"verify": False}  # no certificates are read for plain HTTP: they cost 25 ms a client
    return Bot(
        token or server.token,
        base_url=server.base_url,
        base_file_url=server.base_file_url,
        request=HTTPXRequest(read_timeout=read_timeout, httpx_kwargs=plain),
        get_updates_request=HTTPXRequest(read_timeout=read_timeout, httpx_kwargs=plain),
    )


def talk(server: BotApiServer | Any, act: Callable[[Bot], Awaitable[Done]]) -> Done:
    """Let an initialised bot do one thing and return what came of it."""

    async def whole() -> Done:
        async with bot_for(server) as bot:
            return await act(bot)

    return asyncio.run(whole())


def ask(server: BotApiServer, method: str, **args: Any) -> dict[str, Any]:
    """Call a method by plain HTTP and return the body of the answer."""
    url = f"{server.base_url}{server.token}/{method}"
    answer: dict[str, Any] = requests.post(url, json=args, timeout=10).json()
    return answer


def keyboard(*data: str) -> InlineKeyboardMarkup:
    """Return a keyboard of one row whose buttons say what they carry."""
    return InlineKeyboardMarkup([[InlineKeyboardButton(text=d, callback_data=d) for d in data]])
