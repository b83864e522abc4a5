"""A full tank told together with what says no more: "fuelled up, all good", "off again, tank full".

"All good" by itself accepts a plan. Beside a full tank it is of the tank, so a line that tells of
one is cut down to it before it is tried as anything else.
"""

from collections.abc import Sequence
from itertools import combinations

from replanner.dialogue.matching import matches
from replanner.dialogue.topics import Topic

_SAYS_NO_MORE = frozenset({Topic.YES, Topic.OK, Topic.ACCEPT, Topic.MOVING})
# By itself "on our way" may be the way home; after a pump it says no more either.
_ON_THE_WAY = frozenset({("on", "way"), ("back", "on", "way"), ("on", "way", "again")})
_JOINING = frozenset({"and", "then", "now"})
_MOST_WORDS = 10  # who writes more may say more


def tank_alone(words: Sequence[str], names: frozenset[str]) -> tuple[str, ...]:
    """Return the words of a line that tell of a full tank if all others say no more; else all.

    Parameters
    ----------
    words : sequence of str
        The line, without noise.
    names : frozenset of str
        Words that names of the tour are made of.
    """
    words = tuple(words)
    if len(words) > _MOST_WORDS:
        return words
    places = range(len(words) + 1)
    for begin, end in combinations(places, 2):
        full = words[begin:end]
        if not _is_full(full, names):
            continue
        others = (words[:begin], _begun(words[end:]))
        if all(not other or _says_no_more(other, names) for other in others):
            return full
    return words


def _begun(words: tuple[str, ...]) -> tuple[str, ...]:
    return words[1:] if len(words) > 1 and words[0] in _JOINING else words


def _is_full(words: tuple[str, ...], names: frozenset[str]) -> bool:
    return any(match.topic is Topic.FILLED for match in matches(words, names)[:1])


def _says_no_more(words: tuple[str, ...], names: frozenset[str]) -> bool:
    """Tell whether words only agree or go on, once or several times over."""
    if words in _ON_THE_WAY:
        return True
    if any(match.topic in _SAYS_NO_MORE and not match.slots for match in matches(words, names)):
        return True
    cuts = range(1, len(words))
    return any(
        _says_no_more(words[:cut], names) and _says_no_more(_begun(words[cut:]), names)
        for cut in cuts
    )
