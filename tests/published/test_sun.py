"""The sun against the outside world; each source stands in tests/data/checks.json or here."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
import skyfield_data
from pvlib import solarposition
from skyfield import almanac
from skyfield.api import Loader, wgs84
from skyfield.timelib import Timescale

from replanner.geodesy import Point
from replanner.weather.daylight import Daylight, daylight, sun_position
from replanner.weather.sun import geometric_position
from tests.checks import CHECKS

UTC_ZONE = ZoneInfo("UTC")
EVENTS = ("civil_dawn", "sunrise", "sunset", "civil_dusk")


def seconds_inside(ours: datetime | None, published: datetime, event: str) -> float:
    """Return by how much our event makes the day shorter than the published one."""
    assert ours is not None, event
    inward = 1 if event in ("civil_dawn", "sunrise") else -1
    return inward * (ours - published).total_seconds()


def zone_of(hours: float) -> ZoneInfo:
    return UTC_ZONE if hours == 0 else ZoneInfo(f"Etc/GMT{-int(hours):+d}")


GOLDEN = CHECKS["sun_golden_skyfield_de421"]["values"]


@pytest.mark.parametrize("golden", GOLDEN, ids=lambda golden: f"{golden['lat']} {golden['date']}")
def test_golden_days_of_skyfield_never_shorter_than_told(golden: dict[str, object]) -> None:
    """Inwards by rounding (60 s) and a guard; never outwards by a second."""
    point = Point(float(golden["lat"]), float(golden["lon"]), 0.0)
    told = daylight(point, date.fromisoformat(golden["date"]), zone_of(golden["local_offset_h"]))
    for event in EVENTS:
        published = golden[f"{event}_utc"]
        if published is None:
            assert getattr(told, event) is None
            continue
        instant = datetime.fromisoformat(published).replace(tzinfo=UTC)
        inside = seconds_inside(getattr(told, event), instant, event)
        assert 0.0 <= inside <= (75.0 if abs(point.latitude) <= 55 else 90.0), (event, inside)


def test_there_are_36_golden_days() -> None:
    assert len(GOLDEN) == 36


def test_nrel_worked_example() -> None:
    """Reda and Andreas, NREL/TP-560-34302, table A5.1."""
    check = CHECKS["sun_nrel_spa"]
    place, published = check["input"], check["output"]
    moment = np.array(["2003-10-17T19:30:30"], "datetime64[s]")
    point = Point(place["lat"], place["lon"], place["alt_m"])
    found = geometric_position(point, moment)
    assert found.elevation[0] == pytest.approx(published["elevation"], abs=0.01)
    assert found.azimuth[0] == pytest.approx(published["azimuth"], abs=0.01)
    apparent = sun_position(point, moment)
    assert apparent.elevation[0] == pytest.approx(published["apparent_elevation"], abs=0.02)


def test_nrel_example_sunset_is_the_evening_of_the_local_day() -> None:
    """The published 17:20:19 is the evening before (the event inside the UTC day)."""
    point = Point(39.742476, -105.1786, 1830.0)
    told = daylight(point, date(2003, 10, 17), ZoneInfo("America/Denver"))
    mst = timedelta(hours=-7)
    sunrise = datetime(2003, 10, 17, 6, 12, 43, tzinfo=UTC) - mst
    sunset = datetime(2003, 10, 17, 17, 18, 51, tzinfo=UTC) - mst  # skyfield, see checks.json
    assert 0 <= seconds_inside(told.sunrise, sunrise, "sunrise") <= 75
    assert 0 <= seconds_inside(told.sunset, sunset, "sunset") <= 75


@pytest.mark.parametrize("check", CHECKS["sun_spa_rise_set_checks"]["values"])
def test_spa_calculator_rise_and_set(check: dict[str, object]) -> None:
    """NREL SPA calculator, quoted by pvlib's tests; tolerance 30 s besides the rounding."""
    day = date.fromisoformat(check["date"])
    told = daylight(Point(check["lat"], check["lon"], 0.0), day, UTC_ZONE)
    for event in ("sunrise", "sunset"):
        published = datetime.combine(day, time.fromisoformat(check[event]), UTC)
        assert -30 <= seconds_inside(getattr(told, event), published, event) <= 90


@pytest.mark.parametrize("row", CHECKS["sun_usno_checks"]["values"])
def test_usno_times(row: list[str]) -> None:
    """US Naval Observatory, whole minutes, quoted by pvlib's tests; half a minute of rounding."""
    place = CHECKS["sun_usno_checks"]["place"]
    day = date.fromisoformat(row[0])
    told = daylight(Point(place["lat"], place["lon"], 0.0), day, ZoneInfo("Etc/GMT+7"))
    for event, wall in (("sunrise", row[1]), ("sunset", row[3])):
        published = datetime.combine(day, time.fromisoformat(wall), ZoneInfo("Etc/GMT+7"))
        assert -30 <= seconds_inside(getattr(told, event), published, event) <= 100


@pytest.mark.parametrize("row", CHECKS["sun_position_low"]["values"])
def test_low_sun(row: list[float | str]) -> None:
    """pvlib's SPA at sea level; tolerance of checks.json for astral 0.02 degrees."""
    latitude, longitude, moment, true, apparent, azimuth = row
    times = np.array([str(moment).removesuffix("Z")], "datetime64[s]")
    point = Point(float(latitude), float(longitude), 0.0)
    assert geometric_position(point, times).elevation[0] == pytest.approx(true, abs=0.01)
    found = sun_position(point, times)
    assert found.elevation[0] == pytest.approx(apparent, abs=0.01)
    assert found.azimuth[0] == pytest.approx(azimuth, abs=0.01)


@pytest.mark.parametrize("latitude", [-80.0, -46.36, 0.0, 35.0, 60.0, 69.0])
def test_position_against_pvlib_all_year(latitude: float) -> None:
    """Oracle: pvlib's NREL SPA. Our whole error, nodes and refraction included, measured here."""
    times = np.datetime64("2027-01-01T00:07:31") + np.arange(0, 365 * 24, 7) * np.timedelta64(
        1, "h"
    )
    found = sun_position(Point(latitude, 168.02, 0.0), times)
    oracle = solarposition.spa_python(
        pd.DatetimeIndex(times).tz_localize("UTC"), latitude, 168.02, altitude=0
    )
    seen = oracle["elevation"].to_numpy() > -0.5
    apart = np.abs(found.elevation - oracle["apparent_elevation"].to_numpy())
    assert seen.sum() > 400
    assert apart[seen].max() < 0.02
    turn = (found.azimuth - oracle["azimuth"].to_numpy() + 180.0) % 360.0 - 180.0
    level = np.abs(oracle["elevation"].to_numpy()) < 60.0
    assert np.abs(turn[level]).max() < 0.03


class Sky(NamedTuple):
    """skyfield's sun, from the ephemeris DE421 that skyfield-data carries."""

    planets: Any
    scale: Timescale

    def degrees(self, point: Point, moments: Any) -> Any:
        place = self.planets["earth"] + wgs84.latlon(point.latitude, point.longitude)
        return place.at(moments).observe(self.planets["sun"]).apparent().altaz()[0].degrees


@pytest.fixture(scope="module")
def sky() -> Iterator[Sky]:
    # skyfield-data's own function warns that tables of earth rotation are old; DE421 is not
    loader = Loader(str(Path(skyfield_data.__file__).parent / "data"), verbose=False)
    planets = loader("de421.bsp")
    yield Sky(planets, loader.timescale(builtin=True))
    planets.close()


def crossings(
    sky: Sky, point: Point, degrees: float, begin: datetime, hours: float
) -> list[tuple[datetime, bool]]:
    """Return (instant, rising) of the sun crossing an elevation, by skyfield."""

    def is_up(moment: object) -> object:
        return sky.degrees(point, moment) > degrees

    is_up.step_days = 0.004
    found = almanac.find_discrete(
        sky.scale.from_datetime(begin),
        sky.scale.from_datetime(begin + timedelta(hours=hours)),
        is_up,
    )
    return [(at.utc_datetime(), bool(up)) for at, up in zip(*found, strict=True)]


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone", "day"),
    [
        (-46.36, 168.02, "Pacific/Auckland", date(2027, 4, 2)),
        (-46.45, 169.69, "Pacific/Auckland", date(2027, 4, 4)),  # the clock goes back
        (47.6, -122.3, "America/Los_Angeles", date(2027, 7, 1)),  # dusk falls on the next UTC day
        (65.0, -18.0, "Atlantic/Reykjavik", date(2027, 6, 1)),  # sunset near local midnight
        (60.4, 5.3, "Europe/Oslo", date(2027, 12, 21)),
        (0.0, 179.9, "Pacific/Auckland", date(2027, 10, 5)),
    ],
)
def test_live_against_skyfield(
    sky: Sky, latitude: float, longitude: float, zone: str, day: date
) -> None:
    point, local = Point(latitude, longitude, 0.0), ZoneInfo(zone)
    told = daylight(point, day, local)
    # from before dawn: the crossings of the solar day whose noon is on this date
    begin = datetime.combine(day, time(12), UTC) - timedelta(hours=longitude / 15 + 12)
    for degrees, rise, fall in ((-0.8333, "sunrise", "sunset"), (-6.0, "civil_dawn", "civil_dusk")):
        found = crossings(sky, point, degrees, begin, 24.0)
        ups = [at for at, rising in found if rising]
        downs = [at for at, rising in found if not rising]
        if not ups and not downs:
            assert getattr(told, rise) is None
            continue
        assert 0 <= seconds_inside(getattr(told, rise), ups[-1], rise) <= 120
        assert 0 <= seconds_inside(getattr(told, fall), downs[-1], fall) <= 120


@pytest.mark.parametrize("latitude", [66.0, 67.0, 68.5, 70.0])
def test_polar_transition_against_skyfield(sky: Sky, latitude: float) -> None:
    """astral's event routines invent and deny events here; elevation does not.

    Within 0.05 degrees of never crossing at all the two may differ: the air varies by more.
    """
    point = Point(latitude, 20.0, 0.0)
    compared = 0
    for day in [date(2027, 5, 10) + timedelta(days=k) for k in range(0, 40, 4)]:
        minutes = datetime.combine(day, time(22, 40), UTC) - timedelta(days=1)
        grid = sky.scale.from_datetimes([minutes + timedelta(minutes=10 * k) for k in range(145)])
        lowest = float(np.min(sky.degrees(point, grid)))
        told = daylight(point, day, ZoneInfo("Europe/Oslo"))
        if abs(lowest + 0.8333) > 0.3:  # the night's end differs from its beginning by up to 0.3
            assert (told.sunset is None) == (lowest > -0.8333), (day, lowest)
            compared += 1
        if abs(lowest + 6.0) > 0.3:
            assert told.always_light == (lowest > -6.0), (day, lowest)
            compared += 1
    assert compared >= 12


def test_polar_night_against_common_knowledge() -> None:
    """Longyearbyen has no civil twilight from mid November to end of January (from memory)."""
    told = daylight(Point(78.22, 15.63, 0.0), date(2027, 12, 21), ZoneInfo("Arctic/Longyearbyen"))
    assert told == Daylight(
        date=date(2027, 12, 21),
        civil_dawn=None,
        sunrise=None,
        sunset=None,
        civil_dusk=None,
        never_light=True,
    )
