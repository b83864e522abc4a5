"""Recorded answers (tests/data/README.md) through the reader, and every way it refuses."""

import json
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pandas as pd
import pytest

from replanner.errors import ForecastError
from replanner.geodesy import Point
from replanner.sources.open_meteo_answer import read_answer
from replanner.weather.hourly import COLUMNS, Window
from tests.loopback import composed, recorded

COAST = Point(-37.75, 144.875, 19.0)
LAKE = Point(43.70455, -79.404625, 165.0)
STORM = Point(40.627975, -74.42501, 93.0)


def window(first: str, last: str) -> Window:
    return Window(
        datetime.fromisoformat(first).replace(tzinfo=UTC),
        datetime.fromisoformat(last).replace(tzinfo=UTC),
    )


WEEK = window("2025-10-25T00", "2025-10-31T23")


def table_of(body: str, point: Point, hours: Window) -> pd.DataFrame:
    return read_answer(body, {"here": point}, hours).tables["here"]


def changed(name: str, **hourly: Any) -> str:
    answer = json.loads(recorded(name))
    answer["hourly"] |= hourly
    return json.dumps(answer)


def test_last_row_has_no_hour_ahead_and_first_value_is_before_the_window() -> None:
    """The value stamped first covers the hour before the window; the last row's is not given."""
    table = table_of(recorded("coast_windy_rain_168h.json"), COAST, WEEK)
    assert np.isnan(table["precipitation_amount"].iloc[-1])
    assert not np.isnan(table["air_temperature"].iloc[-1])
    raw = json.loads(recorded("coast_windy_rain_168h.json"))["hourly"]["precipitation"]
    assert table["precipitation_amount"].iloc[0] == raw[1]


def test_gust_below_mean_wind_occurs_and_the_larger_counts() -> None:
    name = "winter_storm_336h_run1.json"
    raw = json.loads(recorded(name))["hourly"]
    below = [g < w for g, w in zip(raw["wind_gusts_10m"], raw["wind_speed_10m"], strict=True)]
    assert sum(below) == 16  # counted by tests/data/README.md's source
    table = table_of(recorded(name), STORM, window("2025-12-28T00", "2026-01-10T23"))
    known = table.dropna(subset=["wind_speed_of_gust"])
    assert (known["wind_speed_of_gust"] >= known["wind_speed"]).all()


def test_missing_gust_does_not_become_the_mean_wind() -> None:
    body = changed("coast_windy_rain_168h.json", wind_gusts_10m=[None] * 168)
    read = read_answer(body, {"here": COAST}, WEEK)
    assert read.tables["here"]["wind_speed_of_gust"].isna().all()
    assert read.tables["here"]["wind_speed"].notna().all()
    assert "Open-Meteo: no wind_gusts_10m at 1 of 1 points" in read.remarks


def test_every_column_is_there_and_what_the_service_lacks_is_unknown_and_told() -> None:
    read = read_answer(
        recorded("coast_wind_24h.json"),
        {"here": Point(43.78, 15.3, 0.0)},
        window("2026-07-07T22", "2026-07-08T21"),
    )
    table = read.tables["here"]
    assert list(table.columns) == list(COLUMNS)
    assert table["wind_speed"].notna().all()
    assert table["precipitation_amount"].isna().all()
    assert "Open-Meteo: no precipitation at 1 of 1 points" in read.remarks


def test_knots_by_hand() -> None:
    raw = json.loads(recorded("coast_wind_24h.json"))["hourly"]["wind_speed_10m"][0]
    table = table_of(
        recorded("coast_wind_24h.json"),
        Point(43.78, 15.3, 0.0),
        window("2026-07-07T22", "2026-07-07T22"),
    )
    assert table["wind_speed"].iloc[0] == pytest.approx(raw * 1852 / 3600)


def test_local_stamps_go_back_by_the_offset() -> None:
    """Asia/Tokyo, +9 h: the first stamp, local midnight of 19 July, is 15 h UTC of the 18th."""
    raw = json.loads(recorded("bay_24h_precip_prob_a.json"))["hourly"]
    table = table_of(
        recorded("bay_24h_precip_prob_a.json"),
        Point(35.6, 139.9, 3.0),
        window("2026-07-18T14", "2026-07-18T15"),
    )
    assert table["air_temperature"].tolist()[1] == raw["temperature_2m"][0]
    assert table["precipitation_probability"].tolist()[0] == raw["precipitation_probability"][0]


def test_each_place_keeps_its_own_hours_and_offset() -> None:
    """Places mostly share their stamps; one that does not must not be read by another's."""
    coast = json.loads(recorded("coast_windy_rain_168h.json"))
    later = json.loads(recorded("coast_windy_rain_168h.json"))
    later["utc_offset_seconds"] = coast["utc_offset_seconds"] - 3600
    shorter = json.loads(recorded("coast_windy_rain_168h.json"))
    shorter["hourly"] = {name: values[5:] for name, values in shorter["hourly"].items()}
    points = {"coast": COAST, "again": COAST, "later": COAST, "shorter": COAST}
    tables = read_answer(json.dumps([coast, coast, later, shorter]), points, WEEK).tables
    wind = {name: table["wind_speed"].to_numpy() for name, table in tables.items()}
    np.testing.assert_array_equal(wind["again"], wind["coast"])
    np.testing.assert_array_equal(wind["later"][1:], wind["coast"][:-1])
    np.testing.assert_array_equal(wind["shorter"][5:], wind["coast"][5:])
    assert np.isnan(wind["shorter"][:5]).all()


def test_older_names() -> None:
    table = table_of(
        recorded("forecast_1h_legacy_names.json"),
        Point(52.4, 4.9, 11.0),
        window("2026-07-10T22", "2026-07-10T22"),
    )
    raw = json.loads(recorded("forecast_1h_legacy_names.json"))["hourly"]
    assert table["wind_speed"].iloc[0] == pytest.approx(raw["windspeed_10m"][0] / 3.6)
    assert table["weather_code"].iloc[0] == raw["weathercode"][0]


def test_unix_seconds_say_the_same_as_iso_stamps() -> None:
    answer = json.loads(recorded("lake_imperial_units_192h.json"))
    offset = answer["utc_offset_seconds"]
    answer["hourly"]["time"] = [
        int(datetime.fromisoformat(stamp).replace(tzinfo=UTC).timestamp()) - offset
        for stamp in answer["hourly"]["time"]
    ]
    hours = window("2026-03-04T05", "2026-03-12T04")
    pd.testing.assert_frame_equal(
        table_of(json.dumps(answer), LAKE, hours),
        table_of(recorded("lake_imperial_units_192h.json"), LAKE, hours),
    )


def test_members_of_an_ensemble_are_not_mixed_in() -> None:
    raw = json.loads(recorded("ensemble_1h_members.json"))["hourly"]
    table = table_of(
        recorded("ensemble_1h_members.json"),
        Point(52.25, 5.0, 11.0),
        window("2026-07-10T22", "2026-07-10T22"),
    )
    assert table["air_temperature"].iloc[0] == raw["temperature_2m"][0]


def test_list_of_twelve_places_keeps_its_order() -> None:
    raw = json.loads(recorded("multi12_240h_temperature.json"))
    points = {f"p{at}": Point(p["latitude"], p["longitude"], 0.0) for at, p in enumerate(raw)}
    read = read_answer(
        recorded("multi12_240h_temperature.json"), points, window("2024-01-26T00", "2024-02-04T23")
    )
    for at, place in enumerate(raw):
        assert (
            read.tables[f"p{at}"]["air_temperature"].tolist() == place["hourly"]["temperature_2m"]
        )


def test_index_has_no_gap_and_hours_outside_the_cover_are_unknown() -> None:
    table = table_of(
        recorded("coast_windy_rain_168h.json"), COAST, window("2025-10-24T22", "2025-11-01T02")
    )
    assert (np.diff(table.index.to_numpy()) == np.timedelta64(1, "h")).all()
    assert table.loc[:"2025-10-24T23", "air_temperature"].isna().all()
    assert table.loc["2025-11-01T00":, "air_temperature"].isna().all()
    assert str(table.index.tz) == "UTC"


def test_impossible_values_are_unknown_and_told() -> None:
    raw = json.loads(recorded("coast_windy_rain_168h.json"))["hourly"]["temperature_2m"]
    body = changed("coast_windy_rain_168h.json", temperature_2m=[200.0, *raw[1:]])
    read = read_answer(body, {"here": COAST}, WEEK)
    assert np.isnan(read.tables["here"]["air_temperature"].iloc[0])
    assert "Open-Meteo: impossible temperature_2m dropped at 1 of 1 points" in read.remarks


def test_one_place_not_covered_among_two_is_unknown_and_told() -> None:
    """COMPOSED: a recorded answer and a recorded not-covered one, in one list."""
    body = f"[{recorded('coast_windy_rain_168h.json')}, {recorded('NOT_COVERED_nan.txt')}]"
    read = read_answer(body, {"a": COAST, "b": COAST}, WEEK)
    assert read.tables["b"].isna().all(axis=None)
    assert read.tables["a"]["air_temperature"].notna().all()
    assert "Open-Meteo: no hourly values at 1 of 2 points" in read.remarks


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("BROKEN_unequal_lengths_168_176.json", "weather_code has 176 values for 168 hours"),
        ("NOT_COVERED_nan.txt", "no hourly values for these places"),
        ("daily_only_nulls.json", "no hourly values for these places"),
        ("daily_073b9d.json", "no hourly values for these places"),
        ("m15_4steps_shortened.json", "no hourly values for these places"),
        ("error_400_5c7be9.json", "refused the question: Cannot initialize TemperatureUnit"),
        ("error_429_minutely.json", "refused the question: Minutely API request limit exceeded"),
    ],
)
def test_unsound_answers_are_refused_in_one_line(name: str, line: str) -> None:
    with pytest.raises(ForecastError) as caught:
        read_answer(recorded(name), {"here": COAST}, WEEK)
    assert line in str(caught.value)
    assert str(caught.value).startswith("Open-Meteo: ")
    assert "\n" not in str(caught.value)


def test_answer_with_none_of_our_variables_is_refused() -> None:
    places = json.loads(recorded("multi2_marine_wave_24h.json"))
    points = {str(at): Point(p["latitude"], p["longitude"], 0.0) for at, p in enumerate(places)}
    with pytest.raises(ForecastError, match="no hourly values for these places"):
        read_answer(
            recorded("multi2_marine_wave_24h.json"),
            points,
            window("2025-06-15T00", "2025-06-15T23"),
        )


COAST_FILE = "coast_windy_rain_168h.json"


def spoilt(old: str, new: str) -> str:
    body = recorded(COAST_FILE)
    assert old in body
    return body.replace(old, new)


@pytest.mark.parametrize(
    ("body", "line"),
    [
        ("", "not sound JSON"),
        ("<!DOCTYPE html><html>log in</html>", "a web page came instead"),
        ("7", "another form than agreed"),
        ("[]", "answered for 0 places, not for the 1 asked"),
        ('{"latitude": NaN}', "not sound JSON"),
        (recorded(COAST_FILE)[:5000], "may have broken off"),
        (composed(COAST_FILE, COAST_FILE), "for 2 places, not for the 1"),
        (changed(COAST_FILE, temperature_2m=["warm"] * 168), "is no number"),
        (changed(COAST_FILE, temperature_2m=7), "has no values for 168 hours"),
        (changed(COAST_FILE, time=["soon"] * 168), "hours cannot be read"),
        (changed(COAST_FILE, time=["2025-10-25T00:00"] * 168), "out of order"),
        (changed(COAST_FILE, cape=[0.0] * 168), "cape comes without a unit"),
        (spoilt("km/h", "furlongs"), "'furlongs' is not known"),
        (spoilt('_seconds":0', '_seconds":34200'), "not whole hours of UTC"),
        (spoilt('"latitude":-37.75', '"latitude":37.75'), "far from -37.75"),
        (spoilt('"latitude":-37.75,', ""), "does not say where"),
    ],
)
def test_spoilt_answers_are_refused_in_one_line(body: str, line: str) -> None:
    with pytest.raises(ForecastError) as caught:
        read_answer(body, {"here": COAST}, WEEK)
    assert line in str(caught.value)
    assert "\n" not in str(caught.value)


def test_window_must_carry_a_zone_and_run_forward() -> None:
    body = recorded("coast_windy_rain_168h.json")
    with pytest.raises(ValueError, match=r"window\.first must carry a time zone"):
        read_answer(body, {"here": COAST}, Window(datetime(2025, 10, 25), datetime(2025, 10, 26)))  # noqa: DTZ001 - the mistake itself
    with pytest.raises(ValueError, match="is before"):
        read_answer(body, {"here": COAST}, Window(WEEK.last, WEEK.first))
