"""Sending what is posted: taken on, sent, marked; what may have arrived is sent again and says so.

The service has no key by which it would know a message it was given twice. A letter is marked as
sent only after the service has answered. Where no answer came it may have arrived, and one more
copy, marked, is better than none.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

import httpx
from telegram import Bot, Message
from telegram.error import BadRequest, Forbidden, NetworkError, RetryAfter, TelegramError

from replanner.channels.telegram.outgoing import AGAIN, keyboard, pieces
from replanner.errors import ReplannerError, StoreError
from replanner.people import ChatId
from replanner.ports import PostOffice
from replanner.post import (
    Claimed,
    PlanPicture,
    PlanRef,
    PlanTrack,
    PressAnswered,
    TextFile,
    Words,
)

_LOG = logging.getLogger(__name__)

_LOOK_AGAIN_SECONDS = 1.0
_LONGEST_BACKOFF = timedelta(minutes=5)
_DOES_NOT_MATTER = ("not modified", "query is too old", "query id is invalid")
_EDIT_GONE = ("message to edit not found", "can't be edited")
# The connection was never made: the service cannot have seen the message.
_NEVER_SENT = (httpx.ConnectError, httpx.ConnectTimeout, httpx.PoolTimeout)


@dataclass(frozen=True, slots=True, kw_only=True)
class Files:
    """Makes the files a letter only names; each raises ReplannerError if it cannot."""

    picture: Callable[[PlanRef], Awaitable[bytes]]
    track: Callable[[PlanRef], Awaitable[bytes]]


class Sender:
    """Sends letters at an even pace.

    Parameters
    ----------
    bot : telegram.Bot
    store : PostOffice
    files : Files
    refused : callable
        Told of a chat that takes no messages any more.
    now : callable
    per_second : float
        Messages a second over all chats.
    lease : timedelta
        How long a letter taken on is ours.
    """

    def __init__(
        self,
        bot: Bot,
        store: PostOffice,
        files: Files,
        refused: Callable[[ChatId], None],
        now: Callable[[], datetime],
        *,
        per_second: float,
        lease: timedelta,
    ) -> None:
        self._bot, self._store, self._files = bot, store, files
        self._refused, self._now = refused, now
        self._gap, self._lease = 1.0 / per_second, lease
        # What is taken on must be sent well within the lease.
        self._at_a_time = max(1, min(100, int(per_second * lease.total_seconds() / 4)))
        self._not_before = 0.0
        self.last_sent: datetime | None = None

    async def run(self, bell: asyncio.Event) -> None:
        """Send until cancelled; looks at once when the bell rings."""
        under_way: set[asyncio.Task[None]] = set()
        try:
            while True:
                bell.clear()
                letters = await self._claim()
                for claimed in letters:
                    await self._pace()
                    task = asyncio.create_task(self._send(claimed))
                    under_way.add(task)
                    task.add_done_callback(under_way.discard)
                if letters and under_way:
                    # A chat's next letter is free once its first is marked.
                    await asyncio.wait(under_way, return_when=asyncio.FIRST_COMPLETED)
                    continue
                await _ring(bell, _LOOK_AGAIN_SECONDS)
        finally:
            if under_way:
                await asyncio.wait(under_way, timeout=self._lease.total_seconds() / 4)

    async def _claim(self) -> tuple[Claimed, ...]:
        try:
            return await asyncio.to_thread(
                self._store.claim, self._now(), self._lease, self._at_a_time
            )
        except StoreError as error:
            _LOG.warning("no letters can be taken on: %s", error)
            return ()

    async def _pace(self) -> None:
        loop = asyncio.get_running_loop()
        wait = self._not_before - loop.time()
        if wait > 0:
            await asyncio.sleep(wait)
        self._not_before = max(self._not_before, loop.time()) + self._gap

    async def _send(self, claimed: Claimed) -> None:
        try:
            message = await self._deliver(claimed)
        except RetryAfter as error:
            wait = _span(error)
            loop = asyncio.get_running_loop()
            self._not_before = max(self._not_before, loop.time() + wait.total_seconds())
            await self._back(claimed, self._now() + wait, doubtful=False, cause="too many at once")
        except Forbidden as error:
            self._refused(claimed.letter.chat)
            await self._give_up(claimed, str(error))
        except BadRequest as error:
            _LOG.error("letter %s refused: %s", claimed.letter.key, error)
            await self._give_up(claimed, str(error))
        except NetworkError as error:
            doubtful = not isinstance(error.__cause__, _NEVER_SENT)
            await self._back(claimed, self._later(claimed), doubtful=doubtful, cause=str(error))
        except TelegramError as error:
            _LOG.exception("letter %s cannot be sent", claimed.letter.key)
            await self._back(claimed, self._later(claimed), doubtful=True, cause=str(error))
        except ReplannerError as error:  # its picture or track cannot be made
            await self._give_up(claimed, str(error))
        else:
            self.last_sent = self._now()
            await self._mark(self._store.sent, claimed.row, message, self._now())

    async def _deliver(self, claimed: Claimed) -> int | None:
        letter, body = claimed.letter, claimed.letter.body
        again = AGAIN if claimed.again else ""
        match body:
            case Words():
                return await self._words(claimed, body, again)
            case PlanPicture(plan=plan):
                picture = await self._files.picture(plan)
                return _number(
                    await self._bot.send_photo(letter.chat, picture, caption=again or None)
                )
            case PlanTrack(plan=plan):
                track = await self._files.track(plan)
                name = f"plan-{plan.day.isoformat()}.gpx"
                return await self._document(letter.chat, track, name, again)
            case TextFile(name=name, text=text):
                return await self._document(letter.chat, text.encode(), name, again)
            case PressAnswered(press=press):
                await _unless(_DOES_NOT_MATTER, self._bot.answer_callback_query(press))
                return None

    async def _words(self, claimed: Claimed, words: Words, again: str) -> int | None:
        chat, buttons = claimed.letter.chat, keyboard(words)
        *first, last = pieces(f"{again}{words.text}")
        if claimed.edits is not None and not first:
            # An edit made twice is one edit: it needs no mark.
            try:
                await _unless(
                    _DOES_NOT_MATTER,
                    self._bot.edit_message_text(
                        words.text, chat_id=chat, message_id=claimed.edits, reply_markup=buttons
                    ),
                )
            except BadRequest as error:
                if not _says(error, _EDIT_GONE):
                    raise
            else:
                return claimed.edits
        for piece in first:
            await self._bot.send_message(chat, piece, disable_notification=True)
        return _number(
            await self._bot.send_message(
                chat, last, reply_markup=buttons, disable_notification=words.silent
            )
        )

    async def _document(self, chat: ChatId, content: bytes, name: str, again: str) -> int:
        return _number(
            await self._bot.send_document(chat, content, filename=name, caption=again or None)
        )

    def _later(self, claimed: Claimed) -> datetime:
        backoff = timedelta(seconds=2.0 ** min(claimed.tries, 10))
        return self._now() + min(backoff, _LONGEST_BACKOFF)

    async def _back(self, claimed: Claimed, at: datetime, *, doubtful: bool, cause: str) -> None:
        _LOG.info("letter %s put back: %s", claimed.letter.key, cause)
        await self._mark(_put_back, self._store, claimed.row, at, doubtful, cause)

    async def _give_up(self, claimed: Claimed, cause: str) -> None:
        await self._mark(self._store.give_up, claimed.row, cause, self._now())

    async def _mark(self, mark: Callable[..., None], *what: object) -> None:
        try:
            await asyncio.to_thread(mark, *what)
        except StoreError as error:  # the lease runs out, and it is sent again, marked
            _LOG.warning("a letter could not be marked: %s", error)


def _put_back(store: PostOffice, row: int, at: datetime, doubtful: bool, cause: str) -> None:  # noqa: FBT001 - to_thread takes no names
    store.put_back(row, at, doubtful=doubtful, cause=cause)


async def _unless(signs: tuple[str, ...], call: Awaitable[object]) -> None:
    """Make a call; a refusal that does not matter is none."""
    try:
        await call
    except BadRequest as error:
        if not _says(error, signs):
            raise


def _says(error: BadRequest, signs: tuple[str, ...]) -> bool:
    return any(sign in str(error).lower() for sign in signs)


def _number(message: Message) -> int:
    return message.message_id


def _span(error: RetryAfter) -> timedelta:
    wait = error.retry_after
    return wait if isinstance(wait, timedelta) else timedelta(seconds=wait)


async def _ring(bell: asyncio.Event, seconds: float) -> None:
    try:
        await asyncio.wait_for(bell.wait(), seconds)
    except TimeoutError:
        return
