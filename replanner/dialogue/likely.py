"""What a line that is none of the phrases most likely means: a guess, told as a line that is sure.

The words of the line are weighed against those of each phrase, in any order and by family
(`families`): a word that few topics use weighs more. What a guess would change is asked about
first (`intents`), so that here it may be guessed; a line that negates or limits is not guessed at.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from math import log

from replanner.dialogue.families import FAMILY_OF
from replanner.dialogue.matching import Part, Phrase, phrases, vocabulary
from replanner.dialogue.mentions import Mention, Said
from replanner.dialogue.phrases import SMALL
from replanner.dialogue.topics import Topic

# How alike a line and a phrase must be, and how much more than with any other topic, to be guessed
# at. Our choice, tried on the worked half of the table of phrasings.
_ALIKE = 0.5
_CLEARLY = 0.1
_MOST_GUESSES = 2
# The weight of a slot and of a word that is in no phrase, in the unit of `_weight`.
_SLOT = 3.0
_UNKNOWN = 1.2
# How much a word counts that is in another phrase of the topic.
_ELSEWHERE = 0.7
_NEGATING = frozenset(
    {"not", "never", "nobody", "unless", "except", "only", "but", "without", "dont", "wont"}
)
_SUFFIXES = ("ing", "ed", "ly", "es", "s", "er")
_SHORTEST_STEM = 3
# Neither an agreement nor a full tank is guessed at: "fuel" is nearly always asked for.
_NO_GUESS = frozenset({Topic.YES, Topic.ACCEPT, Topic.FILLED})
# An agreement is said with few other words: "the soup was great" is none.
_SAID_ALONE = frozenset({Topic.OK, Topic.NO})
_AGREEING = (Topic.YES, Topic.OK, Topic.ACCEPT)
_SURELY_ALIKE = 0.9


@dataclass(frozen=True, slots=True)
class Guess:
    """A topic, what fills its slots, and how alike the line is to one of its phrases (0 to 1)."""

    topic: Topic
    slots: Mapping[str, tuple[Mention, ...]]
    alike: float


def guesses(said: Said) -> tuple[Guess, ...]:
    """Return what a line may mean: one guess, two that are near each other, or none."""
    best: dict[Topic, Guess] = {}
    concepts = tuple((word, _concepts(word)) for word in said.words)
    for bag in (*_bags_for(frozenset().union(*(found for _, found in concepts))), *_NAMING):
        if bag.negating != bool(_NEGATING & set(said.words)):
            continue
        guess = _compared(bag, concepts, said)
        if guess and guess.topic in _SAID_ALONE and guess.alike < _SURELY_ALIKE:
            continue
        if guess and guess.alike > best.get(guess.topic, _NONE).alike:
            best[guess.topic] = guess
    ranked = sorted(best.values(), key=lambda guess: -guess.alike)
    if not ranked or ranked[0].alike < _ALIKE:
        return ()
    near = [guess for guess in ranked if ranked[0].alike - guess.alike < _CLEARLY]
    return tuple(near[:_MOST_GUESSES])


_NONE = Guess(Topic.HELP, {}, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Bag:
    """A phrase as the words it holds, in no order."""

    topic: Topic
    needed: tuple[frozenset[str], ...]
    possible: frozenset[str]
    slots: tuple[str, ...]
    weight: float
    negating: bool


# What is meant where little more is said than a leg and a day, a time or a speed.
_NAMING = tuple(
    _Bag(
        topic=topic,
        needed=(),
        possible=frozenset(),
        slots=slots,
        weight=_SLOT * len(slots),
        negating=False,
    )
    for topic, slots in (
        (Topic.SWAP_DAY, ("leg", "day")),
        (Topic.IN_ORDER, ("leg", "other")),
        (Topic.LEAVE_AT, ("time",)),
        (Topic.LIMIT, ("speed",)),
    )
)


def _compared(bag: _Bag, words: Sequence[tuple[str, frozenset[str]]], said: Said) -> Guess | None:
    """Return how alike a line is to a phrase, None where a slot stays empty."""
    slots = said.filling(bag.slots)
    if slots is None:
        return None
    typed = frozenset().union(*(found for _, found in words))
    in_phrase = sum(_weight(part) for part in bag.needed if part & typed)
    if not in_phrase and bag.needed:
        return None
    in_phrase += _SLOT * len(bag.slots)
    in_line = sum(
        _weight_of(found) * (1.0 if found & bag.possible else _ELSEWHERE)
        for _, found in words
        if found & (bag.possible | _of_topic(bag.topic))
    )
    of_line = sum(_weight_of(found) for _, found in words)
    used = {mention for mentions in slots.values() for mention in mentions}
    in_line += _SLOT * sum(1 for mention in used)
    of_line += _SLOT * sum(1 for mention in {*used, *said.telling})
    recall, precision = in_phrase / bag.weight, in_line / max(of_line, in_line)
    return Guess(bag.topic, slots, 2 * recall * precision / (recall + precision))


@lru_cache(maxsize=4_000)
def _concepts(word: str) -> frozenset[str]:
    """Return what a word may stand for: its families, and its stem."""
    if word in SMALL:
        return frozenset()
    stem = _stem(word)
    return FAMILY_OF.get(word, frozenset()) | FAMILY_OF.get(stem, frozenset()) | {stem}


def _stem(word: str) -> str:
    for suffix in _SUFFIXES:
        if word.endswith(suffix) and len(word) - len(suffix) >= _SHORTEST_STEM:
            stem = word.removesuffix(suffix)
            return stem[:-1] if stem[-1] == stem[-2] else stem
    return word


@cache
def _bags() -> tuple[_Bag, ...]:
    return tuple(bag for phrase in phrases() if (bag := _bag(phrase)) is not None)


def _bag(phrase: Phrase) -> _Bag | None:
    words = [part for part in phrase.parts if not part.slot]
    told = [(part, frozenset().union(*map(_concepts, part.choices))) for part in words]
    needed = tuple(found for part, found in told if found and not part.optional)
    slots = tuple(part.slot for part in phrase.parts if part.slot)
    if not needed or "remark" in slots or phrase.topic in _NO_GUESS:
        return None
    if phrase.topic not in _SAID_ALONE and _only_agrees(words, slots):
        return None
    return _Bag(
        topic=phrase.topic,
        needed=needed,
        possible=frozenset().union(*(found for _, found in told)),
        slots=slots,
        weight=sum(map(_weight, needed)) + _SLOT * len(slots),
        negating=any(_NEGATING & part.choices for part in words),
    )


def _only_agrees(words: Sequence[Part], slots: tuple[str, ...]) -> bool:
    """Tell whether a phrase has no telling word that is not by itself an agreement.

    "Got in ok" is the end of a day by its small words, which a guess does not weigh: by the other
    "ok lads" would be taken for it, and a yes to that would close the day.
    """
    telling = [part for part in words if not part.optional and part.choices - SMALL]
    return not slots and all(part.choices & _agreements() for part in telling)


@cache
def _agreements() -> frozenset[str]:
    """Return the words that agree by themselves."""
    bare = [one.parts[0] for one in phrases() if one.topic in _AGREEING and len(one.parts) == 1]
    return frozenset(word for part in bare for word in part.choices)


@cache
def _index() -> Mapping[str, tuple[_Bag, ...]]:
    index: dict[str, list[_Bag]] = {}
    for bag in _bags():
        for concept in frozenset().union(*bag.needed):
            index.setdefault(concept, []).append(bag)
    return {concept: tuple(bags) for concept, bags in index.items()}


def _bags_for(concepts: frozenset[str]) -> Iterator[_Bag]:
    yield from dict.fromkeys(bag for word in sorted(concepts) for bag in _index().get(word, ()))


@cache
def _topics_of() -> Mapping[str, int]:
    """Return in how many topics each concept is used."""
    topics: dict[str, set[Topic]] = {}
    for phrase in phrases():
        for part in phrase.parts:
            for word in part.choices:
                for concept in _concepts(word):
                    topics.setdefault(concept, set()).add(phrase.topic)
    return {concept: len(used) for concept, used in topics.items()}


@lru_cache(maxsize=200)
def _of_topic(topic: Topic) -> frozenset[str]:
    """Return what the phrases of a topic are made of."""
    return frozenset(concept for bag in _bags() if bag.topic is topic for concept in bag.possible)


@lru_cache(maxsize=8_000)
def _weight(concepts: frozenset[str]) -> float:
    """Return the weight of a word: that of its concept that the fewest topics use."""
    used = [n for concept in concepts if (n := _topics_of().get(concept))]
    return log(1 + len(Topic) / min(used)) if used else _UNKNOWN


def _weight_of(concepts: frozenset[str]) -> float:
    return _weight(concepts) if concepts else 0.0


def known() -> frozenset[str]:
    """Return every word that a guess knows."""
    return vocabulary() | frozenset(FAMILY_OF)
