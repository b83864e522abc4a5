"""A server on this machine that speaks the part of the Telegram Bot API this project uses.

The real client library runs unmocked against it: give it `base_url` and `base_file_url`. People
are played by Python calls (`people.py`); what reached them is in `server.sent`.

Methods: getMe, getUpdates (long polling), deleteWebhook, setMyCommands, sendMessage, sendPhoto,
sendDocument, sendChatAction, editMessageText, editMessageReplyMarkup, deleteMessage,
answerCallbackQuery, getFile and the download of a file.

It refuses as the real one does (`facts.py` says from where each is known):

- a wrong token (401), a malformed one (404), an unknown method (404);
- text without content, over 4,096 UTF-16 units after parsing (STRICTER than the real one, which
  counts an emoji once: `facts.py`), over 32,768 bytes before; captions over 1,024 units;
- HTML with unknown tags, tags not closed or closed in the wrong order, a bare ``<``; and, STRICTER
  than the real one, a bare ``&`` (`markup.py` says why);
- inline buttons without text, without data, with more than 64 bytes of data; over 100 of them;
- edits that change nothing, of messages that are not there, of other people's messages, of the
  text of a picture; replies to and deletions of what is not there;
- chats that never spoke to the bot (400), that blocked it (403);
- answers to unknown presses and, if `callback_lifetime` is set, to old ones;
- photos that are none, too large or too long; files over 50 MB up and 20 MB down;
- too many messages (429 with retry_after), until the time told is over (`limits.py`);
- a getUpdates that waits while a newer one comes (409 for the OLDER; the newer wins).

It does not do: webhooks, MarkdownV2, inline mode, albums, sending by URL, channels, topics,
deletion limits by age, the hiding of group messages from bots in privacy mode, finding links in
plain text, the limit of 100 entities, the slowing of short polls and of repeated conflicts. Only
PNG pictures have their true sides. Limits count sent messages, not edits. Updates are kept for
ever, not for 24 hours.
"""

import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from threading import Thread
from types import TracebackType
from typing import Any, Self, TypeVar

from tests.botapi.faults import Faults
from tests.botapi.limits import Limits
from tests.botapi.people import People
from tests.botapi.state import Delivery, Json, World
from tests.botapi.wire import Wire

TOKEN = "123456789:TEST-token_of_the_loopback_server"  # noqa: S105 - invented
PATIENCE = 10.0

Found = TypeVar("Found")


class BotApiServer(People):
    """The server; use it as a context manager."""

    def __init__(
        self,
        *,
        token: str = TOKEN,
        limits: Limits | None = None,
        journal: Path | None = None,
        callback_lifetime: float | None = None,
        port: int = 0,
    ) -> None:
        self.world = World(token, limits or Limits.off(), journal, callback_lifetime)
        self.token = token
        self._wire = Wire(self.world, port)
        self._thread = Thread(target=self._wire.serve_forever, args=(0.02,), daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.world.close()
        self._wire.shutdown()
        self._wire.hang_up()
        self._wire.server_close()
        self._thread.join()
        if error is None:
            assert not self.world.broken, self.world.broken[0]

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self._wire.server_address[1]}"

    @property
    def base_url(self) -> str:
        """What the client library calls `base_url`; the token follows."""
        return f"{self.url}/bot"

    @property
    def base_file_url(self) -> str:
        return f"{self.url}/file/bot"

    @property
    def faults(self) -> Faults:
        return self.world.faults

    @property
    def sent(self) -> list[Delivery]:
        """Everything that reached people, in order."""
        with self.world.changed:
            return list(self.world.sent)

    def sent_to(self, chat: int) -> list[Delivery]:
        return [delivery for delivery in self.sent if delivery.chat_id == chat]

    @property
    def answers(self) -> list[Json]:
        """The answers to presses: id of the query, text, alert."""
        with self.world.changed:
            return list(self.world.answers)

    @property
    def pending(self) -> list[int]:
        """The ids of the updates the bot has not confirmed."""
        with self.world.changed:
            return [update["update_id"] for update in self.world.updates]

    def content_of(self, delivery: Delivery) -> bytes:
        """Return the file of a delivered photo or document."""
        with self.world.changed:
            return self.world.files[delivery.file_id or ""].content

    def calls(self, method: str) -> int:
        """Return how often a method was called, refused and broken calls too."""
        with self.world.changed:
            return self.world.calls[method.lower()]

    def wait_for(self, ready: Callable[[], Found], timeout: float = PATIENCE) -> Found:
        """Wait until `ready` gives something and return it; looked at after every change. [s]"""
        found: Found = self.world.wait(ready, timeout)
        if not found:
            raise AssertionError(f"not within {timeout} s; {self._told()}")
        return found

    def wait_for_sent(self, chat: int, count: int = 1, timeout: float = PATIENCE) -> list[Delivery]:
        """Wait until a chat has got so many messages."""

        def enough() -> list[Delivery]:
            got = self.sent_to(chat)
            return got if len(got) >= count else []

        return self.wait_for(enough, timeout)

    def wait_for_text(self, chat: int, part: str, timeout: float = PATIENCE) -> Delivery:
        """Wait until a message whose present text contains `part` is in a chat."""

        def newest() -> Delivery | None:
            fits = [d for d in self.sent_to(chat) if part in d.shown.text and not d.deleted_at]
            return fits[-1] if fits else None

        found = self.wait_for(newest, timeout)
        assert found is not None
        return found

    def wait_until_confirmed(self, timeout: float = PATIENCE) -> None:
        """Wait until the bot has confirmed every update."""
        self.wait_for(lambda: not self.pending, timeout)

    def quiet_for(self, seconds: float, timeout: float = PATIENCE) -> None:
        """Wait until nothing was sent or edited for so long. [s]"""
        until = time.monotonic() + timeout
        while time.monotonic() < until:
            if not self.world.wait(partial(self._moved_from, self._versions()), seconds):
                return
        raise AssertionError(f"never quiet for {seconds} s within {timeout} s; {self._told()}")

    def _moved_from(self, versions: int) -> bool:
        return self._versions() != versions

    def _versions(self) -> int:
        return sum(len(delivery.versions) for delivery in self.world.sent)

    def _told(self) -> str:
        last: list[Any] = [(d.chat_id, d.kind, d.shown.text[:80]) for d in self.sent[-5:]]
        return f"last sent: {last}"
