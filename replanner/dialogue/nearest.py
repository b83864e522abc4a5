"""What a line that was not understood may have been about: only ever told, never acted on."""

from collections.abc import Sequence
from difflib import SequenceMatcher, get_close_matches
from functools import lru_cache
from heapq import nlargest

from replanner.dialogue.matching import words_of_topic
from replanner.dialogue.topics import EXAMPLES, Topic

_MOST_NEAR = 3
_MOST_WORDS_LOOKED_AT = 12
_ALIKE = 0.7
# Share of a line's letters that must be in words like those of one topic for it to be told as near.
# Our choice: the most that costs the worked half of the table of phrasings no right one.
_SHARE = 0.5


def nearest(words: Sequence[str]) -> tuple[Topic, ...]:
    """Return at most three topics that share words with a line, the longest words first.

    A line of which most is like nothing is near nothing: empty.
    """
    looked_at = words[:_MOST_WORDS_LOOKED_AT]
    likeness: dict[Topic, float] = {}
    for word in looked_at:
        for topic, alike in _alike(word):
            likeness[topic] = likeness.get(topic, 0.0) + alike
    enough = _SHARE * sum(map(len, looked_at))
    near = (topic for topic, alike in likeness.items() if alike >= enough)
    return tuple(nlargest(_MOST_NEAR, near, key=lambda topic: likeness[topic]))


@lru_cache(maxsize=2_000)
def _alike(word: str) -> tuple[tuple[Topic, float], ...]:
    """Return the topics that have a word like this one, with the number of letters alike."""
    found = []
    for topic in EXAMPLES:
        best = get_close_matches(word, words_of_topic(topic), 1, _ALIKE)
        if best:
            found.append((topic, SequenceMatcher(None, word, best[0]).ratio() * len(word)))
    return tuple(found)
