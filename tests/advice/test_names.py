"""Names made short stay clean and stay different."""

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from replanner.advice.names import Names, clean, pronounceable, shorten

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
    assert {short("a", 14), short("b", 14)} == {"Salt…outward", "Salt…omeward"}


def test_an_unknown_id_reads_as_words() -> None:
    assert Names({})("hask_saddle") == "hask saddle"


def test_reading_aloud_takes_words_and_numbers_only() -> None:
    assert pronounceable("A89/B12 (toll) <north>") == ("A", "89", "B", "12")
    assert pronounceable("O'Brien's Pass — the long way round") == (
        "O'Brien's",
        "Pass",
        "the",
        "long",
    )
