"""Names from the tour file, made fit for a line: clean, short, still told apart."""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field

ELLIPSIS = "\u2026"
_SHORTEST = 3  # below this a shortened name says nothing


def clean(text: str) -> str:
    """Return the text on one line, without control and direction-switching characters."""
    kept = (
        " " if unicodedata.category(char) in ("Cc", "Cs", "Zl", "Zp") else char
        for char in text
        if unicodedata.bidirectional(char) not in _DIRECTION_SWITCHES
    )
    return " ".join("".join(kept).split())


_DIRECTION_SWITCHES = frozenset(
    ("LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI")
)  # Unicode Annex 9: they would turn the rest of the line round


def shorten(text: str, width: int) -> str:
    """Return the text in at most `width` characters, cut between words where it has any.

    Examples
    --------
    >>> shorten("Old Military Road over the hill", 20)
    'Old Military Road\u2026'
    """
    text = clean(text)
    if len(text) <= width:
        return text
    room = max(width - len(ELLIPSIS), _SHORTEST)
    between_words = text[: room + 1].rfind(" ")
    cut = between_words if between_words >= room // 2 else room
    while cut > 1 and unicodedata.combining(text[cut]):  # never part a letter from its accent
        cut -= 1
    return _without_loose_end(text[:cut]) + ELLIPSIS


# Words that lead on to the next: a name must not end in one. English and, from memory, the common
# ones of other tongues found on maps.
# fmt: off
_LEADING_ON = frozenset((
    "a", "an", "and", "at", "below", "beyond", "by", "for", "from", "in", "near", "of", "off",
    "on", "or", "over", "past", "round", "the", "to", "under", "up", "via", "with", "st", "mt",
    "n", "s", "e", "w", "au", "aux", "d", "da", "de", "del", "della", "den", "der", "des", "di",
    "do", "dos", "du", "el", "im", "l", "la", "las", "le", "les", "los", "na", "nad", "och", "og",
    "und", "van", "vom", "von", "y",
))
# fmt: on


def _without_loose_end(text: str) -> str:
    kept = text.rstrip(_LOOSE)
    while " " in kept and kept.rsplit(" ", 1)[1].strip(_LOOSE).casefold() in _LEADING_ON:
        kept = kept.rsplit(" ", 1)[0].rstrip(_LOOSE)
    return kept


_LOOSE = " ,;:-/(&"


def first_words(text: str, width: int, mark: str = ELLIPSIS) -> str:
    """Return the first words of a name in at most `width` characters, whole where that can be.

    Riders call a road by its first words, so dropping the last ones needs no mark; a name cut
    inside a phrase ("Coast of ...") or a word gets one.

    Examples
    --------
    >>> first_words("Ternhold Head loop", 14)
    'Ternhold Head'
    >>> first_words("Forest of Ash", 11)
    'Forest\u2026'
    """
    return _first_words(clean(text), width, mark)[0]


def _first_words(text: str, width: int, mark: str) -> tuple[str, bool]:
    """Return the first words, and whether a phrase or a word had to be broken for them."""
    if len(text) <= width:
        return text, False
    words = text.split(" ")
    for count in range(len(words) - 1, 0, -1):
        kept = _without_loose_end(" ".join(words[:count]))
        if len(kept) < _SHORTEST or kept.casefold() in _LEADING_ON:
            break
        broken = len(kept.split(" ")) < count or words[count].casefold() in _LEADING_ON
        told = kept + (mark.rstrip() if broken else "")
        if len(told) <= width:
            return told, broken
    return shorten(text, width).replace(ELLIPSIS, mark).rstrip(), True


@dataclass(frozen=True)
class Names:
    """The names a briefing speaks of, shortened so that two different ones stay different.

    Parameters
    ----------
    full : mapping of id to name
    mark : str
        Stands where a name was cut; a blank for reading aloud.
    """

    full: Mapping[str, str]
    mark: str = ELLIPSIS
    _memory: dict[int, Mapping[str, str]] = field(default_factory=dict, repr=False, compare=False)

    def __call__(self, key: str, width: int = 60) -> str:
        """Return the name of that id in at most about `width` characters; the id if unknown.

        A few characters more are taken where that keeps a name whole or apart from another.
        """
        if key not in self.full:
            return first_words(key.replace("_", " "), width, self.mark)
        if width not in self._memory:
            self._memory[width] = self._told_apart(width)
        return self._memory[width][key]

    def _told_apart(self, width: int) -> Mapping[str, str]:
        whole = {key: clean(name) for key, name in self.full.items()}
        short = {key: self._plain(key, width, whole) for key in whole}
        short |= {
            key: _keep_both_ends(whole[key], width, self.mark) for key in _doubled(short, whole)
        }
        doubled = _doubled(short, whole)
        return short | {
            key: f"{short[key].rstrip(self.mark)}{self.mark}{n}" for n, key in enumerate(doubled, 1)
        }

    def _plain(self, key: str, width: int, whole: Mapping[str, str]) -> str:
        """Return the first words, as many more as no other name begins with if there is room."""
        others = [name.casefold() for name in whole.values() if name != whole[key]]
        apart: list[str] = []
        for room in range(width, width + _ROOM_FOR_CLARITY + 1):
            told, broken = _first_words(whole[key], room, self.mark)
            begun = told.rstrip(self.mark).casefold()
            if told == whole[key] or not any(name.startswith(begun) for name in others):
                apart.append(told)
                if not broken:
                    return told
        return apart[0] if apart else first_words(whole[key], width, self.mark)


_ROOM_FOR_CLARITY = 8  # characters beyond the width asked for


def _keep_both_ends(text: str, width: int, mark: str) -> str:
    last = text.rsplit(" ", 1)[-1]
    tail = last[-max(width - _SHORTEST - 1 - len(mark), 1) :]
    head = first_words(text[: -len(tail)], max(width - len(tail) - len(mark), _SHORTEST), mark)
    return f"{head.rstrip(mark)}{mark}{tail}" if head else tail


def _doubled(short: Mapping[str, str], full: Mapping[str, str]) -> tuple[str, ...]:
    owners: dict[str, set[str]] = {}
    for key, text in short.items():
        owners.setdefault(text, set()).add(full[key])
    return tuple(key for key, text in short.items() if len(owners[text]) > 1)


_WORD = re.compile(r"[^\W\d_]+(?:'[^\W\d_]+)*|\d+")


def pronounceable(text: str) -> str:
    """Return the words and numbers of a name, without signs, for reading aloud."""
    return " ".join(_WORD.findall(clean(text)))
