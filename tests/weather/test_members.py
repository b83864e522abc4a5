"""Estimated members: what must hold of any of them. The figures are assumptions."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from replanner.weather.hourly import COLUMNS, PointHours
from replanner.weather.members import neighbours, spread_at

HOURS = 48
amounts = arrays.arrays(
    np.float64, HOURS, elements=st.one_of(st.floats(0.0, 40.0), st.just(float("nan")))
)
leads = st.floats(0.0, 240.0)


def hours(**columns: np.ndarray) -> PointHours:
    time = np.datetime64("2027-04-01T00:00:00", "s") + np.arange(HOURS) * np.timedelta64(3600, "s")
    return PointHours(time, columns)


@settings(max_examples=60, deadline=None)
@given(amounts, amounts, leads)
def test_properties(gust: np.ndarray, rain: np.ndarray, lead: float) -> None:
    given_hours = hours(
        wind_speed_of_gust=gust, precipitation_amount=rain, air_temperature=gust - 10.0
    )
    members = neighbours(given_hours, lead)
    again = neighbours(given_hours, lead)
    count = members.columns["wind_speed_of_gust"].shape[0]
    assert count > 1
    for name, column in members.columns.items():
        assert column.shape == (count, HOURS)
        np.testing.assert_array_equal(column[0], given_hours.columns[name])
        np.testing.assert_array_equal(column, again.columns[name])
        unknown = np.isnan(given_hours.columns[name])
        assert np.isnan(column[:, unknown]).all()
    for name in ("wind_speed_of_gust", "precipitation_amount"):
        known = members.columns[name][~np.isnan(members.columns[name])]
        assert (known >= 0.0).all()
    np.testing.assert_array_equal(members.time, given_hours.time)


@given(leads, leads)
def test_spread_grows_with_lead(one: float, other: float) -> None:
    near, far = spread_at(min(one, other)), spread_at(max(one, other))
    assert all(a <= b for a, b in zip(near, far, strict=True))
    assert near.shift_hours >= 0.0
    assert min(near.gust_share, near.rain_share) > 0.0
    assert max(far.gust_share, far.rain_share) < 1.0


def test_a_front_comes_earlier_and_later_with_all_it_brings() -> None:
    gust = np.where(np.arange(HOURS) < 24, 5.0, 20.0)
    rain = np.where(np.arange(HOURS) < 24, 0.0, 3.0)
    members = neighbours(hours(wind_speed_of_gust=gust, precipitation_amount=rain), 36.0)
    wet = members.columns["precipitation_amount"] > 0.0
    windy = members.columns["wind_speed_of_gust"] > 10.0
    np.testing.assert_array_equal(wet, windy)
    first = wet.argmax(axis=1)
    assert first[0] == 24
    assert first.min() < 24 < first.max()
    assert 24 - first.min() == first.max() - 24


def test_wider_a_week_ahead_than_tomorrow() -> None:
    gust = 10.0 + 8.0 * np.sin(np.arange(HOURS) / 5.0)
    apart = [
        np.ptp(neighbours(hours(wind_speed_of_gust=gust), lead).columns["wind_speed_of_gust"], 0)
        for lead in (0.0, 24.0, 144.0)
    ]
    assert apart[0].mean() < apart[1].mean() < apart[2].mean()


def test_the_middle_of_the_members_is_near_the_forecast() -> None:
    gust = np.linspace(5.0, 20.0, HOURS)
    members = neighbours(hours(wind_speed_of_gust=gust), 48.0).columns["wind_speed_of_gust"]
    inner = slice(6, -6)
    np.testing.assert_allclose(np.median(members, axis=0)[inner], gust[inner], rtol=0.05)


def test_temperature_is_not_moved() -> None:
    """Its course follows the sun, not the front."""
    warmth = np.sin(np.arange(HOURS))
    members = neighbours(hours(air_temperature=warmth), 120.0).columns["air_temperature"]
    assert (members == warmth).all()


def test_every_column_is_kept() -> None:
    columns = {name: np.ones(HOURS) for name in COLUMNS}
    assert set(neighbours(hours(**columns), 12.0).columns) == set(COLUMNS)


@pytest.mark.parametrize("lead", [-1.0, float("nan")])
def test_a_lead_that_cannot_be_is_refused(lead: float) -> None:
    with pytest.raises(ValueError, match="lead_hours must not be negative"):
        neighbours(hours(air_temperature=np.ones(HOURS)), lead)


def test_members_of_members_are_refused() -> None:
    with pytest.raises(ValueError, match="air_temperature already holds members"):
        neighbours(hours(air_temperature=np.ones((2, HOURS))), 12.0)
