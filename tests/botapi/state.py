"""What the service knows: chats, messages, files, updates not yet confirmed.

Everything here happens under one lock, `World.changed`; whoever changes something tells all that
wait for it.
"""

import json
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from threading import Condition
from typing import Any, TextIO

from tests.botapi import facts
from tests.botapi.facts import Refusal, bad_request
from tests.botapi.faults import Faults
from tests.botapi.limits import Limits

FIRST_UPDATE = 700_001
FIRST_MESSAGE = 101

Json = dict[str, Any]


@dataclass(frozen=True)
class Version:
    """A message as it stood from one moment on (`at`: monotonic clock). [s]"""

    at: float
    text: str
    entities: list[Json]
    markup: Json | None


@dataclass
class Delivery:
    """A message of the bot that reached a chat, whether or not the bot was told so."""

    chat_id: int
    message_id: int
    kind: str
    versions: list[Version]
    reply_to: int | None = None
    file_name: str | None = None
    file_id: str | None = None
    silent: bool = False
    deleted_at: float | None = None

    @property
    def at(self) -> float:
        return self.versions[0].at

    @property
    def text(self) -> str:
        """The text (or caption) as delivered, after parsing."""
        return self.versions[0].text

    @property
    def markup(self) -> Json | None:
        return self.versions[0].markup

    @property
    def edits(self) -> list[Version]:
        return self.versions[1:]

    @property
    def shown(self) -> Version:
        """What the rider sees now."""
        return self.versions[-1]

    @property
    def buttons(self) -> list[Json]:
        """The inline buttons under the message now, row by row."""
        rows = (self.shown.markup or {}).get("inline_keyboard", [])
        return [button for row in rows for button in row]


@dataclass
class Chat:
    """A private chat (its id is the person's) or a group."""

    id: int
    type: str
    title: str
    members: dict[int, str] = field(default_factory=dict)
    gone: bool = False

    def as_json(self) -> Json:
        name = "first_name" if self.type == "private" else "title"
        return {"id": self.id, "type": self.type, name: self.title}


@dataclass
class World:
    """The service's memory."""

    token: str
    limits: Limits
    journal: Path | None = None
    callback_lifetime: float | None = None  # how long a press can be answered [s]
    changed: Condition = field(default_factory=Condition)
    faults: Faults = field(default_factory=Faults)
    chats: dict[int, Chat] = field(default_factory=dict)
    messages: dict[tuple[int, int], Json] = field(default_factory=dict)
    sent: list[Delivery] = field(default_factory=list)
    deliveries: dict[tuple[int, int], Delivery] = field(default_factory=dict)
    updates: list[Json] = field(default_factory=list)
    confirmed_last: list[Json] = field(default_factory=list)
    allowed_updates: list[str] = field(default_factory=list)
    files: dict[str, "StoredFile"] = field(default_factory=dict)
    queries: dict[str, float] = field(default_factory=dict)
    answers: list[Json] = field(default_factory=list)
    actions: list[Json] = field(default_factory=list)
    commands: list[Json] = field(default_factory=list)
    calls: Counter[str] = field(default_factory=Counter)
    poll: int = 0  # the number of the newest getUpdates: an older one that waits has lost
    closing: bool = False
    broken: list[str] = field(default_factory=list)  # faults of this server itself
    _next_update: int = FIRST_UPDATE
    _next_message: int = FIRST_MESSAGE
    _journal_file: TextIO | None = None

    @property
    def bot(self) -> Json:
        number = int(self.token.partition(":")[0])
        return {"id": number, "is_bot": True, "first_name": "Test bot", "username": "loop_test_bot"}

    def note(self, event: str, **what: Any) -> None:
        """Append a line to the journal; it is with the system before the bot gets its answer."""
        if self.journal is None:
            return
        if self._journal_file is None:
            self._journal_file = self.journal.open("a", encoding="utf-8")
        line = {"event": event, "at": time.monotonic(), "wall": time.time(), **what}
        self._journal_file.write(json.dumps(line, ensure_ascii=False) + "\n")
        self._journal_file.flush()

    def close(self) -> None:
        with self.changed:
            self.closing = True
            self.changed.notify_all()
            if self._journal_file is not None:
                self._journal_file.close()
                self._journal_file = None
                self.journal = None

    def wait(self, ready: Callable[[], Any], timeout: float) -> Any:
        """Wait under the lock until `ready` gives something; its value, falsy after `timeout`."""
        with self.changed:
            return self.changed.wait_for(lambda: ready() or self.closing, timeout) and ready()

    def next_message(self) -> int:
        self._next_message += 1
        return self._next_message - 1

    def push(self, kind: str, content: Json) -> int:
        """Queue an update for the bot unless it asked not to get its kind."""
        update_id = self._next_update
        if self.allowed_updates and kind not in self.allowed_updates:
            return update_id
        self._next_update += 1
        as_it_is_now = json.loads(json.dumps(content))
        self.updates.append({"update_id": update_id, kind: as_it_is_now})
        self.note("update", update_id=update_id, kind=kind)
        self.changed.notify_all()
        return update_id

    def confirm(self, offset: int) -> None:
        """Forget the updates before `offset`; a negative one keeps that many of the newest."""
        if offset < 0:
            offset = self.updates[offset]["update_id"] if len(self.updates) >= -offset else 0
        gone = [update for update in self.updates if update["update_id"] < offset]
        if gone:
            self.confirmed_last = gone
            self.updates = [update for update in self.updates if update["update_id"] >= offset]
            self.note("confirmed", update_ids=[update["update_id"] for update in gone])
            self.changed.notify_all()

    def chat(self, chat_id: str) -> Chat:
        """Return the chat a call names; refuse one that is unknown or has shut the bot out."""
        if not chat_id:
            raise bad_request(facts.CHAT_EMPTY)
        number = int(chat_id) if chat_id.lstrip("-").isdigit() else None
        if number not in self.chats:
            raise bad_request(facts.CHAT_NOT_FOUND)
        chat = self.chats[number]
        if chat.gone:
            raise Refusal(403, facts.BLOCKED if chat.type == "private" else facts.KICKED)
        return chat

    def keep_delivery(self, delivery: Delivery, message: Json) -> None:
        """A message has reached its chat."""
        key = (delivery.chat_id, delivery.message_id)
        self.messages[key] = message
        self.deliveries[key] = delivery
        self.sent.append(delivery)
        self.note("sent", **asdict(delivery))
        self.changed.notify_all()


@dataclass(frozen=True)
class StoredFile:
    """A file that people or the bot sent; `path` is ours, never a name out of a chat."""

    file_id: str
    path: str
    name: str
    mime: str
    content: bytes = field(repr=False)

    def as_json(self) -> Json:
        return {
            "file_id": self.file_id,
            "file_unique_id": f"u{self.file_id}",
            "file_size": len(self.content),
        }
