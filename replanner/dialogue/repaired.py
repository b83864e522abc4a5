"""Words run together, or mistyped, put right where what was meant is plain."""

import re
from collections.abc import Collection, Sequence
from functools import lru_cache

from replanner.dialogue.names import one_slip

_SHORTEST_PART = 2
_SHORTEST_JOINED = 5  # "soup" is not "so up"
_SHORTEST_SLIP = 4
_SHORTEST_SMALL = 3
_ALONE = frozenset({"a", "i"})
_LETTERS_FIGURES = re.compile(r"([a-z]{2,})(\d{1,4}(?::\d\d)?[a-z]{0,3})")


def parted(words: Sequence[str], known: Collection[str]) -> tuple[str, ...]:
    """Return the words, each that is none split where it is two that are known.

    Parameters
    ----------
    words : sequence of str
    known : collection of str
        Every word that may be meant.
    """
    return tuple(part for word in words for part in _parted(word, known))


def _parted(word: str, known: Collection[str]) -> tuple[str, ...]:
    if word in known or word.isdecimal():
        return (word,)
    figures = _LETTERS_FIGURES.fullmatch(word)
    if figures and figures.group(1) in known:
        return figures.group(1), figures.group(2)
    cuts = [
        (word[:cut], word[cut:])
        for cut in range(1, len(word))
        if _is_word(word[:cut], known)
        and _is_word(word[cut:], known)
        and len(word) >= _SHORTEST_JOINED
    ]
    # Two long words rather than a long and a short one: "in quern", not "inq uern".
    return max(cuts, key=lambda cut: min(map(len, cut)), default=(word,))


def _is_word(part: str, known: Collection[str]) -> bool:
    if part.isdecimal():
        return True
    return part in known and (len(part) >= _SHORTEST_PART or part in _ALONE)


def put_right(
    words: Sequence[str], known: frozenset[str], names: frozenset[str], small: frozenset[str]
) -> tuple[str, ...]:
    """Return the words, each that is none replaced by the nearest known word a slip away from it.

    Parameters
    ----------
    words : sequence of str
    known : frozenset of str
        Every word that may be meant.
    names : frozenset of str
        Those of them that names are made of: they are meant before others.
    small : frozenset of str
        Words that mean little by themselves: a short word may be mistyped from these only.
    """
    return tuple(_put_right(word, known, names, small) for word in words)


@lru_cache(maxsize=4_000)
def _put_right(
    word: str, known: frozenset[str], names: frozenset[str], small: frozenset[str]
) -> str:
    if word in known or len(word) < _SHORTEST_SMALL or any(sign.isdigit() for sign in word):
        return word
    may_be = known if len(word) >= _SHORTEST_SLIP else small
    near = [meant for meant in may_be if _is_near(word, meant)]
    return min(
        near,
        key=lambda meant: (
            meant not in names,
            abs(len(meant) - len(word)),
            meant[0] != word[0],
            meant,
        ),
        default=word,
    )


def _is_near(word: str, meant: str) -> bool:
    if len(meant) < _SHORTEST_PART or not one_slip(word, meant):
        return False
    if len(word) >= _SHORTEST_SLIP or len(word) == len(meant):
        return True
    return any(word == meant[:at] + meant[at - 1] + meant[at:] for at in range(1, len(meant) + 1))
