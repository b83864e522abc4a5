"""The demo's invented service: the story its weather tells, through the real client."""

import json
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from threading import enumerate as threads
from urllib.error import HTTPError
from urllib.request import urlopen
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from replanner.errors import ForecastError, InputError
from replanner.geodesy import Point
from replanner.sources.http import make_session
from replanner.sources.invented import CREDIT, SERVICE, FetchedAt, InventedWeek
from replanner.sources.invented_week import load_invented
from replanner.sources.open_meteo import OpenMeteo
from replanner.weather.hourly import Forecast, Window
from tests.sources.demo_week import PLACES, WEEK

LOCAL = ZoneInfo("Pacific/Auckland")
ALL_DAYS = Window(datetime(2027, 3, 30, tzinfo=UTC), datetime(2027, 4, 5, 12, tzinfo=UTC))


@pytest.fixture(scope="module")
def service() -> Iterator[InventedWeek]:
    with InventedWeek(WEEK) as week:
        yield week


@pytest.fixture(scope="module")
def forecast(service: InventedWeek) -> Forecast:
    source = OpenMeteo(
        make_session(retries=0),
        base_url=service.base_url,
        service=SERVICE,
        credit=CREDIT,
        invented=True,
    )
    return source.hourly(PLACES, ALL_DAYS)


def local_day(forecast: Forecast, place: str, day: date) -> pd.DataFrame:
    """Return a local day's rows by local hour (the first of a doubled hour)."""
    table = forecast.tables[place].tz_convert(LOCAL)
    table = table[table.index.date == day]
    table.index = table.index.hour
    return table[~table.index.duplicated()]


def test_it_is_marked_invented_everywhere(forecast: Forecast) -> None:
    assert forecast.origin.invented
    assert "nvented" in forecast.origin.service
    assert "nvented" in forecast.origin.credit
    assert WEEK.read_text(encoding="utf-8").startswith("# INVENTED")


def test_every_place_has_every_value_at_every_hour(forecast: Forecast) -> None:
    assert forecast.remarks == ()
    for place, table in forecast.tables.items():
        assert table.notna().all(axis=None), place


def test_thursday_gusts_rise_on_the_inland_pass(forecast: Forecast) -> None:
    gust = local_day(forecast, "cindergate", date(2027, 4, 1))["wind_speed_of_gust"]
    assert gust[8] <= 12.0
    assert gust[15] >= 24.0
    assert gust.loc[9:17].is_monotonic_increasing
    rain = local_day(forecast, "cindergate", date(2027, 4, 1))["precipitation_amount"]
    assert rain.loc[6:14].sum() == 0.0


def test_friday_rain_ends_before_dawn_on_the_pass_and_at_eleven_on_the_coast(
    forecast: Forecast,
) -> None:
    hask = local_day(forecast, "hask", date(2027, 4, 2))
    assert (hask["precipitation_amount"].loc[1:5] >= 0.3).all()
    assert (hask["precipitation_amount"].loc[6:] == 0.0).all()
    assert hask["visibility_in_air"][14] > 10_000.0
    assert (hask["wind_speed_of_gust"].loc[14:18] < 9.0).all()
    base = local_day(forecast, "orrowick", date(2027, 4, 2))
    assert base["precipitation_amount"].loc[11:].sum() == 0.0


def test_saturday_wind_rises_in_the_afternoon(forecast: Forecast) -> None:
    for place in ("orrowick", "tolfen"):
        gust = local_day(forecast, place, date(2027, 4, 3))["wind_speed_of_gust"]
        assert gust[7] < 11.0
        assert gust[17] > 22.0
        assert gust.loc[7:17].is_monotonic_increasing


def test_sunday_fog_lies_in_the_valleys_early(forecast: Forecast) -> None:
    for place in ("umber", "pellow"):
        sight = local_day(forecast, place, date(2027, 4, 4))["visibility_in_air"]
        assert sight[7] < 1000.0
        assert sight[13] > 20_000.0
    assert local_day(forecast, "tolfen", date(2027, 4, 4))["visibility_in_air"][7] > 10_000.0


def test_monday_front_comes_from_the_south_west_in_the_afternoon(forecast: Forecast) -> None:
    """First at the south-western base, then at the eastern one, last on the plain."""
    arrival = {}
    for place in ("orrowick", "tolfen", "stonewell"):
        day = local_day(forecast, place, date(2027, 4, 5))
        arrival[place] = int(day.index[day["precipitation_amount"] > 2.0][0])
        assert 200 <= day["wind_from_direction"][arrival[place]] <= 225
        assert (day["precipitation_amount"].loc[6:8] == 0.0).all()
    assert arrival == {"orrowick": 12, "tolfen": 13, "stonewell": 18}


def test_temperature_falls_with_height(service: InventedWeek) -> None:
    """ICAO standard atmosphere: 6.5 K a kilometre."""
    source = OpenMeteo(make_session(retries=0), base_url=service.base_url)
    low, high = Point(-45.96, 167.69, 112.0), Point(-45.96, 167.69, 1112.0)
    tables = source.hourly({"low": low, "high": high}, ALL_DAYS).tables
    apart = tables["low"]["air_temperature"] - tables["high"]["air_temperature"]
    assert apart.to_numpy() == pytest.approx(6.5, abs=0.101)  # each rounded to 0.1
    assert (tables["high"]["dew_point_temperature"] <= tables["high"]["air_temperature"]).all()


def test_night_has_no_radiation_and_noon_has(forecast: Forecast) -> None:
    light = local_day(forecast, "tolfen", date(2027, 4, 4))[
        "surface_downwelling_shortwave_flux_in_air"
    ]
    assert light[2] == 0.0
    assert 400.0 < light[12] < 800.0


def test_rain_of_the_rows_is_neither_lost_nor_doubled() -> None:
    """The hours of Friday on the pass add up to the rows: 0.6 x 3 h + 0.3 x 2 h."""
    week = load_invented(WEEK)
    begin = datetime(2027, 4, 2, 1, tzinfo=LOCAL).timestamp()
    stamps = begin + 3600.0 * np.arange(1, 20)
    total = week.hourly(PLACES["hask"], stamps)["precipitation"].sum()
    assert total == pytest.approx(0.6 * 3 + 0.3 * 2)


def test_hours_outside_the_week_are_unknown(service: InventedWeek) -> None:
    source = OpenMeteo(make_session(retries=0), base_url=service.base_url)
    late = Window(datetime(2027, 4, 6, tzinfo=UTC), datetime(2027, 4, 7, tzinfo=UTC))
    table = source.hourly({"hask": PLACES["hask"]}, late).tables["hask"]
    assert table.iloc[0].notna().all()
    assert table.iloc[-1].isna().all()


def test_days_outside_the_week_are_refused_with_the_reason(service: InventedWeek) -> None:
    source = OpenMeteo(make_session(retries=0), base_url=service.base_url)
    other = Window(datetime(2027, 5, 6, tzinfo=UTC), datetime(2027, 5, 7, tzinfo=UTC))
    with pytest.raises(ForecastError, match=r"must lie within 2027-03-29 to 2027-04-06"):
        source.hourly({"hask": PLACES["hask"]}, other)


@pytest.mark.parametrize(
    "query",
    [
        "latitude=1&longitude=2&elevation=3&hourly=sunspots",
        "latitude=1&longitude=2&elevation=3&hourly=cape&wind_speed_unit=kn",
        "latitude=1&longitude=2,3&elevation=3&hourly=cape&wind_speed_unit=ms",
        "latitude=here&longitude=2&elevation=3&hourly=cape&wind_speed_unit=ms",
        "latitude=1&longitude=2&elevation=3&hourly=cape&wind_speed_unit=ms&timezone=auto",
        "latitude=1&longitude=2&elevation=3&hourly=cape&wind_speed_unit=ms&start_date=soon",
    ],
)
def test_bad_questions_get_400_with_a_reason(service: InventedWeek, query: str) -> None:
    with pytest.raises(HTTPError) as caught:
        urlopen(f"{service.base_url}/v1/forecast?{query}")  # noqa: S310 - our own loopback
    with caught.value as reply:
        assert reply.code == 400
        assert json.loads(reply.read())["error"] is True


def test_other_paths_are_not_found(service: InventedWeek) -> None:
    with pytest.raises(HTTPError) as caught:
        urlopen(f"{service.base_url}/")  # noqa: S310 - our own loopback
    with caught.value as reply:
        assert reply.code == 404


def test_it_stops_and_leaves_no_thread() -> None:
    before = set(threads())
    with InventedWeek(WEEK) as week:
        url = week.base_url
    assert set(threads()) <= before
    with pytest.raises(ForecastError, match="cannot be reached"):
        OpenMeteo(make_session(retries=0), base_url=url).hourly(PLACES, ALL_DAYS)


def test_an_invented_evening_has_its_own_time_of_fetching(service: InventedWeek) -> None:
    evening = datetime(2027, 4, 1, 19, tzinfo=LOCAL).astimezone(UTC)
    source = OpenMeteo(make_session(retries=0), base_url=service.base_url, invented=True)
    forecast = FetchedAt(source, evening).hourly({"hask": PLACES["hask"]}, ALL_DAYS)
    assert forecast.origin.fetched == evening
    assert forecast.origin.invented
    assert forecast.tables["hask"].notna().all(axis=None)


def test_two_local_days_before_the_first_are_covered(service: InventedWeek) -> None:
    """What a road remembers of rain is asked for from two days before the tour begins."""
    source = OpenMeteo(make_session(retries=0), base_url=service.base_url)
    first = datetime(2027, 3, 30, tzinfo=LOCAL)
    before = Window(first, datetime(2027, 4, 6, 12, tzinfo=LOCAL))
    for place, table in source.hourly(PLACES, before).tables.items():
        assert table.index[0] == pd.Timestamp(first)
        assert table.notna().all(axis=None), place


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("not toml", "the invented week cannot be read"),
        ('time_zone = "Nowhere/At_All"', "the invented week cannot be read"),
        ('time_zone = "UTC"\ncolumns = ["hour"]', "columns must be hour, wind_ms"),
    ],
)
def test_a_spoilt_week_is_refused_by_name(tmp_path: Path, text: str, line: str) -> None:
    path = tmp_path / "week.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        InventedWeek(path)
    assert str(caught.value).startswith(str(path))
    assert line in str(caught.value)
