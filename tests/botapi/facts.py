"""What the Bot API refuses, in numbers and in its words, each with where it is known from.

Sources, named in the comments below:

- PAGE: the public documentation, https://core.telegram.org/bots/api, as repeated word for word by
  the reference pages of client libraries.
- FAQ: https://core.telegram.org/bots/faq ("My bot is hitting limits").
- OPEN: the open sources of the real server, github.com/tdlib/telegram-bot-api (commit 01a3679 of
  2026-05-07: Client.cpp, Query.cpp, Client.h) and github.com/tdlib/td (MessageEntity.cpp).
  Only the facts are taken: limits, sentences of refusals, who is refused.
- LIBRARY: telegram.constants of python-telegram-bot, compared in test_facts.py.
- REPORTS: quoted in many public bug reports, not in the documentation.
- MEMORY: from memory, not looked up.

In one figure this server is STRICTER than the real one: it counts text in UTF-16 units. The
documentation says characters; the open sources count code points (InputMessageText of bots), and
one public measurement agrees (github.com/FerroxLabs/wayland/issues/934: 4,096 emoji of two units
each passed, 4,097 did not). Many bots count units; who does so is on the safe side of both.
"""

import json
from dataclasses import dataclass
from typing import Any

TEXT_UNITS = 4096  # PAGE, sendMessage: 1-4096 characters after entities parsing
CAPTION_UNITS = 1024  # PAGE, sendPhoto and sendDocument: 0-1024 characters after entities parsing
RAW_TEXT_BYTES = 1 << 15  # OPEN, Client::get_formatted_text
CALLBACK_DATA_BYTES = 64  # PAGE, InlineKeyboardButton: 1-64 bytes
INLINE_BUTTONS = 100  # LIBRARY
CALLBACK_ANSWER_UNITS = 200  # PAGE, answerCallbackQuery: 0-200 characters
UPDATES_AT_ONCE = 100  # PAGE, getUpdates: limit 1-100, default 100
LONG_POLL_SECONDS = 50  # OPEN, Client.h LONG_POLL_MAX_TIMEOUT
DOWNLOAD_BYTES = 20 << 20  # PAGE, getFile: 20 MB; OPEN, Client.h MAX_DOWNLOAD_FILE_SIZE
UPLOAD_BYTES = 50_000_000  # PAGE, sending files: 50 MB; read strictly
PHOTO_BYTES = 10_000_000  # PAGE, sendPhoto: at most 10 MB; read strictly
PHOTO_SIDES = 10_000  # PAGE, sendPhoto: width and height together
PHOTO_RATIO = 20  # PAGE, sendPhoto
COMMANDS = 100  # PAGE, setMyCommands
COMMAND_UNITS = 32  # PAGE, BotCommand: 1-32 lowercase letters, digits, underscores
COMMAND_DESCRIPTION_UNITS = 256  # PAGE, BotCommand: 1-256 characters

CHAT_ACTIONS = frozenset(  # PAGE, sendChatAction
    {
        "typing",
        "upload_photo",
        "record_video",
        "upload_video",
        "record_voice",
        "upload_voice",
        "upload_document",
        "choose_sticker",
        "find_location",
        "record_video_note",
        "upload_video_note",
    }
)

# OPEN, Client.cpp and Query.cpp, without the leading "Bad Request: " and the like.
CHAT_NOT_FOUND = "chat not found"
CHAT_EMPTY = "chat_id is empty"
BLOCKED = "Forbidden: bot was blocked by the user"
KICKED = "Forbidden: bot was kicked from the group chat"  # MEMORY
TEXT_EMPTY = "message text is empty"
TEXT_LONG = "message is too long"
RAW_TEXT_LONG = "text is too long"
CAPTION_LONG = "message caption is too long"  # REPORTS
NOT_MODIFIED = (
    "message is not modified: specified new message content and reply markup are exactly the same"
    " as a current content and reply markup of the message"
)
NO_TEXT_TO_EDIT = "there is no text in the message to edit"  # REPORTS
NOT_OURS = "message can't be edited"  # MEMORY
QUERY_OLD = "query is too old and response timeout expired or query ID is invalid"
MARKUP_LONG = "reply markup is too long"
BUTTON_DATA = "BUTTON_DATA_INVALID"  # public API error table, messages.sendMessage
ROWS_WRONG = 'field "inline_keyboard" of the InlineKeyboardMarkup must be an Array of Arrays'
FILE_BIG = "file is too big"
FILE_UNKNOWN = "invalid file_id"
CONFLICT = (
    "Conflict: terminated by other getUpdates request;"
    " make sure that only one bot instance is running"
)
METHOD_UNKNOWN = "Not Found: method not found"


@dataclass(eq=False)
class Refusal(Exception):  # noqa: N818 - the service's own word for it would be an answer
    """A refused call: its status code, its sentence, and how long to wait. [s]"""

    code: int
    description: str
    retry_after: int | None = None

    def as_json(self) -> dict[str, object]:
        """Return the answer's body (PAGE, making requests and ResponseParameters)."""
        body: dict[str, object] = {
            "ok": False,
            "error_code": self.code,
            "description": self.description,
        }
        if self.retry_after is not None:
            body["parameters"] = {"retry_after": self.retry_after}
        return body


def bad_request(sentence: str) -> Refusal:
    return Refusal(400, f"Bad Request: {sentence}")


def too_many(retry_after: int) -> Refusal:
    return Refusal(429, f"Too Many Requests: retry after {retry_after}", retry_after)


def from_json(text: str, what: str) -> Any:
    """Return what a JSON argument says; refuse one that is none."""
    try:
        return json.loads(text)
    except ValueError:
        raise bad_request(f"can't parse {what} JSON object") from None
