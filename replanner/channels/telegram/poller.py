"""Fetching what riders sent: put on record first, confirmed to the service after that.

The library's own updater confirms before a handler has run, so that a crash loses what it was
given. Here the next call's offset is the confirmation, and it is made from what is on record.

Updates are taken as the service wrote them: `Bot.get_updates` makes objects of all it was given
and fails whole if it knows one of them not, again and again, since nothing is confirmed then.
"""

import asyncio
import json
import logging
from collections.abc import Awaitable, Callable, Sequence
from datetime import datetime
from typing import Any, TypeGuard
from urllib.parse import urlencode

from telegram import Bot
from telegram.error import Conflict, RetryAfter, TelegramError
from telegram.request import BaseRequest

from replanner.channels.telegram.incoming import LARGEST_NUMBER, WANTED, arrived
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
    request : telegram.request.BaseRequest
        What the bot fetches updates with.
    last_number : callable
        The highest number on record.
    receive : callable
        Puts arrivals on record; raises StoreError.
    now : callable
    """

    def __init__(
        self,
        bot: Bot,
        request: BaseRequest,
        last_number: Callable[[], Awaitable[int | None]],
        receive: Callable[[Sequence[Arrived]], Awaitable[None]],
        now: Callable[[], datetime],
    ) -> None:
        self._bot, self._request, self._now = bot, request, now
        self._last_number, self._receive = last_number, receive
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
                pause = await _rested(pause)
            except Exception:  # noqa: BLE001 - whatever one update does, the next is fetched
                _LOG.exception("fetching failed; again in %.1f s", pause)
                pause = await _rested(pause)

    async def _fetch(self, offset: int | None) -> list[dict[str, Any]]:
        asked = {
            "limit": _AT_MOST,
            "timeout": _WAIT_SECONDS,
            "allowed_updates": json.dumps(WANTED),
        } | ({} if offset is None else {"offset": offset})
        try:
            updates = await self._request.post(
                f"{self._bot.base_url}/getUpdates?{urlencode(asked)}",
                read_timeout=_WAIT_SECONDS + _GRACE_SECONDS,
            )
        except (AttributeError, KeyError, TypeError):  # of something between us and the service
            raise TelegramError("an answer that is not the service's") from None
        self.last_answer = self._now()
        return [update for update in _listed(updates) if _is_numbered(update)]


async def _rested(pause: float) -> float:
    await asyncio.sleep(pause)
    return min(2 * pause, _LONGEST_PAUSE)


def _listed(answer: object) -> list[object]:
    if isinstance(answer, list):
        return answer
    raise TelegramError("an answer that is no list of updates")


def _is_numbered(update: object) -> TypeGuard[dict[str, Any]]:
    """Tell whether an update can be put on record; one that cannot is confirmed by the next one."""
    number = update.get("update_id") if isinstance(update, dict) else None
    if isinstance(number, int) and 0 < number <= LARGEST_NUMBER:
        return True
    _LOG.error("an update without a number is left out")
    return False
