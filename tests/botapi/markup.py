"""Text and keyboards, checked as the service checks them (sources: see facts.py)."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from tests.botapi import facts
from tests.botapi.facts import Refusal, bad_request, from_json

Entity = dict[str, Any]

# PAGE, HTML style: the tags and the named references that there are.
TAGS = {
    "b": "bold",
    "strong": "bold",
    "i": "italic",
    "em": "italic",
    "u": "underline",
    "ins": "underline",
    "s": "strikethrough",
    "strike": "strikethrough",
    "del": "strikethrough",
    "tg-spoiler": "spoiler",
    "span": "spoiler",
    "tg-emoji": "custom_emoji",
    "a": "text_link",
    "code": "code",
    "pre": "pre",
    "blockquote": "blockquote",
}
NAMED = {"lt": "<", "gt": ">", "amp": "&", "quot": '"'}

REFERENCE = re.compile(r"&(?:([a-z]+)|#([0-9]{1,7})|#x([0-9a-fA-F]{1,6}));")
START_NAME = re.compile(r"<([^\s>]*)")
ATTRIBUTE = re.compile(r"""\s+([^\s=>]+)\s*=\s*("[^"]*"|'[^']*'|[A-Za-z0-9.\-]+)""")
EXPANDABLE = re.compile(r"\s+expandable(?=[\s>])")
TAG_END = re.compile(r"\s*>")
END = re.compile(r"</([^\s>]*)\s*>")


@dataclass(frozen=True)
class Parsed:
    """A text as people see it, with its entities; offsets in UTF-16 units."""

    text: str
    entities: list[Entity]


def units(text: str) -> int:
    """Return how many UTF-16 units a text has."""
    return len(text.encode("utf-16-le", "surrogatepass")) // 2


def parse_text(args: dict[str, str], *, field: str, entities_field: str) -> Parsed:
    """Return a call's text after parsing, trimmed as the service trims it."""
    source = args.get(field, "")
    if len(source.encode()) > facts.RAW_TEXT_BYTES:
        raise bad_request(facts.RAW_TEXT_LONG)
    mode = args.get("parse_mode", "").lower()
    if mode == "html":
        return _trimmed(_Html(source).parsed())
    if mode:  # MarkdownV2 and Markdown exist; the project does not use them
        raise bad_request("unsupported parse_mode")
    return _trimmed(Parsed(source, from_json(args.get(entities_field) or "[]", "entities")))


def _trimmed(parsed: Parsed) -> Parsed:
    lost = units(parsed.text) - units(parsed.text.lstrip())
    text = parsed.text.strip()
    entities = []
    for entity in parsed.entities:
        start = max(entity["offset"] - lost, 0)
        stop = min(entity["offset"] - lost + entity["length"], units(text))
        if stop > start:
            entities.append(entity | {"offset": start, "length": stop - start})
    return Parsed(text, entities)


class _Html:
    """One pass over a text in HTML style.

    STRICTER than the real server in one point: the documentation demands that every ``&`` that is
    no reference be replaced; the real server shows such a one as it is, this one refuses it,
    because it means that somebody forgot to escape.
    """

    def __init__(self, source: str) -> None:
        self.source = source
        self.at = 0
        self.out: list[str] = []
        self.units = 0
        self.open: list[tuple[str, dict[str, str], int]] = []
        self.entities: list[Entity] = []

    def parsed(self) -> Parsed:
        steps: dict[str, Callable[[], None]] = {"&": self._reference, "<": self._tag}
        while self.at < len(self.source):
            steps.get(self.source[self.at], self._plain)()
        if self.open:
            raise _unparsed(f'Can\'t find end tag corresponding to start tag "{self.open[-1][0]}"')
        self.entities.sort(key=lambda entity: (entity["offset"], -entity["length"]))
        return Parsed("".join(self.out), self.entities)

    def _plain(self) -> None:
        self._put(self.source[self.at])
        self.at += 1

    def _put(self, text: str) -> None:
        self.out.append(text)
        self.units += units(text)

    def _where(self) -> str:
        return f"at byte offset {len(self.source[: self.at].encode())}"

    def _reference(self) -> None:
        found = REFERENCE.match(self.source, self.at)
        shown = _referred(found) if found else ""
        if found is None or not shown:
            raise _unparsed(f"Character '&' must be escaped {self._where()}")
        self._put(shown)
        self.at = found.end()

    def _tag(self) -> None:
        if self.source.startswith("</", self.at):
            self._end_tag()
        else:
            self._start_tag()

    def _start_tag(self) -> None:
        found = START_NAME.match(self.source, self.at)
        assert found is not None
        name = found[1].lower()
        if found.end() == len(self.source):
            raise _unparsed(f"Unclosed start tag {self._where()}")
        if name not in TAGS:
            raise _unparsed(f'Unsupported start tag "{name}" {self._where()}')
        attributes, stop = self._attributes(name, found.end())
        if name == "span" and attributes.get("class") != "tg-spoiler":
            raise _unparsed(f'Tag "span" must have class "tg-spoiler" {self._where()}')
        self.open.append((name, attributes, self.units))
        self.at = stop

    def _attributes(self, name: str, at: int) -> tuple[dict[str, str], int]:
        attributes: dict[str, str] = {}
        if name == "blockquote" and (found := EXPANDABLE.match(self.source, at)):
            attributes["expandable"] = ""
            at = found.end()
        while found := ATTRIBUTE.match(self.source, at):
            value = found[2].strip("\"'")
            attributes[found[1]] = REFERENCE.sub(lambda m: _referred(m) or m[0], value)
            at = found.end()
        found = TAG_END.match(self.source, at)
        if found is None:
            raise _unparsed(
                "Expected equal sign in declaration of an attribute of the tag"
                f' "{name}" {self._where()}'
            )
        return attributes, found.end()

    def _end_tag(self) -> None:
        if not self.open:
            raise _unparsed(f"Unexpected end tag {self._where()}")
        found = END.match(self.source, self.at)
        if found is None:
            raise _unparsed(f"Unclosed end tag {self._where()}")
        name, attributes, start = self.open.pop()
        given = found[1].lower()
        if given and given != name:
            raise _unparsed(
                f'Unmatched end tag {self._where()}, expected "</{name}>", found "</{given}>"'
            )
        self._close(name, attributes, start)
        self.at = found.end()

    def _close(self, name: str, attributes: dict[str, str], start: int) -> None:
        if self.units == start:
            return
        entity: Entity = {"type": TAGS[name], "offset": start, "length": self.units - start}
        if name == "a":
            if not re.match(r"(?:https?://|tg://|[\w-]+\.\w)", attributes.get("href", "")):
                return  # a link that leads nowhere is dropped, its text stays
            entity["url"] = attributes["href"]
        elif name == "tg-emoji":
            entity["custom_emoji_id"] = attributes.get("emoji-id", "")
        elif name == "blockquote" and "expandable" in attributes:
            entity["type"] = "expandable_blockquote"
        self.entities.append(entity)


def _referred(found: re.Match[str]) -> str:
    """Return the character of a reference, or an empty text where there is none."""
    if found[1] is not None:
        return NAMED.get(found[1], "")
    code = int(found[2]) if found[2] is not None else int(found[3], 16)
    return chr(code) if 0 < code < 0x10FFFF else ""


def _unparsed(sentence: str) -> Refusal:
    return bad_request(f"can't parse entities: {sentence}")


def parse_markup(args: dict[str, str]) -> dict[str, Any] | None:
    """Return a call's keyboard, None without one; refuse what the service refuses."""
    given = args.get("reply_markup")
    if not given:
        return None
    markup = from_json(given, "reply keyboard markup")
    if not isinstance(markup, dict):
        raise bad_request("object expected as reply markup")
    if "inline_keyboard" in markup:
        _check_inline(markup["inline_keyboard"])
        return markup if markup["inline_keyboard"] else None
    if not {"keyboard", "remove_keyboard", "force_reply"} & markup.keys():
        raise bad_request("object expected as reply markup")
    return markup


def _check_inline(rows: Any) -> None:
    if not isinstance(rows, list) or not all(isinstance(row, list) for row in rows):
        raise bad_request(facts.ROWS_WRONG)
    buttons = [button for row in rows for button in row]
    for button in buttons:
        _check_button(button)
    if len(buttons) > facts.INLINE_BUTTONS:
        raise bad_request(facts.MARKUP_LONG)


def _check_button(button: Any) -> None:
    if not isinstance(button, dict):
        raise _wrong_button("InlineKeyboardButton must be an Object")
    if not isinstance(button.get("text"), str):
        raise _wrong_button('Can\'t find field "text"')
    if not button["text"].strip():
        raise bad_request("inline keyboard button text must be non-empty")
    if button.get("url"):
        return
    data = button.get("callback_data")
    if not data:
        raise _wrong_button("Text buttons are unallowed in the inline keyboard")
    if not isinstance(data, str):
        raise _wrong_button('Field "callback_data" must be of type String')
    if len(data.encode()) > facts.CALLBACK_DATA_BYTES:
        raise bad_request(facts.BUTTON_DATA)


def _wrong_button(sentence: str) -> Refusal:
    return bad_request(f"can't parse inline keyboard button: {sentence}")
