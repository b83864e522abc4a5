"""Names made short stay clean and stay different."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.advice.names import Names, clean, first_words, pronounceable, shorten

texts = st.text(st.characters(exclude_categories=("Cs",)), max_size=80)


@given(texts, st.integers(5, 60))
def test_shortened_fits_and_begins_as_the_name_does(name: str, width: int) -> None:
    short = shorten(name, width)
    assert len(short) <= width
    assert clean(name).startswith(short.removesuffix("…"))


@given(texts)
def test_clean_is_one_line_without_direction_switches(name: str) -> None:
    assert not any(unicodedata.category(char) == "Cc" for char in clean(name))
    assert "\u202e" not in clean(name)
    assert clean(clean(name)) == clean(name)


def test_cut_between_words() -> None:
    assert shorten("Old Military Road over the hill", 20) == "Old Military Road…"


def test_a_letter_keeps_its_accent() -> None:
    # U+0301 combining acute accent: cut before its letter rather than between the two
    assert shorten("abcde\u0301fghijkl", 6) == "abcd…"


@given(st.lists(texts.filter(clean), min_size=2, max_size=8, unique_by=clean), st.integers(8, 30))
def test_two_different_names_stay_different(names: list[str], width: int) -> None:
    short = Names({str(n): name for n, name in enumerate(names)})
    assert len({short(str(n), width) for n in range(len(names))}) == len(names)


def test_alike_beginnings_keep_their_ends() -> None:
    short = Names({"a": "Salt Causeway outward", "b": "Salt Causeway homeward"})
    assert {short("a", 12), short("b", 12)} == {"Salt…outward", "Salt…omeward"}


def test_a_name_grows_by_a_word_rather_than_be_taken_for_another() -> None:
    short = Names({"a": "Brindle loop", "b": "Brindle low road", "c": "Hask Saddle"})
    assert [short(key, 8) for key in "abc"] == ["Brindle loop", "Brindle low", "Hask"]


@pytest.mark.parametrize(
    ("name", "width", "told"),
    [
        ("Ternhold Head loop", 14, "Ternhold Head"),
        ("Forest of Ash", 11, "Forest…"),
        ("Sable to Tolfen", 9, "Sable…"),
        ("Round the inlet", 12, "Round…"),
        ("Old Military Road over the hill", 22, "Old Military Road…"),
        ("Cwm (old) road", 12, "Cwm (old)"),
    ],
)
def test_first_words(name: str, width: int, told: str) -> None:
    assert first_words(name, width) == told


SMALL, LARGE = ("of", "the", "and", "at"), ("Ash", "Forest", "Old", "Road")


@given(st.lists(st.sampled_from(SMALL + LARGE), min_size=1), st.integers(5, 40))
def test_no_name_ends_in_a_word_that_leads_on(words: list[str], width: int) -> None:
    name = " ".join(words)
    told = first_words(name, width)
    assert len(told) <= width
    if told != name and " " in told:
        assert told.rstrip("…").rsplit(" ", 1)[1] not in SMALL


def test_an_unknown_id_reads_as_words() -> None:
    assert Names({})("hask_saddle") == "hask saddle"


def test_reading_aloud_takes_words_and_numbers_only() -> None:
    assert pronounceable("A89/B12 (toll) <north>") == "A 89 B 12 toll north"
    long_way = "O'Brien's Pass the long way round"
    assert pronounceable("O'Brien's Pass — the long way round") == long_way
