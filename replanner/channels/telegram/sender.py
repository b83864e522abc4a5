"""Sending what is posted: taken on, sent, marked; what may have arrived is sent again and says so.

The service has no key by which it would know a message it was given twice. A letter is marked as
sent only after the service has answered. Where no answer came it may have arrived, and one more
copy, marked, is better than none.
"""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial

import httpx
from telegram import Bot, InlineKeyboardMarkup
from telegram.error import BadRequest, Forbidden, NetworkError, RetryAfter, TelegramError

from replanner.channels.telegram.outgoing import AGAIN, keyboard, pieces
from replanner.channels.telegram.redaction import redacted
from replanner.channels.telegram.refusals import span
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
_A_MOMENT_SECONDS = 0.005
# Under way at once: the service takes some tenths of a second a letter.
_MOST_UNDER_WAY = 24
# Taken on at once. What is taken on when the process is killed is marked when it is sent again,
# also what had not gone out: so few.
_MOST_AT_ONCE = 4
_FAREWELL_SECONDS = 1.5
_CHAT_RESTS = timedelta(seconds=1)  # core.telegram.org/bots/faq: one message a second in a chat
_FIRST_BACKOFF, _LONGEST_BACKOFF = timedelta(seconds=1), timedelta(minutes=5)
# Of what nobody foresaw, over about a quarter of an hour: each time it may have arrived.
_MOST_FAILURES = 10
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
        self._next_slot = self._shut_until = 0.0
        self._bell = asyncio.Event()
        self.last_sent: datetime | None = None

    async def run(self, bell: asyncio.Event) -> None:
        """Send until cancelled; looks at once when the bell rings."""
        under_way: dict[int, asyncio.Task[None]] = {}
        self._bell = bell
        try:
            while True:
                bell.clear()
                # Begun in the first half of the lease, a letter is sent before another takes it on.
                until = self._now() + self._lease / 2
                letters = await self._claim()
                for claimed in letters:
                    row = claimed.row
                    if row in under_way:  # the lease ran out over it: taking it on renewed it
                        continue
                    task = under_way[row] = asyncio.create_task(self._send(claimed, until))
                    task.add_done_callback(partial(_let_go, under_way, row))
                    task.add_done_callback(lambda _: bell.set())  # its chat's next one is free
                if len(letters) == _MOST_AT_ONCE:
                    await self._last_slot()
                    bell.set()
                while len(under_way) >= _MOST_UNDER_WAY:
                    await asyncio.wait(under_way.values(), return_when=asyncio.FIRST_COMPLETED)
                await _ring(bell, _LOOK_AGAIN_SECONDS)
        finally:
            if under_way:
                await asyncio.wait(under_way.values(), timeout=_FAREWELL_SECONDS)

    async def _claim(self) -> tuple[Claimed, ...]:
        try:
            return await asyncio.to_thread(
                self._store.claim, self._now(), self._lease, _MOST_AT_ONCE
            )
        except StoreError as error:
            _LOG.warning("no letters can be taken on: %s", error)
            return ()

    async def _last_slot(self) -> None:
        """Wait until the last of those who wait for a place has it."""
        await asyncio.sleep(self._next_slot - self._gap - asyncio.get_running_loop().time())

    async def _place(self, until: datetime) -> None:
        """Wait for a place in the even row; all wait while the service wants nothing."""
        loop = asyncio.get_running_loop()
        while True:
            slot = max(loop.time(), self._next_slot, self._shut_until)
            wait = timedelta(seconds=slot - loop.time())
            if self._now() + wait >= until:
                raise _TooLateError(wait)
            self._next_slot = slot + self._gap
            await asyncio.sleep(slot - loop.time())
            if self._shut_until <= slot:
                return

    async def _send(self, claimed: Claimed, until: datetime) -> None:
        try:
            done = await self._deliver(claimed, until)
        except Exception as error:  # noqa: BLE001 - whatever one letter does, the others go out
            await self._undone(claimed, error)
        else:
            self.last_sent = self._now()
            rest = _CHAT_RESTS if done.new else timedelta(0)
            await self._mark(_sent, self._store, claimed.row, done.message, self._now(), rest)
            self._ring_in(rest)

    async def _undone(self, claimed: Claimed, error: Exception) -> None:
        """Give up what is refused for good; put back what may go another time."""
        match error:
            case Forbidden():
                await self._mark(self._refused, claimed.letter.chat)
                await self._give_up(claimed, str(error))
            case BadRequest():
                _LOG.error("letter %s refused: %s", claimed.letter.key, error)
                await self._give_up(claimed, str(error))
            case ReplannerError():  # its picture or track cannot be made
                _LOG.error("letter %s cannot be made: %s", claimed.letter.key, error)
                await self._give_up(claimed, str(error))
            case TelegramError() | _TooLateError() | _PartlySentError():
                at, doubtful = self._another_time(claimed, error)
                await self._back(claimed, at, doubtful=doubtful, cause=str(error))
            case _:
                _LOG.error("letter %s failed", claimed.letter.key, exc_info=error)
                await self._failed(claimed, repr(error))

    async def _failed(self, claimed: Claimed, cause: str) -> None:
        """Try again what nobody foresaw, but not for ever."""
        if claimed.tries >= _MOST_FAILURES:
            await self._give_up(claimed, cause)
        else:
            await self._back(claimed, self._later(claimed), doubtful=True, cause=cause)

    def _another_time(self, claimed: Claimed, error: Exception) -> tuple[datetime, bool]:
        """Return when to send a letter, and whether it may have arrived already."""
        match error:
            case _TooLateError(wait=wait):
                return self._now() + wait, False
            case RetryAfter():
                return self._now() + self._shut(error), False
            case _PartlySentError(__cause__=RetryAfter() as cause):
                return self._now() + self._shut(cause), True
            case NetworkError():
                return self._later(claimed), not isinstance(error.__cause__, _NEVER_SENT)
            case _:
                return self._later(claimed), True

    def _shut(self, error: RetryAfter) -> timedelta:
        wait = span(error)
        loop = asyncio.get_running_loop()
        self._shut_until = max(self._shut_until, loop.time() + wait.total_seconds())
        return wait

    async def _deliver(self, claimed: Claimed, until: datetime) -> "_Done":
        chat, body = claimed.letter.chat, claimed.letter.body
        again = AGAIN if claimed.again else ""
        match body:
            case Words():
                return await self._words(claimed, body, again, until)
            case PlanPicture(plan=plan, unasked=unasked):
                picture = await self._files.picture(plan)
                await self._place(until)
                sent = await self._bot.send_photo(
                    chat, picture, caption=again or None, disable_notification=unasked
                )
                return _Done(sent.message_id, new=True)
            case PlanTrack(plan=plan, unasked=unasked):
                track = await self._files.track(plan)
                name = f"plan-{plan.day.isoformat()}.gpx"
                return await self._document(chat, track, name, again, until, silent=unasked)
            case TextFile(name=name, text=text):
                return await self._document(chat, text.encode(), name, again, until)
            case PressAnswered(press=press):
                await _unless(_DOES_NOT_MATTER, self._bot.answer_callback_query(press))
                return _Done(None, new=False)

    async def _words(self, claimed: Claimed, words: Words, again: str, until: datetime) -> "_Done":
        chat, buttons = claimed.letter.chat, keyboard(words)
        *first, last = pieces(f"{again}{words.text}")
        if claimed.edits is not None and not first:
            # An edit made twice is one edit: it needs no mark.
            await self._place(until)
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
                return _Done(claimed.edits, new=False)
        await self._place(until)
        if first:
            return await self._long(chat, first, last, buttons, silent=words.silent)
        return await self._piece(chat, last, buttons, silent=words.silent)

    async def _long(
        self,
        chat: ChatId,
        first: Sequence[str],
        last: str,
        buttons: InlineKeyboardMarkup | None,
        *,
        silent: bool,
    ) -> "_Done":
        """Send a text in pieces; once one has gone out the whole may be there in part."""
        await self._piece(chat, first[0], None, silent=True)
        try:
            for piece in first[1:]:
                await asyncio.sleep(_CHAT_RESTS.total_seconds())
                await self._piece(chat, piece, None, silent=True)
            await asyncio.sleep(_CHAT_RESTS.total_seconds())
            return await self._piece(chat, last, buttons, silent=silent)
        except TelegramError as error:
            raise _PartlySentError(str(error)) from error

    async def _piece(
        self, chat: ChatId, text: str, buttons: InlineKeyboardMarkup | None, *, silent: bool
    ) -> "_Done":
        sent = await self._bot.send_message(
            chat, text, reply_markup=buttons, disable_notification=silent
        )
        return _Done(sent.message_id, new=True)

    async def _document(
        self,
        chat: ChatId,
        content: bytes,
        name: str,
        again: str,
        until: datetime,
        *,
        silent: bool = False,
    ) -> "_Done":
        await self._place(until)
        sent = await self._bot.send_document(
            chat,
            content,
            filename=name,
            caption=again or None,
            disable_notification=silent,
        )
        return _Done(sent.message_id, new=True)

    def _later(self, claimed: Claimed) -> datetime:
        backoff = _FIRST_BACKOFF * 2.0 ** min(claimed.tries, 10)
        return self._now() + min(backoff, _LONGEST_BACKOFF)

    async def _back(self, claimed: Claimed, at: datetime, *, doubtful: bool, cause: str) -> None:
        _LOG.info("letter %s put back: %s", claimed.letter.key, cause)
        # Errors of libraries may hold the address, and that the token: it is not to be kept.
        await self._mark(_put_back, self._store, claimed.row, at, doubtful, redacted(cause))
        self._ring_in(at - self._now())

    def _ring_in(self, span: timedelta) -> None:
        """Look again when the chat's next letter may go."""
        seconds = max(span.total_seconds(), 0.0) + _A_MOMENT_SECONDS
        asyncio.get_running_loop().call_later(seconds, self._bell.set)

    async def _give_up(self, claimed: Claimed, cause: str) -> None:
        await self._mark(self._store.give_up, claimed.row, redacted(cause), self._now())

    async def _mark(self, mark: Callable[..., None], *what: object) -> None:
        try:
            await asyncio.to_thread(mark, *what)
        except StoreError as error:  # the lease runs out, and it is sent again, marked
            _LOG.warning("a letter could not be marked: %s", error)


@dataclass(frozen=True, slots=True)
class _Done:
    """A letter that is there: its message, and whether that is a new one in the chat."""

    message: int | None
    new: bool


def _let_go(under_way: dict[int, asyncio.Task[None]], row: int, _: object) -> None:
    del under_way[row]


class _TooLateError(Exception):
    """Its place in the row comes after the time for which it is surely ours."""

    def __init__(self, wait: timedelta) -> None:
        super().__init__("not sent in its time")
        self.wait = wait


class _PartlySentError(Exception):
    """Some pieces of a text are there, the rest is not or may be."""


def _sent(store: PostOffice, row: int, message: int | None, now: datetime, rest: timedelta) -> None:
    store.sent(row, message, now, rest=rest)


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


async def _ring(bell: asyncio.Event, seconds: float) -> None:
    # Not `wait_for`: a bell that rings while we are cancelled would swallow the cancelling.
    with suppress(TimeoutError):
        async with asyncio.timeout(seconds):
            await bell.wait()
