"""The read-aloud form: whole words, no signs, half a minute at most."""

import re
from dataclasses import replace

import pytest
from briefings import (
    ALL,
    AS_PLANNED,
    BRINDLE,
    CAUSEWAY,
    CLOCK_CHANGE,
    HASK,
    IMPERIAL,
    LATE,
    MISSING_DATA,
    NO_WAY,
    STALE,
    SWAP,
    WET,
    at,
)
from generated import briefings, quick
from hypothesis import given

from replanner.advice.briefing import Briefing, Change, ChangeKind
from replanner.advice.spoken import beats_in, words_in
from replanner.advice.text import spoken
from replanner.planning.demand import Demand, DemandKind


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
    assert beats_in(text) <= 78  # 31 seconds, for days that have everything wrong at once
    assert not re.search(r"[0-9%/:;<>{}_]", text)
    assert "police decide" in text
    if briefing.odds is not None:
        assert " to hold" in text
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
        "Invented example. Friday, swap. Salt Causeway first, Hask Saddle at fifteen fifteen. "
        "Leave at eight thirty. Then Brindle Low Road."
    )
    assert "In by eighteen o'clock, spare sixty-five minutes." in text
    assert "Why, Hask Saddle at nine o'clock wet track" in text
    way_out = "At Haskfoot, track still wet or after sixteen fifteen, take Valley Road."
    assert way_out in text
    parts = ("swap", "Leave", "Brindle", "In by", "Why", way_out, "Likely", "police decide")
    found = [text.index(part) for part in parts]
    assert found == sorted(found)


def test_the_hour_of_leaving_tells_the_first_leg_that_begins_then() -> None:
    text = spoken(replace(AS_PLANNED, departure=CAUSEWAY.start))
    assert "Friday, as planned. Leave at eight forty, Salt Causeway. Brindle" in text
    assert spoken(LATE).startswith(
        "Invented example. Friday, leave later. Leave at ten thirty, not eight thirty. First Salt"
    )


def test_a_boat_is_told_by_its_sailing() -> None:
    boat = replace(BRINDLE, kind="crossing", sailing=at("11:05"))
    assert "Brindle Low, boat twelve oh five." in spoken(replace(LATE, legs=(CAUSEWAY, boat)))


def test_names_are_told_whole() -> None:
    ash = replace(BRINDLE, name="Forest of Ash")
    assert "Forest of Ash" in spoken(replace(SWAP, legs=(CAUSEWAY, ash, HASK)))


@pytest.mark.parametrize("plain", range(0, 13, 3))
def test_legs_that_need_care_are_named_however_many_plain_ones_there_are(plain: int) -> None:
    """Passes, boats, moved and cautioned legs are never among those only counted."""
    extra = tuple(
        replace(BRINDLE, id=f"plain{n}", name=f"Long and winding lane number {n}")
        for n in range(plain)
    )
    pass_ = replace(BRINDLE, id="pass", name="Cindergate", kind="pass")
    boat = replace(BRINDLE, id="boat", name="Kelp Narrows", kind="crossing", sailing=at("11:05"))
    wet = replace(BRINDLE, id="wet", name="Gannet Stack", severity=2.0, hazard=WET)
    avoid = replace(BRINDLE, id="avoid", name="Umber", severity=3.0, hazard=WET)
    text = spoken(replace(SWAP, legs=(CAUSEWAY, *extra, pass_, boat, wet, avoid, HASK)))
    for name in ("Cindergate", "Kelp Narrows", "Gannet Stack", "Umber", "Hask Saddle"):
        assert name in text
    assert words_in(text) <= 75


def test_no_plan_and_what_clashes_is_heard() -> None:
    blame = (
        Demand(kind=DemandKind.RIDE, legs=("hask",)),
        Demand(kind=DemandKind.END_BY, slot=20, by=at("17:00")),
    )
    text = spoken(replace(NO_WAY, blame=blame))
    assert "no safe way" in text
    assert "No plan keeps riding Hask Saddle and being in by eighteen o'clock." in text


def test_units_are_the_riders_and_speeds_go_without() -> None:
    assert "inches" in spoken(IMPERIAL)
    assert "gust forty-nine." in spoken(AS_PLANNED)  # 13.6 m/s is 48.96 km/h
    imperial = replace(AS_PLANNED, units=IMPERIAL.units)
    assert "gust thirty-one." in spoken(imperial)  # 30.4 mph, told on the careful side


def test_a_clock_change_is_heard() -> None:
    assert "Clocks go back sixty minutes." in spoken(CLOCK_CHANGE)
    assert "Clocks" not in spoken(SWAP)


def test_missing_and_old_data_are_heard() -> None:
    assert "No data for fog and low cloud, take care." in spoken(MISSING_DATA)
    assert "Old plan of Wednesday nineteen thirty, not checked." in spoken(STALE)


def test_what_is_left_out_and_what_another_day_rides_are_told_without_a_sign() -> None:
    out = Change(kind=ChangeKind.LEFT_OUT, leg="gannet", worth_minutes=5.0, reason=None)
    elsewhere = Change(kind=ChangeKind.OTHER_DAY, leg="skerry", worth_minutes=5.0, reason=None)
    text = spoken(replace(AS_PLANNED, legs=(HASK,), odds=None, changes=(out, elsewhere)))
    assert re.search(r"Left out [\w ]+, another day [\w ]+\.", text)
