"""The hour each value covers, against the `open-meteo` package reading the same answer.

The package is general-purpose and independent of ours. Importing it takes ten seconds of
computing, so it is imported where it is used.
"""

from datetime import UTC, datetime, timedelta
from importlib import import_module
from typing import Any
from urllib.request import urlopen

import numpy as np
import pandas as pd
import pytest

from replanner.geodesy import Point
from replanner.sources.http import make_session
from replanner.sources.invented import InventedWeek
from replanner.sources.open_meteo import OpenMeteo
from replanner.sources.open_meteo_answer import VARIABLES, read_answer
from replanner.weather.hourly import Window
from tests.loopback import recorded
from tests.sources.demo_week import PLACES, WEEK

COAST = Point(-37.75, 144.875, 19.0)
LAKE = Point(43.70455, -79.404625, 165.0)
STORM = Point(40.627975, -74.42501, 93.0)
PRECEDING = {
    "precipitation",
    "precipitation_probability",
    "wind_gusts_10m",
    "shortwave_radiation",
}  # Open-Meteo's documentation: "preceding hour" sum, probability, maximum, mean


def other_hours(text: str) -> tuple[Any, timedelta]:
    """Return the package's hourly block and the offset its local stamps are from UTC."""
    forecast = import_module("open_meteo.models").Forecast.from_json(text)
    return forecast.hourly, timedelta(seconds=forecast.utc_offset_seconds)


def window(first: str, last: str) -> Window:
    return Window(
        datetime.fromisoformat(first).replace(tzinfo=UTC),
        datetime.fromisoformat(last).replace(tzinfo=UTC),
    )


@pytest.mark.parametrize(
    ("name", "point", "hours", "factors"),
    [
        (
            "coast_windy_rain_168h.json",
            COAST,
            window("2025-10-25T00", "2025-10-31T23"),
            {"speed": 1 / 3.6, "rain": 1.0},
        ),
        (
            "winter_storm_336h_run1.json",
            STORM,
            window("2025-12-28T00", "2026-01-10T23"),
            {"speed": 1 / 3.6, "rain": 1.0},
        ),
        (
            "lake_imperial_units_192h.json",
            LAKE,
            window("2026-03-04T05", "2026-03-12T04"),
            {"speed": 0.44704, "rain": 25.4},
        ),
    ],
)
def test_hours_against_the_open_meteo_package(
    name: str, point: Point, hours: Window, factors: dict[str, float]
) -> None:
    """Oracle: the `open-meteo` package reads the same file; its stamp t is our row t or t - 1 h.

    Its stamps carry no zone; the one offset of the answer takes them to UTC, also across the
    clock change of 8 March 2026 in the lake's file.
    """
    table = read_answer(recorded(name), {"here": point}, hours).tables["here"]
    theirs, offset = other_hours(recorded(name))
    compared = dict.fromkeys(VARIABLES, 0)
    for at, local in enumerate(theirs.time):
        stamp = local.replace(tzinfo=UTC) - offset
        for variable, column in VARIABLES.items():
            values = getattr(theirs, variable)
            row = stamp - timedelta(hours=1) if variable in PRECEDING else stamp
            if values is None or row not in table.index:
                continue
            expected = in_our_units(variable, values[at], factors)
            if variable == "wind_gusts_10m" and expected is not None:
                # a gust below the mean wind of the row: the larger counts
                expected = float(np.fmax(expected, table.loc[row, "wind_speed"]))
            found = table.loc[row, column]
            if expected is None:
                assert np.isnan(found), (variable, row)
            else:
                assert found == pytest.approx(expected, abs=1e-9), (variable, row)
            compared[variable] += 1
    assert compared["temperature_2m"] == len(theirs.time)
    assert compared["precipitation"] == compared["wind_gusts_10m"] == len(theirs.time) - 1


def in_our_units(variable: str, value: float | None, factors: dict[str, float]) -> float | None:
    if value is None:
        return None
    if variable in ("wind_speed_10m", "wind_gusts_10m"):
        return value * factors["speed"]
    if variable == "precipitation":
        return value * factors["rain"]
    if variable == "temperature_2m" and factors["rain"] != 1.0:
        return (value - 32.0) / 1.8
    return value


def test_invented_service_keeps_the_convention() -> None:
    with InventedWeek(WEEK) as service:
        url = (
            f"{service.base_url}/v1/forecast?latitude=-45.96&longitude=167.69&elevation=612"
            "&hourly=precipitation,temperature_2m&wind_speed_unit=ms&start_date=2027-04-01"
            "&end_date=2027-04-02"
        )
        with urlopen(url) as reply:  # noqa: S310 - our own loopback address
            theirs, offset = other_hours(reply.read().decode())
        source = OpenMeteo(make_session(retries=0), base_url=service.base_url)
        hours = window("2027-03-31T23", "2027-04-02T23")
        table = source.hourly({"hask": PLACES["hask"]}, hours).tables["hask"]
    assert offset == timedelta(0)
    assert len(theirs.time) == 48
    assert max(theirs.precipitation) > 0.5
    for at, stamp in enumerate(theirs.time):
        row = pd.Timestamp(stamp, tz="UTC")
        covered = row - pd.Timedelta(hours=1)
        assert table.loc[covered, "precipitation_amount"] == theirs.precipitation[at]
        assert table.loc[row, "air_temperature"] == theirs.temperature_2m[at]
