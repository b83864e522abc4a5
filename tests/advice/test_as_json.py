"""What a program may rely on: the keys of the product's list, whole values, no NaN."""

import json
from dataclasses import replace
from datetime import datetime

import pytest
from briefings import ALL, CLOCK_CHANGE, GUST, HASK, MISSING_DATA, NO_WAY, SWAP, WINDY_ROADS
from generated import briefings, quick
from hypothesis import given

from replanner.advice.as_json import as_json
from replanner.advice.briefing import Briefing
from replanner.advice.text import message, spoken

# The product's list of what a program may rely on.
KEYS = {
    "date",
    "base_from",
    "base_to",
    "departure",
    "arrival",
    "sunrise",
    "sunset",
    "civil_dusk",
    "spare_minutes",
    "value_minutes",
    "proven",
    "bound_minutes",
    "legs",
    "left_out",
    "changes",
    "own_order",
    "plan_b",
    "decision_points",
    "odds",
    "warnings",
    "cautions",
    "forecast",
    "message",
    "spoken",
}
INNER = {
    "legs": {"id", "name", "kind", "start", "end", "severity", "hazard", "turn_back"},
    "left_out": {"id", "reason", "price_minutes"},
    "changes": {"kind", "leg", "worth_minutes", "reason"},
    "decision_points": {"leg", "place", "latest", "rule", "instead"},
}


@pytest.mark.parametrize("name", ALL)
def test_every_key_is_always_there_and_strict_json_takes_it(name: str) -> None:
    told = json.loads(json.dumps(as_json(ALL[name]), allow_nan=False))
    assert set(told) >= KEYS
    for key, wanted in INNER.items():
        assert all(set(item) >= wanted for item in told[key])
    assert set(told["own_order"]) >= {"value_minutes", "severity"}
    assert set(told["forecast"]) >= {"service", "issued", "fetched", "stale", "credit"}
    for leg in told["legs"]:
        assert 0 <= leg["severity"] <= 4
        if leg["hazard"] is not None:
            assert set(leg["hazard"]) >= {"name", "value", "limit", "unit", "hour"}


@quick
@given(briefings())
def test_any_briefing_is_strict_json_with_offsets(briefing: Briefing) -> None:
    told = json.loads(json.dumps(as_json(briefing), allow_nan=False))
    assert set(told) >= KEYS
    for leg, planned in zip(told["legs"], briefing.legs, strict=True):
        start = datetime.fromisoformat(leg["start"])
        assert start.utcoffset() is not None
        assert start == planned.start


def test_times_carry_the_offset_of_their_own_day() -> None:
    assert as_json(SWAP)["departure"] == "2026-10-16T08:30:00+01:00"
    assert as_json(CLOCK_CHANGE)["departure"] == "2026-10-25T07:30:00+00:00"
    assert as_json(CLOCK_CHANGE)["made_at"] == "2026-10-24T19:30:00+01:00"


def test_figures_stay_in_the_units_inside_and_name_them() -> None:
    told = json.loads(json.dumps(as_json(SWAP)))
    assert told["changes"][0]["reason"] == {
        "name": "wet_track",
        "value": 4.2,
        "limit": 2.0,
        "unit": "mm",
        "hour": "2026-10-16T09:00:00+01:00",
        "section": "Hask lane",
        "unknown": False,
        "also": None,
    }
    assert told["decision_points"][0]["rule"] == "track still wet"


def test_nothing_known_is_null() -> None:
    told = as_json(NO_WAY)
    for key in ("departure", "arrival", "spare_minutes", "value_minutes", "plan_b", "odds"):
        assert told[key] is None
    assert told["left_out"][0]["price_minutes"] is None  # type: ignore[index]
    assert as_json(MISSING_DATA)["warnings"] is None


def test_nan_becomes_null() -> None:
    note = replace(GUST, value=float("nan"), limit=float("inf"))
    told = json.loads(
        json.dumps(as_json(replace(SWAP, legs=(replace(HASK, hazard=note),))), allow_nan=False)
    )
    assert told["legs"][0]["hazard"]["value"] is None
    assert told["legs"][0]["hazard"]["limit"] is None


def test_message_and_spoken_are_the_very_texts() -> None:
    told = as_json(SWAP)
    assert told["message"] == message(SWAP)
    assert told["spoken"] == spoken(SWAP)


def test_plain_roads_are_told_with_their_weather_or_as_not_looked_at() -> None:
    assert as_json(SWAP)["roads"] is None
    told = as_json(WINDY_ROADS)["roads"]
    assert isinstance(told, list)
    assert [(road["from"], road["to"]) for road in told] == [
        ("Salt Bay", "Brindle Foot"),
        ("Hask Foot", "Orrowick"),
    ]
    assert told[0]["leave"] == "2026-10-16T10:05:00+01:00"
    assert told[0]["severity"] == 3.2
    assert told[0]["hazard"]["name"] == "gust"
    assert told[1]["hazard"] is None
    assert told[1]["waits"] is False
