"""An office with a real store on a clock the test sets, and updates as the Bot API sends them.

Everything is INVENTED: two groups ride the tour of `tests.dialogue.evening`, whose plans come from
its stand-in planner. Field names of updates: core.telegram.org/bots/api (Update, Message,
CallbackQuery, Location, Document).
"""

import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Any

from replanner.advice.briefing import Briefing
from replanner.channels.telegram.incoming import arrived, read
from replanner.dialogue.events import Memory, Replan
from replanner.errors import ReplannerError
from replanner.people import Group, Member, Role
from replanner.post import Arrived, Body, DueKind, FileIn, Words
from replanner.service.dealing import Ridden
from replanner.service.files_in import FileDesk
from replanner.service.joining import Hours, Joining
from replanner.service.office import Hands, Office
from replanner.service.pressure import Pressure
from replanner.service.rounds import Means, Rounds
from replanner.serving import _legs_on_track, _read_tour
from replanner.store.store import Store, open_store
from tests.dialogue.evening import BOOK, DAY, SENT, ZONE, plan
from tests.service.long_tour import long_tour

HOURS = Hours(evening_at=time(19, 30), quiet_from=time(23), quiet_to=time(5))
TOUR = long_tour(ZONE, DAY, 4)
LEADER, RIDER, FOREIGN, STRANGER = 7_100_000_001, 7_100_000_002, 7_200_000_001, 7_900_000_009
Update = dict[str, Any]


class Desk:
    """The office, its store, and what the test sees of them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.now = SENT
        self.store: Store = open_store(str(folder / "state.sqlite"), lambda: self.now)
        self.refused: list[int] = []
        self.at_once: list[tuple[int, str]] = []
        self.fetched: list[FileIn] = []
        self.files: dict[str, bytes] = {}
        self.make: Callable[[Replan], Briefing] = plan
        self._number = 100
        self.group = self.store.new_group("the tour of the one group")
        self.office = self.new_office()
        self.rounds = Rounds(
            self.store, Means(ridden=self.ridden, make=self._make, now=lambda: self.now)
        )

    def new_office(self) -> Office:
        """Return an office as a process just started has it."""
        return Office(
            self.store,
            Hands(
                read=read,
                ridden=lambda member: self.ridden(self.group_of(member)),
                make=self._make,
                refuse_stranger=self.refused.append,
                say_at_once=lambda chat, said: self.at_once.append((chat, said)),
                now=lambda: self.now,
            ),
            Joining(self.store, self.ridden, HOURS),
            FileDesk(self.store, self._fetch, _read_tour, _legs_on_track),
            Pressure(),
        )

    def group_of(self, member: Member) -> Group:
        group = self.store.group(member.group)
        assert group is not None
        return group

    def ridden(self, group: Group) -> Ridden:
        return Ridden(group=group, tour=TOUR, book=BOOK)

    def _make(self, _: Ridden, request: Replan) -> Briefing:
        return self.make(request)

    def _fetch(self, file: FileIn) -> bytes:
        self.fetched.append(file)
        if file.file not in self.files:
            raise ReplannerError("the file cannot be fetched", mend="send it again")
        return self.files[file.file]

    # What people do

    def invite(self, role: Role, group: Group | None = None) -> str:
        return self.store.invite((group or self.group).id, role, self.now + timedelta(days=3))

    def joined(self, chat: int, role: Role, group: Group | None = None) -> Member:
        """Let a chat in by its code, and tell it its welcome."""
        self.gets(text(chat, self.invite(role, group)))
        member = self.store.member_of(chat)
        assert member is not None
        self.told(chat)
        return member

    def arrive(self, update: Mapping[str, Any]) -> Arrived:
        """Put an update on record under the next number, as the poller does."""
        self._number += 1
        new = arrived({**update, "update_id": self._number})
        self.store.receive([new], self.now)
        return new

    def gets(self, update: Mapping[str, Any], office: Office | None = None) -> None:
        """Let an update arrive and be dealt with."""
        (office or self.office).handle(self.arrive(update))

    def says(self, chat: int, said: str) -> list[str]:
        """Return what a chat is told when it says something."""
        self.gets(text(chat, said, self.now))
        return self.told(chat)

    def evening(self) -> None:
        """Let the evening come for all who ride along."""
        self.round(DueKind.EVENING)

    def round(self, *kinds: DueKind) -> None:
        """Do what is due now, of these kinds or of all."""
        for due in self.store.claim_due(self.now, timedelta(minutes=5), 64):
            if not kinds or due.kind in kinds:
                self.rounds.do(due)

    # What the test sees

    def letters(self, chat: int | None = None) -> list[Body]:
        """Send all that may be sent now; return what went to a chat, or to all."""
        found: list[Body] = []
        while claimed := self.store.claim(self.now, timedelta(minutes=1), 64):
            for one in claimed:
                if chat is None or one.letter.chat == chat:
                    found.append(one.letter.body)
                self.store.sent(one.row, 500 + one.row, self.now)
        return found

    def told(self, chat: int) -> list[str]:
        """Send all; return the texts that went to a chat."""
        return [body.text for body in self.letters(chat) if isinstance(body, Words)]

    def in_force(self, group: Group | None = None) -> tuple[Memory, object, object, str]:
        """Return what a group has agreed on: wishes, accepted plan, log, tour file."""
        of = self.store.group((group or self.group).id)
        assert of is not None
        key = of.tour_key
        return (
            self.store.recall(key, DAY),
            self.store.accepted_plan(key, DAY),
            self.store.logged(key),
            of.tour_text,
        )

    def trace(self, *words: str) -> list[str]:
        """Return which of some words stand anywhere in the files of the state, WAL included."""
        held = b"".join(
            path.read_bytes() for path in sorted(self.folder.rglob("*")) if path.is_file()
        )
        return [word for word in words if word.encode() in held]

    def rows(self) -> dict[str, list[tuple[Any, ...]]]:
        """Return every row of every table there is in the file."""
        with closing(sqlite3.connect(self.folder / "state.sqlite")) as look:
            names = [
                row[0] for row in look.execute("SELECT name FROM sqlite_master WHERE type='table'")
            ]
            return {name: look.execute(f'SELECT * FROM "{name}"').fetchall() for name in names}  # noqa: S608 - names of our own tables


def text(chat: int, said: str, sent: datetime = SENT, **more: Any) -> Update:
    """A message of a private chat."""
    return {"message": _message(chat, sent) | {"text": said} | more}


def edited(chat: int, said: str, sent: datetime = SENT) -> Update:
    message = _message(chat, sent) | {"text": said, "edit_date": int(sent.timestamp()) + 5}
    return {"edited_message": message}


def position(
    chat: int, latitude: float, longitude: float, sent: datetime = SENT, *, live: bool = False
) -> Update:
    where = {"latitude": latitude, "longitude": longitude} | ({"live_period": 3600} if live else {})
    return {"message": _message(chat, sent) | {"location": where}}


def document(chat: int, name: str, size: int, file: str = "F1", sent: datetime = SENT) -> Update:
    sent_file = {"file_id": file, "file_unique_id": file, "file_name": name, "file_size": size}
    return {"message": _message(chat, sent) | {"document": sent_file}}


def press(chat: int, data: str, by: int | None = None) -> Update:
    """A button pressed in a chat; `by` is who pressed it, if another one."""
    person = {"id": by or chat, "is_bot": False, "first_name": "Rider"}
    message = {"message_id": 9, "date": int(SENT.timestamp()), "chat": _chat(chat), "text": "plan"}
    asked = {"id": "9000001", "from": person, "message": message, "chat_instance": "1"}
    return {"callback_query": asked | {"data": data}}


def _message(chat: int, sent: datetime) -> Update:
    return {
        "message_id": 10,
        "from": {"id": abs(chat), "is_bot": False, "first_name": "Quillon"},
        "chat": _chat(chat),
        "date": int(sent.timestamp()),
    }


def _chat(chat: int) -> Update:
    if chat < 0:
        return {"id": chat, "type": "group", "title": "Quillon's riders"}
    return {"id": chat, "type": "private", "first_name": "Quillon"}
