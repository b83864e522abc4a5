"""Traps of daylight: dates, zones, poles, rounding, refusals."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.geodesy import Point
from replanner.weather.daylight import (
    daylight,
    minutes_to_dusk,
    minutes_to_sunset,
    sun_position,
)
from replanner.weather.sun import geometric_position

COAST = Point(-46.36, 168.02, 8.0)
AUCKLAND = ZoneInfo("Pacific/Auckland")


def instants(*texts: str) -> np.ndarray:
    return np.array(texts, "datetime64[s]")


def test_western_evening_belongs_to_the_local_date() -> None:
    """astral gives the evening before when asked in UTC."""
    told = daylight(Point(39.74, -105.18, 0.0), date(2027, 7, 1), ZoneInfo("America/Denver"))
    assert told.sunset is not None
    assert told.sunset.astimezone(ZoneInfo("America/Denver")).date() == date(2027, 7, 1)
    assert told.sunset.date() == date(2027, 7, 2)  # of UTC


def test_sunset_after_local_midnight_follows_its_own_sunrise() -> None:
    """At 65 degrees north in June astral puts it before the sunrise of the same date."""
    zone = ZoneInfo("Atlantic/Reykjavik")
    told = daylight(Point(65.7, -18.1, 0.0), date(2027, 6, 20), zone)
    assert told.sunrise is not None
    assert told.sunset is not None
    assert told.sunset.astimezone(zone).date() == date(2027, 6, 21)
    assert timedelta(hours=21) < told.sunset - told.sunrise < timedelta(hours=24)


def test_polar_day() -> None:
    told = daylight(Point(70.0, 25.0, 0.0), date(2027, 6, 21), ZoneInfo("Europe/Oslo"))
    assert told.always_light
    assert not told.never_light
    assert told.sunset is None
    assert told.civil_dusk is None


def test_white_night_has_a_sunset_but_no_dusk() -> None:
    told = daylight(Point(62.0, 25.0, 0.0), date(2027, 6, 21), ZoneInfo("Europe/Helsinki"))
    assert told.always_light
    assert told.sunset is not None


def test_polar_night_with_twilight_has_a_dusk_but_no_sunset() -> None:
    told = daylight(Point(69.0, 20.0, 0.0), date(2027, 12, 21), ZoneInfo("Europe/Oslo"))
    assert told.sunrise is None
    assert told.civil_dusk is not None
    assert not told.never_light


def test_clock_change_moves_the_wall_not_the_sun() -> None:
    """The clocks go back on 4 April 2027: sunset is an hour earlier by the wall."""
    before = daylight(COAST, date(2027, 4, 3), AUCKLAND).sunset
    after = daylight(COAST, date(2027, 4, 4), AUCKLAND).sunset
    assert before is not None
    assert after is not None
    assert timedelta(hours=23, minutes=57) < after - before < timedelta(hours=24)
    assert (before.astimezone(AUCKLAND).hour, after.astimezone(AUCKLAND).hour) == (19, 18)


def test_elevation_of_the_point_does_not_lengthen_the_day() -> None:
    assert daylight(COAST._replace(elevation=3000.0), date(2027, 4, 3), AUCKLAND) == daylight(
        COAST, date(2027, 4, 3), AUCKLAND
    )


@pytest.mark.parametrize(
    "point", [Point(91.0, 0.0, 0.0), Point(-90.5, 0.0, 0.0), Point(float("nan"), 0.0, 0.0)]
)
def test_latitude_off_the_earth_is_refused(point: Point) -> None:
    with pytest.raises(ValueError, match="latitude must lie within"):
        daylight(point, date(2027, 4, 3), AUCKLAND)
    with pytest.raises(ValueError, match="latitude must lie within"):
        sun_position(point, instants("2027-04-03T00:00"))
    with pytest.raises(ValueError, match="latitude must lie within"):
        minutes_to_dusk(point, instants("2027-04-03T00:00"))


def test_longitude_off_the_earth_is_refused() -> None:
    with pytest.raises(ValueError, match=r"longitude .* got 181.0"):
        daylight(Point(0.0, 181.0, 0.0), date(2027, 4, 3), AUCKLAND)


def test_datetime_for_a_date_is_refused() -> None:
    with pytest.raises(TypeError, match="day must be a date"):
        daylight(COAST, datetime(2027, 4, 3, 23, tzinfo=UTC), AUCKLAND)


def test_no_instants() -> None:
    empty = np.array([], "datetime64[s]")
    assert sun_position(COAST, empty).elevation.shape == (0,)
    assert minutes_to_dusk(COAST, empty).shape == (0,)


latitudes = st.floats(-89.9, 89.9)
longitudes = st.floats(-180.0, 180.0)
days = st.dates(date(2024, 1, 1), date(2035, 12, 31))


@settings(max_examples=60, deadline=None)
@given(latitudes, longitudes, days)
def test_told_light_is_light(latitude: float, longitude: float, day: date) -> None:
    """Whatever is told as light is above the limit; events are whole minutes and in order."""
    point = Point(latitude, longitude, 0.0)
    told = daylight(point, day, ZoneInfo("UTC"))
    for begin, end, limit in (
        (told.sunrise, told.sunset, -0.8333),
        (told.civil_dawn, told.civil_dusk, -6.0),
    ):
        assert (begin is None) == (end is None)
        if begin is None or end is None:
            continue
        assert begin.second == end.second == 0
        if begin > end:  # the sun shows for less than the minute it is rounded by
            assert begin - end <= timedelta(minutes=1)
            continue
        inside = begin + (end - begin) * np.linspace(0, 1, 97)
        times = np.array([moment.replace(tzinfo=None) for moment in inside], "datetime64[s]")
        assert geometric_position(point, times).elevation.min() > limit
    if told.sunset and told.civil_dusk and told.sunrise and told.civil_dawn:
        assert told.civil_dawn <= told.sunrise
        assert told.sunset <= told.civil_dusk


@settings(max_examples=40, deadline=None)
@given(latitudes, longitudes, days)
def test_minutes_agree_with_the_events(latitude: float, longitude: float, day: date) -> None:
    point = Point(latitude, longitude, 0.0)
    told = daylight(point, day, ZoneInfo("UTC"))
    noon = np.datetime64(day, "s") + np.timedelta64(12, "h")
    if told.civil_dusk is None or told.civil_dawn is None:
        sky = minutes_to_dusk(point, np.array([noon]))[0]
        assert sky == (np.inf if told.always_light else -np.inf)
        return
    dusk = np.datetime64(told.civil_dusk.replace(tzinfo=None), "s")
    dawn = np.datetime64(told.civil_dawn.replace(tzinfo=None), "s")
    if dusk - dawn < np.timedelta64(10, "m"):
        return
    at = np.array([dusk - np.timedelta64(300, "s"), dawn])
    assert minutes_to_dusk(point, at)[0] == 5.0
    assert minutes_to_dusk(point, at)[1] == (dusk - dawn) / np.timedelta64(60, "s")


def test_minutes_through_a_day_and_a_night() -> None:
    told = daylight(COAST, date(2027, 4, 2), AUCKLAND)
    assert told.civil_dusk is not None
    assert told.civil_dawn is not None
    assert told.sunset is not None
    dusk = np.datetime64(told.civil_dusk.replace(tzinfo=None), "s")
    dawn = np.datetime64(told.civil_dawn.replace(tzinfo=None), "s")
    minute = np.timedelta64(60, "s")
    times = np.array([dawn - 30 * minute, dusk - 60 * minute, dusk, dusk + 90 * minute])
    assert minutes_to_dusk(COAST, times).tolist() == [-30.0, 60.0, 0.0, -90.0]
    gap = (told.civil_dusk - told.sunset).total_seconds() / 60
    assert minutes_to_sunset(COAST, times[1:2])[0] == 60.0 - gap


def test_shape_is_kept() -> None:
    times = np.datetime64("2027-04-01T00:00", "s") + np.arange(6).reshape(2, 3) * np.timedelta64(
        3600, "s"
    )
    assert minutes_to_dusk(COAST, times).shape == (2, 3)
    assert sun_position(COAST, times).azimuth.shape == (2, 3)


def test_sun_goes_the_southern_way_round() -> None:
    """South of the tropics the sun stands in the north at noon and sets west of it."""
    at = sun_position(COAST, instants("2027-04-02T00:50", "2027-04-02T05:30"))
    assert abs((at.azimuth[0] + 180) % 360 - 180) < 5
    assert 270 < at.azimuth[1] < 300
