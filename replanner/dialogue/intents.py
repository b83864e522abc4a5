"""From a typed line to what it means; pure, and never by guess where a plan would change.

A line is tried as one of the phrases (`by_phrase`), then again with words parted that were run
together. What is none is weighed (`likely`): a guess that only asks is answered, every other one
is asked about first, as the line that says it without doubt.
"""

from collections.abc import Mapping
from functools import lru_cache

from replanner.dialogue.by_phrase import Hearing, by_phrase
from replanner.dialogue.intent_types import (
    Intent,
    NotUnderstood,
    Option,
    ToDay,
    UnknownDay,
    UnknownName,
    Which,
    topic_of,
)
from replanner.dialogue.likely import Guess, guesses, known
from replanner.dialogue.matching import without_noise, without_opener
from replanner.dialogue.mentions import WORDS_OF_MENTIONS, Mention, said_in
from replanner.dialogue.names import find_name, words_of
from replanner.dialogue.nearest import nearest
from replanner.dialogue.phrases import ASKING, NOISE, SMALL
from replanner.dialogue.repaired import parted, put_right
from replanner.dialogue.road_intent import RoadWord
from replanner.dialogue.sure_lines import sure_line
from replanner.dialogue.times import nearly_a_day
from replanner.dialogue.topics import Topic
from replanner.trip.model import LegKind

__all__ = ["Hearing", "understand"]

# Topics that only ask: a guess at them is answered, nothing changes by it.
_ONLY_ASK = frozenset(
    {
        Topic.EMERGENCY,
        Topic.HELP,
        Topic.COMMANDS,
        Topic.PLAN_B,
        Topic.IS_OPEN,
        Topic.WHY,
        Topic.WHY_LEG,
        Topic.WEATHER_LEG,
        Topic.READ,
        Topic.SPEAK,
        Topic.CAUTIONS,
        Topic.FORECAST,
        Topic.HOW_SURE,
        Topic.OWN_ORDER,
        Topic.SPARE,
        Topic.TURN_BACK,
        Topic.TONIGHT,
        Topic.PICTURE,
        Topic.TRACK,
        Topic.NEXT_BOAT,
        Topic.FUEL,
        Topic.DRONE,
        Topic.ERASE,  # asks for a yes by itself
    }
)
_AGREEING = frozenset({Topic.YES, Topic.OK, Topic.ACCEPT})
_SUPPOSING = frozenset(
    {"if", "would", "could", "can", "should", "shall", "may", "might", "possible"}
)
# How alike a line must be to a question that it is answered at once. Our choice, as in `likely`.
_ALIKE_ENOUGH = 0.7
_SHORT = 3  # letters: so many are soon like those of another word
_LONGEST = 16  # words: who writes more has something to say that is none of the phrases


def understand(text: str, hearing: Hearing) -> Intent:
    """Return what a line means.

    Parameters
    ----------
    text : str
        Anything at all.
    hearing : Hearing
        The tour and the plan it is said about.
    """
    intent = by_phrase(text, hearing)
    if not _lost(intent):
        return intent
    words = words_of(text)
    meant = _tried_again(text, words, intent, hearing) if 0 < len(words) <= _LONGEST else intent
    if meant == NotUnderstood(()):
        return NotUnderstood(nearest(without_noise(words)))
    return meant


def _tried_again(text: str, words: tuple[str, ...], intent: Intent, hearing: Hearing) -> Intent:
    """Return what a line means that is no phrase as it is typed; at worst `intent`."""
    names = hearing.name_words | hearing.place_words
    split = parted(words, _known(names))
    if split != words:
        again = by_phrase(" ".join(split) + ("?" if "?" in text else ""), hearing)
        if not _lost(again):
            return again
    right = put_right(split, _known(names), names, SMALL)
    if isinstance(intent, UnknownName) and _is_unknown(intent.said, _known(names), names):
        return intent
    answer = _corrected(right, text, hearing, _telling(split)) if right != split else None
    return answer or _guessed(right, hearing, asked="?" in text) or intent


def _corrected(words: tuple[str, ...], text: str, hearing: Hearing, kept: int) -> Intent | None:
    """Return what a line means with its slips put right: asked about where something changes.

    `kept` is how many words say something as typed: nobody agrees by a word that is taken for a
    short one that says nothing ("y tho" is not "y, the").
    """
    line = " ".join(words) + ("?" if "?" in text else "")
    meant = by_phrase(line, hearing)
    topic = topic_of(meant)
    if isinstance(meant, Which) or topic in _ONLY_ASK:
        return meant
    if topic is None or (topic in _AGREEING and _telling(words) < kept):
        return None
    return Which(topic, (Option(line, line),))


def _telling(words: tuple[str, ...]) -> int:
    return sum(word not in NOISE or len(word) > _SHORT for word in words)


def _lost(intent: Intent) -> bool:
    if isinstance(intent, UnknownDay):
        return not all(_of_a_day(word) for word in words_of(intent.said))
    return isinstance(intent, NotUnderstood | UnknownName)


def _of_a_day(word: str) -> bool:
    return word in WORDS_OF_MENTIONS or word[0].isdigit() or nearly_a_day(word)


def _is_unknown(said: str, known_words: frozenset[str], names: frozenset[str]) -> bool:
    """Tell whether a name that no leg has is a name, rather than words that name nothing."""
    words = put_right(words_of(said), known_words, names, SMALL)
    return any(word not in known_words and not word[0].isdigit() for word in words)


@lru_cache(maxsize=16)
def _known(names: frozenset[str]) -> frozenset[str]:
    return known() | names | WORDS_OF_MENTIONS


def _guessed(words: tuple[str, ...], hearing: Hearing, *, asked: bool) -> Intent | None:
    """Return the answer to a guess, or the question whether it is right; None: no guess."""
    supposed = without_opener(without_noise(words))
    said = said_in(supposed or words, hearing.book, hearing.today, hearing.day)
    supposing = (
        asked
        or supposed is not None
        or bool(_SUPPOSING & set(words))
        or bool(words and words[0] in ASKING)
    )
    found: list[tuple[Topic, Option, Intent]] = []
    alike = 0.0
    for guess in guesses(said):
        alike = alike or guess.alike
        line = sure_line(guess.topic, _slots(guess, hearing))
        if supposing and guess.topic not in _ONLY_ASK:
            line = f"what if {line}"
        meant = by_phrase(line, hearing)
        if _makes_no_sense(meant, hearing):
            continue
        if not _lost(meant) and meant not in [intent for _, _, intent in found]:
            found.append((guess.topic, Option(line, line), meant))
    if not found:
        return None
    topic, _, meant = found[0]
    sure = topic in _ONLY_ASK and alike >= _ALIKE_ENOUGH
    if len(found) == 1 and (sure or isinstance(meant, Which)):
        return meant
    return Which(topic, tuple(option for _, option, _ in found))


def _makes_no_sense(meant: Intent, hearing: Hearing) -> bool:
    """Tell whether nobody would say that: move to the same day, call a road a boat that is off."""
    match meant:
        case ToDay(day=day):
            return day == hearing.day
        case RoadWord(topic=Topic.BOAT, legs=(leg, *_)):
            return dict(hearing.book.kinds).get(leg) != LegKind.CROSSING
        case _:
            return False


def _slots(guess: Guess, hearing: Hearing) -> Mapping[str, str]:
    return {
        slot: " and ".join(_named(mention, hearing) for mention in mentions)
        for slot, mentions in guess.slots.items()
    }


def _named(mention: Mention, hearing: Hearing) -> str:
    """Return the whole name of the one leg that was named; else the words as typed."""
    if not mention.names_leg:
        return mention.text
    best = find_name(mention.text, dict(hearing.book.names)).best
    return hearing.book.name(best[0]) if len(best) == 1 else mention.text
