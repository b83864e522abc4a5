"""Open-Meteo's weather codes (its documentation, quoted in tests/data/checks.json)."""

import numpy as np
import pytest

from replanner.geodesy import Point
from replanner.hazards.weather_codes import FOG, FREEZING, THUNDERSTORM
from replanner.sources.invented_week import load_invented
from tests.checks import CHECKS
from tests.sources.demo_week import WEEK

PUBLISHED = {float(code): text for code, text in CHECKS["openmeteo_weather_code"]["codes"].items()}


@pytest.mark.parametrize(
    ("group", "words"),
    [
        (FOG, ("fog",)),
        (FREEZING, ("freezing", "snow")),
        (THUNDERSTORM, ("thunderstorm",)),
    ],
)
def test_groups_are_the_published_ones(group: tuple[float, ...], words: tuple[str, ...]) -> None:
    named = {code for code, text in PUBLISHED.items() if any(word in text for word in words)}
    assert set(group) == named


def test_invented_week_tells_published_codes_that_fit() -> None:
    """Its rain classes are those of the AMS Glossary; its fog is below 1000 m (WMO)."""
    week = load_invented(WEEK)
    stamps = np.arange(week.zones[0].seconds[0], week.zones[0].seconds[-1], 3600.0)
    seen: set[str] = set()
    for zone in week.zones:
        told = week.hourly(Point(*zone.centres[0][:2], zone.elevation_m), stamps)
        codes = told["weather_code"][~np.isnan(told["weather_code"])]
        seen |= {PUBLISHED[code] for code in codes}
        foggy = np.isin(told["weather_code"], FOG)
        assert (told["visibility"][foggy] < 1000.0).all()
    assert {"mainly clear", "fog", "rain slight", "rain moderate"} <= seen
