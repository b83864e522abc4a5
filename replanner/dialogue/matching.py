"""Whether a line is one of the phrases, forgiving slips of the finger but not of meaning.

A phrase fits only if it accounts for every word of the line. A word that means something by
itself, in a phrase or in a name of the tour, is never taken for a mistyped other word.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

from replanner.dialogue.names import one_slip, words_of
from replanner.dialogue.phrases import NOISE, PHRASES, TRIAL_OPENERS
from replanner.dialogue.topics import CHANGING, Topic

_MOST_WORDS_IN_A_SLOT = 10
# A plan is changed only by words typed more surely than a question needs to be.
_SHORTEST_MISTYPED = {False: 3, True: 4}
_SHORTEST_MISTYPED_BARE = 5
_SHORTEST_ANCHOR = 4
_SAME_HEAD = 4  # letters: "close", "closed" and "closure" are one word
_BARE = frozenset(
    {Topic.YES, Topic.OK, Topic.ACCEPT, Topic.NO, Topic.KEEP, Topic.UNDO, Topic.START_OVER}
)
_THEN = "then"
_NAME_SLOTS = ("leg", "legs", "other")
_PLACES = {topic: place for place, topic in enumerate(Topic)}
_LEADING_NOISE = NOISE - {"a", "an"}  # "an we skip it" may have been a question


@dataclass(frozen=True, slots=True)
class Part:
    """One word of a phrase: what it may be, or the slot it stands for."""

    choices: frozenset[str]
    optional: bool = False
    slot: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Phrase:
    """A phrase of the table, ready to be tried; like itself alone: hashing its words takes long."""

    topic: Topic
    parts: tuple[Part, ...]

    def possible(self, reach: frozenset[str]) -> bool:
        """Tell whether each word it cannot do without is among those typed or mistyped."""
        return all(part.optional or part.slot or part.choices & reach for part in self.parts)


@dataclass(frozen=True, slots=True)
class Match:
    """A phrase that fits: the words of its slots, and how surely its own words were typed.

    `doubtful`: it changes the plan, and a mistyped word could have been another one.
    """

    topic: Topic
    slots: Mapping[str, tuple[str, ...]]
    slips: int
    literals: int
    doubtful: bool = False


def matches(words: Sequence[str], names: frozenset[str]) -> tuple[Match, ...]:
    """Return every phrase that fits the whole line, the surest first.

    Parameters
    ----------
    words : sequence of str
        The line, without noise.
    names : frozenset of str
        Words that names of the tour are made of.
    """
    known = vocabulary() | names
    reach = _reach(words, known)
    found = [
        Match(
            phrase.topic,
            slots,
            len(slips) + _loosely_named(slots, known),
            literals,
            doubtful=phrase.topic in CHANGING and not all(slip.only for slip in slips),
        )
        for phrase in dict.fromkeys(phrase for word in reach for phrase in _index().get(word, ()))
        if phrase.possible(reach)
        for slots, slips, literals, anchored in _fits(phrase.parts, tuple(words), known)
        if _forgivable(phrase.topic, slips, literals, anchored=anchored)
    ]
    return tuple(sorted(found, key=lambda one: (one.slips, -one.literals, _PLACES[one.topic])))


def could_tell_of(topic: Topic, words: Sequence[str], names: frozenset[str]) -> bool:
    """Tell whether a phrase of a topic could fit a line, or a part of it: no if a word is lacking.

    Parameters
    ----------
    topic : Topic
    words : sequence of str
        The line, without noise.
    names : frozenset of str
        Words that names of the tour are made of.
    """
    reach = _reach(words, vocabulary() | names)
    return any(phrase.possible(reach) for phrase in _of_topic(topic))


def _reach(words: Sequence[str], known: frozenset[str]) -> frozenset[str]:
    """Return the words typed, and those that a word of no meaning may be mistyped from."""
    return frozenset(words).union(*(_slips(word) for word in words if word not in known))


def _loosely_named(slots: Mapping[str, tuple[str, ...]], known: frozenset[str]) -> int:
    """Count the names that hold a word of no name: a mistyped phrase may be the better reading."""
    return sum(
        any(word not in known for word in slots[slot]) for slot in _NAME_SLOTS if slot in slots
    )


def without_opener(words: Sequence[str]) -> tuple[str, ...] | None:
    """Return what follows the "what if" of a line; None if it does not begin with one."""
    for opener in _openers():
        head = tuple(words[: len(opener)])
        if len(words) <= len(opener) or len(head) < len(opener):
            continue
        if all(_alike(said, meant) for said, meant in zip(head, opener, strict=True)):
            return tuple(words[len(opener) :])
    return None


def _alike(said: str, meant: str) -> bool:
    return said == meant or (
        len(meant) >= _SHORTEST_MISTYPED[False]
        and said not in vocabulary()
        and one_slip(said, meant)
    )


def without_noise(words: Sequence[str]) -> tuple[str, ...]:
    """Return the words that carry meaning; "then" does between two others only."""
    telling = [
        word for place, word in enumerate(words) if word not in (NOISE if place else _LEADING_NOISE)
    ]
    while telling and telling[0] == _THEN:
        del telling[0]
    while telling and telling[-1] == _THEN:
        del telling[-1]
    return tuple(telling)


@cache
def phrases() -> tuple[Phrase, ...]:
    """Return the table, compiled once; no two of a topic are the same."""
    return tuple(
        Phrase(topic, parts)
        for topic, texts in PHRASES.items()
        for parts in dict.fromkeys(_compiled(text) for text in texts)
    )


@cache
def _of_topic(topic: Topic) -> tuple[Phrase, ...]:
    return tuple(phrase for phrase in phrases() if phrase.topic is topic)


@cache
def _index() -> Mapping[str, tuple[Phrase, ...]]:
    """Return the phrases by each form of the first word they cannot do without."""
    index: dict[str, tuple[Phrase, ...]] = {}
    for phrase in phrases():
        first = next(part for part in phrase.parts if part.choices and not part.optional)
        for word in first.choices:
            index[word] = (*index.get(word, ()), phrase)
    return index


@cache
def vocabulary() -> frozenset[str]:
    """Return every word that means something by itself."""
    said = {word for phrase in phrases() for part in phrase.parts for word in part.choices}
    return frozenset(said) | NOISE | {word for opener in TRIAL_OPENERS for word in opener.split()}


@cache
def _vocabulary_by_length() -> Mapping[int, tuple[str, ...]]:
    words: dict[int, tuple[str, ...]] = {}
    for word in vocabulary():
        words[len(word)] = (*words.get(len(word), ()), word)
    return words


@cache
def words_of_topic(topic: Topic) -> frozenset[str]:
    """Return the words the phrases of a topic are made of."""
    mine = _of_topic(topic)
    return frozenset(word for phrase in mine for part in phrase.parts for word in part.choices)


@cache
def _openers() -> tuple[tuple[str, ...], ...]:
    return tuple(
        sorted((without_noise(opener.split()) for opener in TRIAL_OPENERS), key=len, reverse=True)
    )


def _compiled(text: str) -> tuple[Part, ...]:
    parts = []
    for piece in text.split():
        if piece.startswith("<"):
            parts.append(Part(frozenset(), slot=piece.strip("<>")))
            continue
        choices = frozenset(piece.strip("[]").split("|"))
        if telling := choices - NOISE:
            parts.append(Part(telling, optional=piece.startswith("[")))
    return tuple(parts)


@dataclass(frozen=True, slots=True)
class _Slip:
    """The word that was meant by a mistyped one; `only` if no other word could have been."""

    meant: str
    only: bool


_Fit = tuple[dict[str, tuple[str, ...]], tuple[_Slip, ...], int, bool]


def _fits(parts: tuple[Part, ...], words: tuple[str, ...], known: frozenset[str]) -> Iterator[_Fit]:
    """Yield slots, mistyped words, number of literal words and whether one of them is sure."""
    if not parts:
        if not words:
            yield {}, (), 0, False
        return
    part, rest = parts[0], parts[1:]
    if part.slot:
        needed = sum(1 for other in rest if not other.optional)
        for taken in range(1, min(len(words) - needed, _MOST_WORDS_IN_A_SLOT) + 1):
            for slots, slips, literals, anchored in _fits(rest, words[taken:], known):
                yield {part.slot: words[:taken]} | slots, slips, literals, anchored
        return
    if part.optional:
        yield from _fits(rest, words, known)
    if not words:
        return
    exact = words[0] in part.choices
    mistyped = frozenset() if exact or words[0] in known else _slips(words[0]) & part.choices
    if exact or mistyped:
        meant = words[0] if exact else min(mistyped)
        for slots, slips, literals, anchored in _fits(rest, words[1:], known):
            yield (
                slots,
                slips if exact else (_Slip(meant, _only(words[0], part.choices)), *slips),
                literals + 1,
                anchored or (exact and len(meant) >= _SHORTEST_ANCHOR),
            )


@lru_cache(maxsize=5_000)
def _slips(word: str) -> frozenset[str]:
    """Return the words of phrases that a word may be mistyped from."""
    lengths = (len(word) - 1, len(word), len(word) + 1)  # a slip adds or takes one letter at most
    return frozenset(
        meant
        for length in lengths
        for meant in _vocabulary_by_length().get(length, ())
        if one_slip(word, meant)
    )


def _only(word: str, choices: frozenset[str]) -> bool:
    """Tell whether a word is mistyped from one of these, or a form of one, and from no other."""
    meant = _slips(word) & choices
    heads = {one[:_SAME_HEAD] for one in meant}
    return all(other[:_SAME_HEAD] in heads for other in _slips(word))


def _forgivable(topic: Topic, slips: tuple[_Slip, ...], literals: int, *, anchored: bool) -> bool:
    if not slips:
        return True
    changing = topic in CHANGING
    shortest = _SHORTEST_MISTYPED_BARE if topic in _BARE else _SHORTEST_MISTYPED[changing]
    if any(len(slip.meant) < shortest for slip in slips) and not anchored:
        return False
    return len(slips) == 1 or (len(slips) == 2 and literals >= 3)  # noqa: PLR2004 - two in three


def words_in(names: Sequence[str]) -> frozenset[str]:
    """Return the words that names are made of."""
    return frozenset(word for name in names for word in words_of(name))
