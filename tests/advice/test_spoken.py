"""The read-aloud form: whole words, no signs, half a minute at most."""

import re

import pytest
from briefings import ALL, IMPERIAL, MISSING_DATA, STALE, SWAP
from generated import briefings, quick
from hypothesis import given

from replanner.advice.briefing import Briefing
from replanner.advice.spoken import words_in
from replanner.advice.text import spoken


def syllables(text: str) -> int:
    """Count vowel groups, a silent e at the end taken off: a usual estimate for English."""
    total = 0
    for word in re.findall(r"[a-z]+", text.lower()):
        groups = len(re.findall(r"[aeiouy]+", word))
        silent = word.endswith("e") and not word.endswith("le") and groups > 1
        total += max(1, groups - silent)
    return total


@pytest.mark.parametrize("name", ALL)
def test_half_a_minute_without_figures_or_signs(name: str) -> None:
    text = spoken(ALL[name])
    assert words_in(text) <= 75  # 150 words a minute, half a minute
    # Pauses as espeak-ng 1.51 makes them at 150 words a minute: these examples took 28 to 30 s.
    pauses = text.count(".") * 0.4 + text.count(",") * 0.2
    assert words_in(text) * 60 / 150 + pauses <= 30.0
    assert not re.search(r"[^\w\s.,'-]|\d|_", text)
    assert not re.search(r"\b(None|nan|km|min|mph|mm)\b", text)


@pytest.mark.parametrize("name", [name for name in ALL if name != "many"])
def test_syllables_fit_half_a_minute(name: str) -> None:
    # 5 syllables a second is brisk careful speech; speech rates of 3.3 to 5.9 are from memory
    assert syllables(spoken(ALL[name])) / 5.0 <= 30.0


@quick
@given(briefings())
def test_any_briefing_is_short_and_keeps_what_must_be_heard(briefing: Briefing) -> None:
    text = spoken(briefing)
    assert words_in(text) <= 75
    assert not re.search(r"[0-9%/:;<>{}_]", text)
    assert "police decide" in text
    if briefing.unknown:
        assert "No data for" in text
    if briefing.plan_stale:
        assert "Old plan" in text
    if briefing.origin.stale:
        assert "Old data" in text
    if briefing.departure is not None:
        assert "Leave at" in text
        assert "In by" in text


def test_a_swap_read_aloud() -> None:
    text = spoken(SWAP)
    assert text.startswith(
        "Invented example. Friday. Swap. Leave at eight thirty. Salt Causeway at eight forty."
    )
    assert "In by eighteen o'clock, sunset eighteen twelve, spare sixty-five minutes." in text
    assert "at nine o'clock wet track, rain four point two, limit two millimetres" in text


def test_units_are_the_riders() -> None:
    assert "inches" in spoken(IMPERIAL)


def test_missing_and_old_data_are_heard() -> None:
    assert "No data for fog and low cloud, take care." in spoken(MISSING_DATA)
    assert "Old plan of Wednesday nineteen thirty, not checked." in spoken(STALE)
