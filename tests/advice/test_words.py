"""Every sentence goes through the translator; made-up catalogues prove it."""

import dataclasses
import re
from collections.abc import Callable
from datetime import date
from enum import Enum
from gettext import GNUTranslations, NullTranslations
from io import BytesIO

import pytest
from babel import Locale
from babel.messages import Catalog
from babel.messages.mofile import write_mo
from briefings import ALL, MANY, NO_WAY, STAND_IN, SWAP

from replanner.advice import text
from replanner.advice.as_json import as_json
from replanner.advice.briefing import Briefing
from replanner.advice.words import Words, words_for

ENGLISH = Locale("en", "GB")
# What is not worded: names of things inside, zones, languages.
INSIDE = {"id", "leg", "legs", "other_leg", "worst_leg", "place", "instead", "name", "unit",
          "cause", "zone", "language", "kind", "cautions", "unknown", "by_leg",
          "tonight"}  # fmt: skip


class Loud(NullTranslations):
    """A made-up language: English shouted. Placeholders stay as they are."""

    def gettext(self, message: str) -> str:
        return re.sub(r"[^{}]+(?![^{]*\})", lambda found: found[0].upper(), message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)


LOUD = Words(Loud(), ENGLISH)


def shouted(thing: object, field: str = "") -> object:
    """Return a briefing with every name in it in capitals."""
    if isinstance(thing, Enum):
        return thing
    if isinstance(thing, str):
        return thing if field in INSIDE else thing.upper()
    if isinstance(thing, tuple):
        return tuple(shouted(item, field) for item in thing)
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        changed = {
            each.name: shouted(getattr(thing, each.name), each.name)
            for each in dataclasses.fields(thing)
        }
        copy = dataclasses.replace(thing, **changed)
        if type(thing).__name__ in ("PlannedLeg", "LeftOut"):
            copy = dataclasses.replace(copy, name=copy.name.upper())
        return copy
    return thing


def without_dates(said: str) -> str:
    """Take out weekdays and months, which Babel writes."""
    names = [
        name
        for kinds in (ENGLISH.days["format"], ENGLISH.months["format"])
        for kind in ("wide", "abbreviated")
        for name in kinds[kind].values()
    ]
    return re.sub("|".join(sorted(names, key=len, reverse=True)), "", said)


SAID: dict[str, Callable[[Briefing, Words], str]] = {
    name: getattr(text, name)
    for name in text.__all__
    if name not in ("differences", "standing_text")
}


@pytest.mark.parametrize("said", SAID)
@pytest.mark.parametrize("name", ALL)
def test_no_sentence_escapes_the_translator(name: str, said: str) -> None:
    briefing = shouted(ALL[name])
    assert isinstance(briefing, Briefing)
    told = without_dates(SAID[said](briefing, LOUD))
    assert not re.search(r"[a-z]", told), told


def test_differences_go_through_the_translator() -> None:
    old, new = shouted(SWAP), shouted(STAND_IN)
    assert isinstance(old, Briefing)
    assert isinstance(new, Briefing)
    assert not re.search(r"[a-z]", without_dates(text.differences(old, new, LOUD)))
    assert text.differences(old, old, LOUD) == "NOTHING CHANGES."


def test_json_texts_are_translated_and_keys_are_not() -> None:
    told = as_json(SWAP, LOUD)
    assert "SIGNS AND POLICE DECIDE" in str(told["message"])
    assert "spare_minutes" in told


def catalogue(*messages: tuple[str | tuple[str, str], str | tuple[str, ...]]) -> Words:
    """Return the words of a catalogue made here, compiled by Babel and read by gettext."""
    made = Catalog(locale="pl", domain="replanner")  # Polish: three plural forms (CLDR)
    for source, target in messages:
        made.add(source, target)
    compiled = BytesIO()
    write_mo(compiled, made)
    compiled.seek(0)
    return Words(GNUTranslations(compiled), Locale("pl"))


def test_a_real_catalogue_orders_names_as_its_grammar_wants() -> None:
    words = catalogue(("{first} first, {leg} at {time}", "{time}: {leg} po {first}"))
    assert "15:15: Hask Saddle po Salt Causeway" in text.message(SWAP, words).split("\n")[0]


def test_plurals_follow_the_catalogue() -> None:
    forms = ("i jeszcze {n} etap", "i jeszcze {n} etapy", "i jeszcze {n} etapów")
    words = catalogue((("and {n} more leg", "and {n} more legs"), forms))
    told = [words.count("and {n} more leg", "and {n} more legs", n, n=str(n)) for n in (1, 3, 5)]
    assert told == [forms[0].format(n=1), forms[1].format(n=3), forms[2].format(n=5)]


def test_longer_sentences_of_a_language_still_fit() -> None:
    class Wordy(NullTranslations):
        def gettext(self, message: str) -> str:
            return f"{message} lorem ipsum dolor"

        def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
            return self.gettext(msgid1 if n == 1 else msgid2)

    for briefing in (SWAP, MANY, NO_WAY):
        told = text.message(briefing, Words(Wordy(), ENGLISH))
        assert len(told.split("\n")) <= 10
        assert len(told) <= 650


@pytest.mark.parametrize("language", ["de", "xx", "", "not a language", "en"])
def test_a_language_without_a_catalogue_is_english_throughout(language: str) -> None:
    words = words_for(language)
    assert words.say("Accepted.") == "Accepted."
    assert words.locale == ENGLISH


def test_american_english_keeps_its_dates() -> None:
    assert words_for("en-US").locale == Locale("en", "US")


def test_lists() -> None:
    words = words_for("en")
    assert [words.listed(x) for x in ((), ("a",), ("a", "b"), ("a", "b", "c"))] == [
        "",
        "a",
        "a and b",
        "a, b and c",
    ]
    assert date(2026, 10, 16).isoformat() == SWAP.date.isoformat()
