"""Names as they are typed with gloves: case, accents, a slip of the finger, a word left out.

A name is either meant without doubt, or several fit and the rider is asked, or none does and the
nearest are told. Nothing here decides between two that fit equally well.
"""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import lru_cache

from replanner.dialogue.phrases import NOISE

_WORD = re.compile(r"[^\W_]+(?::\d\d)?")
_APOSTROPHES = re.compile(r"['\u2018\u2019`\u00b4]")
# 7.30, 7h30 and 7:30 are one time; 18:00 likewise.
_CLOCK = re.compile(r"\b(\d{1,2})[.h:](\d\d)(?=\D|$)")
# Written short on a phone.
_SHORT_FOR = {
    **dict.fromkeys(("tmrw", "tmr", "tmw", "tomo", "tomoz", "2moro", "2morrow"), "tomorrow"),
    **dict.fromkeys(("2nite", "tonite"), "tonight"),
    **dict.fromkeys(("cannot", "cant"), "cant"),
    "2day": "today",
    "thru": "through",
    "wanna": "want",
    "gonna": "going",
    "cos": "because",
    "coz": "because",
    "bc": "because",
}
_EMPTY_WORDS = frozenset({"of", "leg"})

# How much a word counts that fits less than exactly. Our choice, tried in tests/dialogue.
_BEGINNING = 0.9
_ONE_SLIP = 0.85
_ALIKE = 0.75
_SHORTEST_BEGINNING = 4
_SHORTEST_SLIP = 4
_MEANT = 0.7
_EQUALLY = 0.06
_COVERAGE = 0.12
_JOINED = 0.86


@dataclass(frozen=True, slots=True)
class Heard:
    """Which of the known names were meant.

    Parameters
    ----------
    best : tuple of str
        Keys of the names that fit best, all equally well; empty: none fits.
    near : tuple of str
        Keys of at most two names nearest to what was said, the nearest first.
    """

    best: tuple[str, ...]
    near: tuple[str, ...]


@lru_cache(maxsize=4_000)
def words_of(text: str) -> tuple[str, ...]:
    """Split a line into plain words: lower case, no accents, no marks, times as ``7:30``."""
    folded = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(sign for sign in folded if not unicodedata.combining(sign))
    plain = _APOSTROPHES.sub("", plain)
    words = _WORD.findall(_CLOCK.sub(r"\1:\2", plain))
    return tuple(_SHORT_FOR.get(word, word) for word in words)


def one_slip(said: str, meant: str) -> bool:
    """Tell whether one letter was missed, doubled, hit wrongly, or two changed places."""
    if said == meant:
        return True
    while said and meant and said[0] == meant[0]:
        said, meant = said[1:], meant[1:]
    while said and meant and said[-1] == meant[-1]:
        said, meant = said[:-1], meant[:-1]
    if len(said) <= 1 and len(meant) <= 1:
        return True
    return len(said) == len(meant) == 2 and said == meant[::-1]  # noqa: PLR2004 - a pair of letters


def find_name(said: str, names: Mapping[str, str]) -> Heard:
    """Find which name was meant.

    Parameters
    ----------
    said : str
        What the rider typed for the name.
    names : mapping of str to str
        Keys to names.
    """
    spoken = _telling(said)
    if not spoken:
        return Heard((), ())
    ranked = sorted(
        ((_likeness(spoken, name), key) for key, name in names.items()),
        key=lambda pair: (-pair[0], pair[1]),
    )
    best = tuple(
        key for score, key in ranked if score >= _MEANT and ranked[0][0] - score < _EQUALLY
    )
    return Heard(best, tuple(key for _, key in ranked[:2]))


# Words that say what a leg is rather than which; a crossing is told as a ferry or a boat.
KIND_WORDS: Mapping[str, str] = {
    "pass": "pass",
    "saddle": "pass",
    "loop": "loop",
    "spur": "spur",
    "ferry": "crossing",
    "boat": "crossing",
    "crossing": "crossing",
    "coast": "coast lane",
    "lane": "coast lane",
    "transit": "transit",
    "stop": "stop",
}
_ROAD_WORDS = frozenset({"road", "track"})


def only_a_kind(said: str) -> frozenset[str] | None:
    """Return the kinds of leg meant where nothing but a kind was said ("the pass"), else None."""
    words = _telling(said)
    if not words or not all(word in KIND_WORDS or word in _ROAD_WORDS for word in words):
        return None
    return frozenset(KIND_WORDS[word] for word in words if word in KIND_WORDS)


@lru_cache(maxsize=4_000)
def _telling(text: str) -> tuple[str, ...]:
    """Return the words that tell names apart; all of them where none does."""
    words = words_of(text)
    return tuple(word for word in words if word not in _EMPTY_WORDS | NOISE) or words


@lru_cache(maxsize=4_000)
def _likeness(spoken: tuple[str, ...], name: str) -> float:
    """From 0 to a little above 1: the mean fit of the words said, a bonus for a whole name."""
    written = _telling(name)
    if spoken == written:
        return 1.0 + _COVERAGE + _EQUALLY  # the whole name beats one that merely begins so
    fits = [max((_fit(word, other) for other in written), default=0.0) for word in spoken]
    used = sum(1 for other in written if any(_fit(word, other) > 0 for word in spoken))
    joined = SequenceMatcher(None, "".join(spoken), "".join(written))
    alike = joined.ratio() if joined.real_quick_ratio() >= _JOINED else 0.0
    by_letter = alike * _ONE_SLIP if alike >= _JOINED else 0.0
    likeness = max(sum(fits) / len(fits), by_letter) + _COVERAGE * used / max(len(written), 1)
    if min(fits) == 0.0 and not by_letter:
        return min(likeness, _MEANT - 0.01)  # a word that fits nothing: near, never meant
    return likeness


@lru_cache(maxsize=20_000)
def _fit(said: str, written: str) -> float:
    if said == written:
        return 1.0
    if any(sign.isdigit() for sign in said + written):
        return 0.0  # "loop 2" is never "loop 3"
    if len(said) >= _SHORTEST_BEGINNING and written.startswith(said):
        return _BEGINNING
    if min(len(said), len(written)) >= _SHORTEST_SLIP and one_slip(said, written):
        return _ONE_SLIP
    ratio = SequenceMatcher(None, said, written).ratio()
    return _ALIKE * ratio if ratio >= _ALIKE else 0.0
