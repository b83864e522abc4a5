"""What is named in a line, wherever it stands: legs, places, days, times, figures; and the rest."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from replanner.dialogue.book import TourBook
from replanner.dialogue.matching import vocabulary, words_in
from replanner.dialogue.names import KIND_WORDS, find_name
from replanner.dialogue.phrases import SMALL
from replanner.dialogue.times import day_of, minutes_of, wall_times

_LONGEST = 4
_UNITS = {
    "speed": frozenset({"mph", "kmh", "kph", "ms", "kn", "kt", "knots"}),
    "distance": frozenset({"km", "kms", "k", "kilometres", "kilometers", "mi", "mile", "miles"}),
    "minutes": frozenset(
        {"minutes", "minute", "mins", "min", "m", "hours", "hour", "hrs", "hr", "h"}
    ),
}
_FIGURE = re.compile(r"(\d{1,4})([a-z]*)")
_CLOCK = re.compile(r"\d{1,2}:\d\d(?:am|pm)?|\d{1,2}(?:am|pm)|0\d{3}|1\d{3}")
_WEEK = """
monday tuesday wednesday thursday friday saturday sunday mon tue tues wed thu thur thurs fri sat sun
today tomorrow
"""
_DAYS = frozenset(_WEEK.split())
_NUMBERS = """
one two three four five six seven eight nine ten eleven twelve fifteen twenty thirty forty fifty
"""
_COUNTED = frozenset(_NUMBERS.split())
_HALVES = frozenset({"half", "quarter"})
_ALONE = frozenset({"noon", "midday"})
_OF_THE_CLOCK = frozenset({"oclock", "am", "pm"})
# Every word that may be part of a day, a time or a figure.
WORDS_OF_MENTIONS = _DAYS | _COUNTED | _HALVES | frozenset().union(*_UNITS.values())


class Kind(StrEnum):
    """What may be named."""

    LEG = "leg"
    PLACE = "place"
    DAY = "day"
    TIME = "time"
    MINUTES = "minutes"
    DISTANCE = "distance"
    SPEED = "speed"


@dataclass(frozen=True, slots=True)
class Mention:
    """Something named: what it can be, and its words; `sure` if it can be nothing else."""

    kinds: frozenset[Kind]
    words: tuple[str, ...]
    sure: bool = True

    @property
    def names_leg(self) -> bool:
        """Whether it is a leg."""
        return Kind.LEG in self.kinds

    @property
    def text(self) -> str:
        """The words as typed."""
        return " ".join(self.words)


@dataclass(frozen=True, slots=True)
class Said:
    """A line: the words that name nothing, and what is named, in order."""

    words: tuple[str, ...]
    mentions: tuple[Mention, ...]

    @property
    def telling(self) -> tuple[Mention, ...]:
        """What is named for sure: a phrase that has no place for it leaves something out."""
        return tuple(mention for mention in self.mentions if mention.sure)

    def filling(self, slots: Sequence[str]) -> Mapping[str, tuple[Mention, ...]] | None:
        """Return what fills each slot of a phrase, None where one stays empty."""
        filled: dict[str, tuple[Mention, ...]] = {}
        left = list(self.mentions)
        for slot in slots:
            kind = Kind.LEG if slot in ("leg", "legs", "other") else Kind(slot)
            fits = [mention for mention in left if kind in mention.kinds]
            fits = [mention for mention in fits if mention.sure] or fits
            if not fits:
                return None
            taken = fits if slot == "legs" else fits[:1]
            filled[slot] = tuple(taken)
            left = [mention for mention in left if mention not in taken]
        return filled


def said_in(words: Sequence[str], book: TourBook, today: date, day: date) -> Said:
    """Return what a line says.

    Parameters
    ----------
    words : sequence of str
        The line in plain words.
    book : TourBook
    today, day : date
        On which it was said, and which is spoken about.
    """
    left: list[str] = []
    found: list[Mention] = []
    place = 0
    finder = _Finder(book, today, day)
    while place < len(words):
        mention = next(finder.at(words[place:]), None)
        if mention is None:
            left.append(words[place])
            place += 1
            continue
        found.append(mention)
        if not mention.sure:
            left += [word for word in mention.words if word in vocabulary()]
        place += len(mention.words)
    return Said(tuple(left), tuple(dict.fromkeys(found)))


class _Finder:
    """Finds what is named at the beginning of some words."""

    def __init__(self, book: TourBook, today: date, day: date) -> None:
        self.book, self.today, self.day = book, today, day
        self.names = dict(book.names)
        self.places = dict(book.places)
        self.name_words = words_in(list(self.names.values()))
        self.place_words = words_in(list(self.places.values()))

    def at(self, words: Sequence[str]) -> Iterator[Mention]:
        """Yield what the first words name, the longest first."""
        for length in range(min(_LONGEST, len(words)), 0, -1):
            span = tuple(words[:length])
            for look in (self._figure, self._leg, self._place, self._day_named):
                found = look(span)
                if found is not None:
                    yield found

    def _leg(self, span: tuple[str, ...]) -> Mention | None:
        """Return a leg; for sure only where a word is said that means nothing else."""
        if SMALL.issuperset(span):
            return None
        if not all(word in self.name_words or word in KIND_WORDS for word in span):
            return None
        own = any(word not in vocabulary() and word not in KIND_WORDS for word in span)
        best = find_name(" ".join(span), self.names).best
        one = len(span) == 1 and not own and span[0] not in KIND_WORDS
        if not best or (one and len(best) > 1):
            return None
        return Mention(frozenset({Kind.LEG}), span, sure=own)

    def _place(self, span: tuple[str, ...]) -> Mention | None:
        if not all(word in self.place_words for word in span):
            return None
        if not find_name(" ".join(span), self.places).best:
            return None
        return Mention(frozenset({Kind.PLACE}), span)

    def _day_named(self, span: tuple[str, ...]) -> Mention | None:
        if span == ("day", "after"):
            return Mention(frozenset({Kind.DAY}), span)
        if len(span) > 1 or span[0] not in _DAYS:
            return None
        found = day_of(span, self.book.dates, self.today, self.day)
        loose = span[0] in ("today", "tomorrow", "sun", "wed") or found == self.day
        return Mention(frozenset({Kind.DAY}), span, sure=not loose)

    def _figure(self, span: tuple[str, ...]) -> Mention | None:
        head = span[0]
        if not (head[0].isdigit() or head in _COUNTED | _HALVES | _ALONE | {"an", "a"}):
            return None
        kind = next((kind for kind, units in _UNITS.items() if _with_unit(span, units)), None)
        if kind is not None:
            right = kind != "minutes" or minutes_of(span) is not None
            return Mention(frozenset({Kind(kind)}), span) if right else None
        if len(span) > 1 or head in _HALVES | _ALONE or _CLOCK.fullmatch(head):
            timely = len(span) == 1 or span[-1] in _OF_THE_CLOCK or head in _HALVES
            return Mention(frozenset({Kind.TIME}), span) if timely and wall_times(span) else None
        if head.isdecimal() or (head in _COUNTED and head != "one"):
            kinds = {Kind.MINUTES, Kind.DISTANCE, Kind.SPEED}
            return Mention(frozenset(kinds | ({Kind.TIME} if wall_times(span) else set())), span)
        return None


def _with_unit(span: tuple[str, ...], units: frozenset[str]) -> bool:
    if len(span) == 1:
        found = _FIGURE.fullmatch(span[0])
        return found is not None and found.group(2) in units
    return span[-1] in units and all(
        word.isdecimal()
        or word in units | _COUNTED | _HALVES | {"an", "a", "and"}
        or ((found := _FIGURE.fullmatch(word)) is not None and found.group(2) in units)
        for word in span
    )
