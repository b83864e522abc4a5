"""An update of the Bot API, kept as it came and read when it is dealt with.

Field names: core.telegram.org/bots/api, objects Update, Message, CallbackQuery, Location.
"""

import json
import math
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from replanner.geodesy import Point
from replanner.post import (
    Arrived,
    BlockedIn,
    FileIn,
    Incoming,
    OtherIn,
    PositionIn,
    PressIn,
    TextIn,
)

# What the bot asks the service for; everything else is not even sent.
WANTED = ("message", "edited_message", "callback_query", "my_chat_member")

_GONE = frozenset({"kicked", "left"})
_LARGEST_INSTANT = 253_402_300_799  # the last second of the year 9999
LARGEST_NUMBER = 2**63 - 1  # of a column of 64 bits
_LONGEST_NUMBER = 18  # digits of one
_What = TextIn | PressIn | PositionIn | FileIn | OtherIn | BlockedIn


def arrived(update: Mapping[str, Any]) -> Arrived:
    """Return an update as it is put on record; one without a chat belongs to chat 0.

    Written in ASCII: half a surrogate pair is a text to JSON and none to a database.
    """
    raw = json.dumps(update, separators=(",", ":"))
    return Arrived(number=int(update["update_id"]), chat=_number(_chat(update).get("id")), raw=raw)


def read(arrival: Arrived) -> Incoming | None:
    """Return what an update means; None where it is nothing we asked for."""
    update: Mapping[str, Any] = json.loads(arrival.raw) if arrival.raw else {}
    body = _body(update)
    what = _what(update, body)
    if what is None or not arrival.chat or _by_another(body, arrival.chat):
        return None
    return Incoming(
        number=arrival.number,
        chat=arrival.chat,
        sent=_instant(_sent(update, body)),
        private=_chat(update).get("type") == "private",
        what=what,
    )


def button_data(word: str, serial: int) -> str:
    """Return what a button carries: what it belongs to, and its word (at most 64 bytes)."""
    return f"{serial} {word}"


def _body(update: Mapping[str, Any]) -> Mapping[str, Any]:
    for kind in WANTED:
        body = update.get(kind)
        if isinstance(body, Mapping):
            return body
    return {}


def _chat(update: Mapping[str, Any]) -> Mapping[str, Any]:
    body = _body(update)
    message = body.get("message", body)
    chat = message.get("chat") if isinstance(message, Mapping) else None
    if isinstance(chat, Mapping):
        return chat
    person = body.get("from")  # a press on a message too old to be told: the rider's own chat
    return {**person, "type": "private"} if isinstance(person, Mapping) else {}


def _by_another(body: Mapping[str, Any], chat: int) -> bool:
    """Tell whether somebody else acts in a chat with one rider, which the service never lets."""
    person = body.get("from")
    told = person.get("id") if isinstance(person, Mapping) else None
    return chat > 0 and told is not None and told != chat


def _sent(update: Mapping[str, Any], body: Mapping[str, Any]) -> object:
    # A press has no time of its own; it is taken at once.
    return body.get("edit_date") if "edited_message" in update else body.get("date")


def _what(update: Mapping[str, Any], body: Mapping[str, Any]) -> _What | None:
    if "callback_query" in update:
        return _press(body)
    if "my_chat_member" in update:
        member = body.get("new_chat_member")
        status = member.get("status") if isinstance(member, Mapping) else ""
        return BlockedIn(blocked=str(status) in _GONE)
    if isinstance(body.get("location"), Mapping):
        return _position(body["location"], moved="edited_message" in update)
    return _written(body, edited="edited_message" in update)


def _written(body: Mapping[str, Any], *, edited: bool) -> TextIn | FileIn | OtherIn | None:
    if isinstance(body.get("text"), str):
        return TextIn(text=_whole(body["text"]), edited=edited)
    if isinstance(body.get("document"), Mapping) and not edited:
        return _file(body["document"])
    if isinstance(body.get("caption"), str):  # of a photo: what it shows is said below it
        return TextIn(text=_whole(body["caption"]), edited=edited)
    return OtherIn() if body and not edited else None


def _press(body: Mapping[str, Any]) -> PressIn | None:
    serial, _, word = str(body.get("data", "")).partition(" ")
    if not (serial.isascii() and serial.isdigit()) or not word:
        return None  # not made by us: somebody made it up
    if len(serial) > _LONGEST_NUMBER:
        return None
    return PressIn(word=_whole(word), serial=int(serial), press=_whole(str(body.get("id", ""))))


def _position(location: Mapping[str, Any], *, moved: bool) -> PositionIn | OtherIn:
    try:
        latitude, longitude = float(location["latitude"]), float(location["longitude"])
    except (KeyError, TypeError, ValueError):
        return OtherIn()
    sound = math.isfinite(latitude) and math.isfinite(longitude)
    if not sound or abs(latitude) > 90 or abs(longitude) > 180:  # noqa: PLR2004 - the globe
        return OtherIn()
    return PositionIn(
        point=Point(latitude, longitude, math.nan), live=moved or bool(location.get("live_period"))
    )


def _file(document: Mapping[str, Any]) -> FileIn:
    return FileIn(
        file=_whole(str(document.get("file_id", ""))),
        name=_whole(str(document.get("file_name", ""))),
        size=_number(document.get("file_size")),
    )


def _number(told: object) -> int:
    """Return a number that a database can keep; 0 for anything else."""
    return told if isinstance(told, int) and abs(told) <= LARGEST_NUMBER else 0


def _whole(text: str) -> str:
    """Return a text with a mark in place of each half of a surrogate pair."""
    return text.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace")


def _instant(seconds: object) -> datetime:
    if isinstance(seconds, int | float) and 0 <= seconds <= _LARGEST_INSTANT:
        return datetime.fromtimestamp(seconds, UTC)
    return datetime.max.replace(tzinfo=UTC)  # not told: the office takes the present instead
