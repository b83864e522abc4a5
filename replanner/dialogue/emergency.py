"""A call for help: known by its words, answered by the number to call and the last known place."""

from collections.abc import Sequence

from replanner.dialogue import matching
from replanner.dialogue.names import one_slip, words_of
from replanner.dialogue.phrases import EMERGENCY_WORDS
from replanner.dialogue.topics import Topic

_SHORTEST_SLIP = 5
_SOS = "\N{SQUARED SOS}"


def is_call_for_help(text: str) -> bool:
    """Tell whether a line may be a call for help, whatever the tour's names are.

    Rather once too often: what it decides is that the line is looked at before all others.
    """
    words = words_of(text)
    if calls_loudly(words, frozenset()) or _SOS in text:
        return True
    found = matching.matches(matching.without_noise(words), frozenset())
    return bool(found) and found[0].topic is Topic.EMERGENCY


def calls_loudly(words: Sequence[str], names: frozenset[str]) -> bool:
    """Tell whether one of the words alone is a call for help.

    Parameters
    ----------
    names : frozenset of str
        Words of the tour's names: they call nobody.
    """
    known = matching.vocabulary()
    return any(
        word in EMERGENCY_WORDS
        or (
            word not in known
            and len(word) >= _SHORTEST_SLIP
            and any(one_slip(word, call) for call in EMERGENCY_WORDS)
        )
        for word in words
        if word not in names
    )
