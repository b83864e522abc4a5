"""Every hazard has words of its own; chance words follow the published table."""

import re
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from briefings import GUST, SWAP

from replanner.advice.cautions import CAUTIONS, OF_THE_DAY, STANDING, cautions_for
from replanner.advice.telling import written
from replanner.advice.wording import HAZARDS, chance_word, level_word, wording_of
from replanner.advice.words import words_for
from replanner.hazards.limits import Limit
from replanner.hazards.register import HAZARDS as REGISTER

WORDS = words_for("en")
CONFIG = Path(__file__).parents[2] / "config" / "limits.toml"


def test_the_register_and_the_wording_keep_in_step() -> None:
    assert set(HAZARDS) == {hazard.name for hazard in REGISTER}


@pytest.mark.parametrize("name", HAZARDS)
def test_what_is_worse_agrees_with_the_limits_file(name: str) -> None:
    given = tomllib.loads(CONFIG.read_text(encoding="utf-8"))["limits"][name]
    limit = Limit(
        name=name,
        unit=given["unit"],
        clear=given["clear"],
        caution=given.get("caution"),
        avoid=given.get("avoid"),
        no_go=given.get("no_go"),
        source=given["source"],
    )
    assert HAZARDS[name].falling is not limit.rising


@pytest.mark.parametrize("name", HAZARDS)
def test_each_hazard_has_a_caution_of_the_day(name: str) -> None:
    assert HAZARDS[name].caution in OF_THE_DAY


def test_an_unknown_hazard_reads_by_its_name() -> None:
    note = replace(GUST, name="deep_ford{}", value=30.0, limit=20.0)
    assert wording_of("deep_ford{}").noun == "deep ford"
    assert written(SWAP).hazard(note) == "deep ford 108, limit 72 km/h"
    assert wording_of("").noun == "hazard"


@pytest.mark.parametrize("name", HAZARDS)
def test_every_sentence_of_a_hazard_can_be_filled(name: str) -> None:
    telling = written(SWAP)
    note = replace(GUST, name=name)
    for told in (telling.reason(note), telling.reason(note, limit=False), telling.seen(note)):
        assert not re.search(r"[{}_]", told)
    assert "14:00" in telling.reason(note)


# IPCC AR4 WG I, box TS.1: very likely > 90 %, likely > 66 %, about as likely as not 33 to 66 %,
# unlikely < 33 %, very unlikely < 10 %. (bounds themselves: the less confident word, ours)
@pytest.mark.parametrize(
    ("percent", "word"),
    [
        (99, "Very likely"),
        (91, "Very likely"),
        (90, "Likely"),
        (67, "Likely"),
        (66, "As likely as not"),
        (33, "As likely as not"),
        (32, "Unlikely"),
        (10, "Unlikely"),
        (9, "Very unlikely"),
        (1, "Very unlikely"),
    ],
)
def test_chance_words(percent: int, word: str) -> None:
    assert chance_word(percent, WORDS) == word


@pytest.mark.parametrize(
    ("severity", "word"),
    [(0, "go"), (1.99, "go"), (2, "caution"), (2.99, "caution"), (3, "avoid"), (4, "no-go")],
)
def test_level_words(severity: float, word: str) -> None:
    assert level_word(severity, WORDS) == word


def test_the_days_own_cautions_come_first_the_worst_before_the_others() -> None:
    keys = cautions_for(
        [("rain", 2.0), ("gust", 3.0), ("heat", 1.9)], unknown=("visibility",), no_phone=True
    )
    assert keys[:4] == ("wind", "wet", "no_data", "no_phone")
    assert set(STANDING) <= set(keys)
    assert "heat" not in keys
    assert len(keys) == len(set(keys))


def test_a_quiet_day_has_the_standing_cautions_only() -> None:
    assert cautions_for([("gust", 1.0)]) == tuple(STANDING)


@pytest.mark.parametrize(
    "subject",
    ["You decide", "Signs", "police", "law", "wrong", "turn round", "qualified", "first aid",
     "read, type", "Drones", "112", "local number", "phone signal", "drop a leg"],
)  # fmt: skip
def test_the_standing_cautions_speak_of(subject: str) -> None:
    assert subject in " ".join(caution.full for caution in STANDING.values())


@pytest.mark.parametrize("key", OF_THE_DAY)
def test_a_caution_of_the_day_has_a_short_line(key: str) -> None:
    assert 0 < len(CAUTIONS[key].short) <= 40
