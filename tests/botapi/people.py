"""The other side of the chat: what people do, as Python calls. Every name here is invented."""

import re
import time
from datetime import datetime
from typing import Any

from tests.botapi.markup import units
from tests.botapi.state import Chat, Json, StoredFile, World
from tests.botapi.stored import document_json, photo_json, store

When = datetime | float | None

COMMAND = re.compile(r"(?<!\S)/[A-Za-z0-9_]{1,32}(?:@\w+)?")
GPX = "application/gpx+xml"


class People:
    """What people say, press, share and send; a private chat opens when somebody first speaks.

    `sent` is when a message left the phone (default: now); `user` is who acts in a group.
    All ids of messages and updates are returned.
    """

    world: World

    def add_group(self, chat: int, title: str, members: dict[int, str]) -> None:
        """Open a group (id below zero) in which the bot already is."""
        with self.world.changed:
            self.world.chats[chat] = Chat(chat, "group", title, dict(members))

    def add_user(self, chat: int, name: str = "Rider") -> None:
        """Open a private chat."""
        with self.world.changed:
            self.world.chats.setdefault(chat, Chat(chat, "private", name, {chat: name}))

    def user_says(
        self,
        chat: int,
        text: str,
        *,
        sent: When = None,
        user: int | None = None,
        reply_to: int | None = None,
    ) -> int:
        """Write a message; commands in it are marked as the service marks them."""
        extra: Json = {}
        if reply_to is not None:
            extra["reply_to_message"] = self.world.messages[chat, reply_to]
        return self._message(chat, user, sent, _written(text) | extra)

    def user_edits(self, chat: int, message_id: int, text: str, *, sent: When = None) -> None:
        """Change the words of an own message."""
        self._edited(chat, message_id, sent, _written(text), gone=("entities",))

    def user_presses(
        self,
        chat: int,
        message_id: int,
        callback_data: str,
        *,
        user: int | None = None,
        spoofed: bool = False,
    ) -> str:
        """Press a button; `spoofed` sends data no button shown has. Returns the query's id."""
        with self.world.changed:
            delivery = self.world.deliveries[chat, message_id]
            shown = {button.get("callback_data") for button in delivery.buttons}
            assert spoofed or callback_data in shown, f"no such button now: {shown}"
            message = self.world.messages.get(
                (chat, message_id),
                {"chat": self.world.chats[chat].as_json(), "message_id": message_id, "date": 0},
            )
            query = str(9_000_000 + len(self.world.queries))
            self.world.queries[query] = time.monotonic()
            self.world.push(
                "callback_query",
                {
                    "id": query,
                    "from": self._person(chat, user),
                    "message": message,
                    "chat_instance": str(chat),
                    "data": callback_data,
                },
            )
            return query

    def user_shares(
        self,
        chat: int,
        lat: float,
        lon: float,
        *,
        live_period: int | None = None,
        accuracy: float | None = None,
        sent: When = None,
        user: int | None = None,
    ) -> int:
        """Share a position (degrees), live for so many seconds if `live_period` is given."""
        location = _location(lat, lon, live_period=live_period, accuracy=accuracy)
        return self._message(chat, user, sent, {"location": location})

    def user_moves(
        self, chat: int, message_id: int, lat: float, lon: float, *, sent: When = None
    ) -> None:
        """A live position moves on: an edited message."""
        period = self.world.messages[chat, message_id]["location"].get("live_period")
        assert period is not None, "this position is not shared live"
        location = _location(lat, lon, live_period=period)
        self._edited(chat, message_id, sent, {"location": location})

    def user_stops_sharing(self, chat: int, message_id: int) -> None:
        """A live position ends: the last edit has no live period any more."""
        last = self.world.messages[chat, message_id]["location"]
        location = _location(last["latitude"], last["longitude"])
        self._edited(chat, message_id, None, {"location": location})

    def user_sends_file(
        self,
        chat: int,
        name: str,
        content: bytes,
        mime: str = GPX,
        *,
        caption: str = "",
        sent: When = None,
        user: int | None = None,
    ) -> int:
        kept = self._kept(name, content, mime, "documents")
        said = {"caption": caption} if caption else {}
        return self._message(chat, user, sent, {"document": document_json(kept)} | said)

    def user_sends_photo(self, chat: int, content: bytes, *, user: int | None = None) -> int:
        kept = self._kept("photo.jpg", content, "image/jpeg", "photos")
        return self._message(chat, user, None, {"photo": photo_json(kept)})

    def user_sends_voice(
        self, chat: int, content: bytes, seconds: int = 3, *, user: int | None = None
    ) -> int:
        kept = self._kept("voice.oga", content, "audio/ogg", "voice")
        voice = kept.as_json() | {"duration": seconds, "mime_type": kept.mime}
        return self._message(chat, user, None, {"voice": voice})

    def user_sends_sticker(self, chat: int, emoji: str = "👍", *, user: int | None = None) -> int:
        kept = self._kept("sticker.webp", b"invented", "image/webp", "stickers")
        about = {"type": "regular", "width": 512, "height": 512, "emoji": emoji}
        plain = {"is_animated": False, "is_video": False}
        return self._message(chat, user, None, {"sticker": kept.as_json() | about | plain})

    def user_blocks(self, chat: int) -> None:
        """Shut the bot out of a chat (in a group: remove it); it is told, then refused with 403."""
        self._membership(chat, "member", "kicked", gone=True)

    def user_unblocks(self, chat: int) -> None:
        """Let the bot in again."""
        self._membership(chat, "kicked", "member", gone=False)

    def _membership(self, chat: int, old: str, new: str, *, gone: bool) -> None:
        with self.world.changed:
            self.world.chats[chat].gone = gone
            self.world.push(
                "my_chat_member",
                {
                    "chat": self.world.chats[chat].as_json(),
                    "from": self._person(chat, min(self.world.chats[chat].members)),
                    "date": int(time.time()),
                    "old_chat_member": self._member(old),
                    "new_chat_member": self._member(new),
                },
            )

    def _member(self, status: str) -> Json:
        until = {"until_date": 0} if status == "kicked" else {}
        return {"user": self.world.bot, "status": status} | until

    def _person(self, chat: int, user: int | None) -> Json:
        number = chat if user is None else user
        assert number > 0, "say which user acts in the group"
        name = self.world.chats[chat].members.get(number, "Rider")
        return {"id": number, "is_bot": False, "first_name": name, "language_code": "en"}

    def _kept(self, name: str, content: bytes, mime: str, folder: str) -> StoredFile:
        with self.world.changed:
            return store(self.world, name, content, mime, folder=folder)

    def _message(self, chat: int, user: int | None, sent: When, content: Json) -> int:
        with self.world.changed:
            if chat > 0:
                self.add_user(chat)
            message_id = self.world.next_message()
            message: Json = {
                "message_id": message_id,
                "from": self._person(chat, user),
                "chat": self.world.chats[chat].as_json(),
                "date": _seconds(sent),
                **content,
            }
            self.world.messages[chat, message_id] = message
            self.world.push("message", message)
            return message_id

    def _edited(
        self, chat: int, message_id: int, sent: When, content: Json, *, gone: tuple[str, ...] = ()
    ) -> None:
        with self.world.changed:
            message = self.world.messages[chat, message_id]
            assert not message["from"]["is_bot"], "people edit their own messages"
            for name in gone:
                message.pop(name, None)
            message.update(content, edit_date=_seconds(sent))
            self.world.push("edited_message", message)


def _written(text: str) -> Json:
    commands = [
        {
            "type": "bot_command",
            "offset": units(text[: found.start()]),
            "length": units(found[0]),
        }
        for found in COMMAND.finditer(text)
    ]
    return {"text": text} | ({"entities": commands} if commands else {})


def _location(lat: float, lon: float, **more: Any) -> Json:
    known = {name: value for name, value in more.items() if value is not None}
    if "accuracy" in known:
        known["horizontal_accuracy"] = known.pop("accuracy")
    return {"latitude": lat, "longitude": lon, **known}


def _seconds(sent: When) -> int:
    if sent is None:
        return int(time.time())
    return int(sent.timestamp() if isinstance(sent, datetime) else sent)
