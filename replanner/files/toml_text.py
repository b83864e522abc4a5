"""A TOML file read with every way it can be unreadable told in one line, and lines found again."""

import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from replanner.errors import InputError
from replanner.files.raw import read_raw

KeyPath = tuple[str | int, ...]

# A key of many parts is read in a time that grows with their square.
_MOST_PARTS = 32
_DEEP_KEY = re.compile(
    r"""(?<![\w.-])(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){%d}""" % _MOST_PARTS  # noqa: UP031 - braces stand in it
)


@dataclass(frozen=True, slots=True)
class TomlText:
    """What a TOML file holds.

    Parameters
    ----------
    name : str
        The file's name as told to the rider.
    table : dict
        Its content as plain dicts, lists and values.
    lines : mapping of key path to int
        The line on which each table and key begins, counted from 1.
    """

    name: str
    table: dict[str, Any]
    lines: dict[KeyPath, int]

    def where(self, path: KeyPath) -> str:
        """Return file, line and key path of a place in the file, as exact as is known."""
        line = next(
            (self.lines[path[:n]] for n in range(len(path), 0, -1) if path[:n] in self.lines), None
        )
        parts = [self.name, f"line {line}" if line else "", path_text(path)]
        return ", ".join(part for part in parts if part)


def path_text(path: KeyPath) -> str:
    """Return a key path as the rider would say it; list items count from 1.

    Examples
    --------
    >>> path_text(("legs", "hask", "sections", 0, "name"))
    'legs.hask.sections[1].name'
    """
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}"
    return text.removeprefix(".")


def read_toml(path: Path) -> TomlText:
    """Read a TOML file.

    Raises
    ------
    InputError
        If it cannot be opened, is too large, empty, not UTF-8, or not TOML (with the line).
    """
    return parse_toml(read_raw(path, mend="name a TOML text file"), str(path))


def parse_toml(raw: bytes, name: str) -> TomlText:
    """Parse the bytes of a TOML file; raises InputError as `read_toml` does."""
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise InputError(
            "the file is not UTF-8 text",
            where=f"{name}, line {line}",
            mend="save it as UTF-8 in your editor",
        ) from error
    deep = _DEEP_KEY.search(text)
    if deep is not None:
        raise InputError(
            f"a key has more than {_MOST_PARTS} parts",
            where=f"{name}, line {text.count(chr(10), 0, deep.start()) + 1}",
            mend="a tour file has no such key",
        )
    if not text.strip():
        raise InputError("the file is empty", where=name, mend="start from demo/tour.toml")
    try:
        table = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise InputError(
            f"this is not TOML: {error}",
            where=name,
            mend="look at that line and the one above: quotes, brackets, a key given twice",
        ) from error
    except ValueError as error:  # e.g. the date 2027-02-30, or a number of thousands of digits
        raise InputError(
            f"this is not TOML: {error}", where=name, mend="look for an impossible date or number"
        ) from error
    return TomlText(name, table, find_lines(text))


def find_lines(text: str) -> dict[KeyPath, int]:
    """Return the line on which each table and key of a sound TOML text begins.

    The text is cut into its shortest pieces that are TOML by themselves: a header, or a key with
    its value, however many lines that takes.
    """
    lines = text.replace("\r\n", "\n").split("\n")
    found: dict[KeyPath, int] = {}
    counts: dict[KeyPath, int] = {}
    header: KeyPath = ()
    row, budget = 0, _READ_AGAIN * len(text) + _READ_AT_LEAST
    while row < len(lines):
        piece, length, read = _piece(lines, row, budget)
        budget -= read
        if lines[row].lstrip().startswith("["):
            header = _header(piece, found, counts, row + 1)
        else:
            _note(piece, header, found, row + 1)
        row += length
    return found


# How much of a text is read again to find its lines: a file made to be slow is told without them.
_READ_AGAIN, _READ_AT_LEAST = 3, 200_000
_PAIRS = ("[]", "{}")
_LONG_QUOTES = ('"""', "'''")


def _piece(lines: list[str], row: int, budget: int) -> tuple[dict[str, Any], int, int]:
    """Return the piece that begins on a row, its lines, and how much was read for it.

    Only where brackets and long quotes seem to close is it read; where it never does, or takes
    more than the budget, all the rest is passed over.
    """
    read = 0
    open_pairs, open_quotes = dict.fromkeys(_PAIRS, 0), dict.fromkeys(_LONG_QUOTES, 0)
    for end in range(row + 1, len(lines) + 1):
        last = lines[end - 1]
        for pair in _PAIRS:
            open_pairs[pair] += last.count(pair[0]) - last.count(pair[1])
        for quote in _LONG_QUOTES:
            open_quotes[quote] += last.count(quote)
        if any(open_pairs.values()) or any(count % 2 for count in open_quotes.values()):
            continue
        text = "\n".join(lines[row:end])
        read += len(text)
        if read > budget:
            break
        try:
            return tomllib.loads(text), end - row, read
        except ValueError:
            continue
    return {}, len(lines) - row, read


def _header(
    piece: dict[str, Any], found: dict[KeyPath, int], counts: dict[KeyPath, int], line: int
) -> KeyPath:
    """Return the full path of a header; list tables get the number of their last item."""
    path: KeyPath = ()
    inner: Any = piece
    while isinstance(inner, dict) and inner:
        key, inner = next(iter(inner.items()))
        path = (*path, key)
        if isinstance(inner, list):
            counts[path] = counts.get(path, -1) + 1
            inner = inner[0]
        if path in counts:
            found.setdefault(path, line)
            path = (*path, counts[path])
    found.setdefault(path, line)
    return path


def _note(value: Any, path: KeyPath, found: dict[KeyPath, int], line: int) -> None:
    if path:
        found.setdefault(path, line)
    if isinstance(value, dict):
        for key, inner in value.items():
            _note(inner, (*path, key), found, line)
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            _note(inner, (*path, index), found, line)
