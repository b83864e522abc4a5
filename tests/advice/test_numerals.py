"""Numbers in words: read back by a small reader of its own, and a few known by heart."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.advice.numerals import figure_words, number_words, time_words
from replanner.advice.words import words_for

WORDS = words_for("en")
ONES = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
TENS = ["-", "-", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]


def read_back(text: str) -> int:
    """Read English number words, written independently of the code under test."""
    total, current = 0, 0
    sign = -1 if text.startswith("minus ") else 1
    for word in text.removeprefix("minus ").replace("-", " ").split():
        if word == "hundred":
            current *= 100
        elif word == "thousand":
            total, current = current * 1000, 0
        else:
            current += ONES.index(word) if word in ONES else TENS.index(word) * 10
    return sign * (total + current)


@given(st.integers(-999_999, 999_999))
def test_numbers_read_back_as_themselves(number: int) -> None:
    assert read_back(number_words(number, WORDS)) == number


@pytest.mark.parametrize(
    ("number", "told"),
    [(0, "zero"), (45, "forty-five"), (100, "one hundred"), (1013, "one thousand thirteen")],
)
def test_known_numbers(number: int, told: str) -> None:
    assert number_words(number, WORDS) == told


def test_too_large_is_refused() -> None:
    with pytest.raises(ValueError, match="1000000"):
        number_words(1_000_000, WORDS)


@pytest.mark.parametrize(
    ("figure", "told"),
    [
        ("2.0", "two"),
        ("0.17", "zero point one seven"),
        ("-0.5", "minus zero point five"),
        ("-3", "minus three"),
    ],
)
def test_figures_with_decimals(figure: str, told: str) -> None:
    assert figure_words(figure, WORDS) == told


@pytest.mark.parametrize(
    ("hour", "minute", "told"),
    [
        (15, 15, "fifteen fifteen"),
        (8, 5, "eight oh five"),
        (9, 0, "nine o'clock"),
        (21, 0, "twenty-one o'clock"),
        (0, 10, "zero ten"),
    ],
)
def test_times(hour: int, minute: int, told: str) -> None:
    assert time_words(hour, minute, WORDS) == told


def test_no_two_times_of_a_day_sound_the_same() -> None:
    told = {time_words(hour, minute, WORDS) for hour in range(24) for minute in range(60)}
    assert len(told) == 24 * 60
