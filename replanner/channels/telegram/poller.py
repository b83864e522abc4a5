"""Fetching what riders sent: put on record first, confirmed to the service after that.

The library's own updater confirms before a handler has run, so that a crash loses what it was
given. Here the next call's offset is the confirmation, and it is made from what is on record.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Sequence
from datetime import datetime
from typing import Any

from telegram import Bot
from telegram.error import Conflict, RetryAfter, TelegramError

from replanner.channels.telegram.incoming import WANTED, arrived
from replanner.channels.telegram.refusals import span
from replanner.errors import StoreError
from replanner.post import Arrived

_LOG = logging.getLogger(__name__)

_WAIT_SECONDS = 25  # how long the service holds a call open when nothing is there
_GRACE_SECONDS = 10.0
_AT_MOST = 100
_FIRST_PAUSE, _LONGEST_PAUSE = 0.5, 30.0


class Poller:
    """Fetches updates for as long as it runs.

    Parameters
    ----------
    bot : telegram.Bot
    last_number : callable
        The highest number on record.
    receive : callable
        Puts arrivals on record; raises StoreError.
    now : callable
    """

    def __init__(
        self,
        bot: Bot,
        last_number: Callable[[], Awaitable[int | None]],
        receive: Callable[[Sequence[Arrived]], Awaitable[None]],
        now: Callable[[], datetime],
    ) -> None:
        self._bot, self._last_number, self._receive = bot, last_number, receive
        self._now = now
        self.last_answer: datetime | None = None

    async def run(self, bell: asyncio.Event) -> None:
        """Fetch until cancelled; rings the bell when something has come."""
        pause = _FIRST_PAUSE
        while True:
            try:
                last = await self._last_number()
                updates = await self._fetch(None if last is None else last + 1)
                if updates:
                    await self._receive([arrived(update) for update in updates])
                    bell.set()
                pause = _FIRST_PAUSE
            except RetryAfter as error:
                await asyncio.sleep(span(error).total_seconds())
            except Conflict:
                _LOG.warning("another process fetches with this token; waiting")
                await asyncio.sleep(_LONGEST_PAUSE)
            except (TelegramError, StoreError) as error:
                _LOG.warning("nothing fetched: %s; again in %.1f s", error, pause)
                await asyncio.sleep(pause)
                pause = min(2 * pause, _LONGEST_PAUSE)

    async def _fetch(self, offset: int | None) -> list[dict[str, Any]]:
        updates = await self._bot.get_updates(
            offset=offset,
            limit=_AT_MOST,
            timeout=_WAIT_SECONDS,
            allowed_updates=list(WANTED),
            read_timeout=_GRACE_SECONDS,  # the library adds the waiting to it
        )
        self.last_answer = self._now()
        # Kept in the service's own form, and read again by whichever version deals with it.
        return [update.to_dict() for update in updates]
