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
    return text[:cut].rstrip(" ,;:-/(") + ELLIPSIS


def _keep_both_ends(text: str, width: int) -> str:
    tail = text.rsplit(" ", 1)[-1][-(width // 2) :]
    return shorten(text[: -len(tail)], max(width - len(tail), _SHORTEST + 1)) + tail


@dataclass(frozen=True)
class Names:
    """The names a briefing speaks of, shortened so that two different ones stay different."""

    full: Mapping[str, str]
    _memory: dict[int, Mapping[str, str]] = field(default_factory=dict, repr=False, compare=False)

    def __call__(self, key: str, width: int = 60) -> str:
        """Return the name of that id in at most about `width` characters; the id if unknown."""
        if key not in self.full:
            return shorten(key.replace("_", " "), width)
        if width not in self._memory:
            self._memory[width] = _told_apart(self.full, width)
        return self._memory[width][key]


def _told_apart(full: Mapping[str, str], width: int) -> Mapping[str, str]:
    short = {key: shorten(name, width) for key, name in full.items()}
    short |= {key: _keep_both_ends(clean(full[key]), width) for key in _doubled(short, full)}
    doubled = _doubled(short, full)
    return short | {
        key: f"{short[key].rstrip(ELLIPSIS)}{ELLIPSIS}{n}" for n, key in enumerate(doubled, 1)
    }


def _doubled(short: Mapping[str, str], full: Mapping[str, str]) -> tuple[str, ...]:
    owners: dict[str, set[str]] = {}
    for key, text in short.items():
        owners.setdefault(text, set()).add(clean(full[key]))
    return tuple(key for key, text in short.items() if len(owners[text]) > 1)


_WORD = re.compile(r"[^\W\d_]+(?:'[^\W\d_]+)*|\d+")


def pronounceable(text: str, words: int = 4, width: int = 28) -> tuple[str, ...]:
    """Return the first words and numbers of a name, without signs, for reading aloud."""
    taken: list[str] = []
    for word in _WORD.findall(clean(text)):
        if len(taken) == words or sum(map(len, taken)) + len(taken) + len(word) > width:
            break
        taken.append(word)
    return tuple(taken) or tuple(clean(text)[:width].split()[:1])
