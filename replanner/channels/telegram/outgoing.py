"""A letter as the Bot API takes it: plain text in pieces that fit, buttons, files.

Text goes out without any markup, so that nothing in a leg's name can be taken for some.
"""

from collections.abc import Iterator

from telegram import InlineKeyboardButton, InlineKeyboardMarkup

from replanner.channels.telegram.incoming import button_data
from replanner.dialogue.events import Button
from replanner.post import Words

MOST_UNITS = 4096  # of UTF-16, in a message: core.telegram.org/bots/api#sendmessage
MOST_DATA_BYTES = 64  # core.telegram.org/bots/api#inlinekeyboardbutton
_A_ROW = 3
AGAIN = "(again) "


def units(text: str) -> int:
    """Return the length of a text as the service counts it: UTF-16 code units."""
    return len(text.encode("utf-16-le", errors="surrogatepass")) // 2


def pieces(text: str, most: int = MOST_UNITS) -> list[str]:
    """Cut a text into pieces that fit, at ends of lines where it can be; at least one."""
    found, rest = [], text
    while units(rest) > most:
        head = _head(rest, most)
        cut = head.rfind("\n")
        head = head[:cut] if cut > 0 else head
        found.append(head)
        rest = rest[len(head) :].removeprefix("\n")
    return [*found, rest] if rest or not found else found


def _head(text: str, most: int) -> str:
    """Return as much of the beginning as fits, no sign cut in two."""
    length = 0
    for number, sign in enumerate(text):
        length += units(sign)
        if length > most:
            return text[:number]
    return text


def keyboard(words: Words) -> InlineKeyboardMarkup | None:
    """Return the buttons of a text, three a row.

    One whose data the service would not take is left out: a plan without a button is better than
    none.
    """
    fit = tuple(one for one in words.buttons if _fits(button_data(one.word, words.serial)))
    if not fit:
        return None
    return InlineKeyboardMarkup([[_button(one, words.serial) for one in row] for row in _rows(fit)])


def _fits(data: str) -> bool:
    return len(data.encode()) <= MOST_DATA_BYTES


def _rows(buttons: tuple[Button, ...]) -> Iterator[tuple[Button, ...]]:
    for first in range(0, len(buttons), _A_ROW):
        yield buttons[first : first + _A_ROW]


def _button(button: Button, serial: int) -> InlineKeyboardButton:
    return InlineKeyboardButton(button.label, callback_data=button_data(button.word, serial))
