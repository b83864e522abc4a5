"""Where the sun about stands, and on which side of noon, beside where it stands."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from replanner.geodesy import Point
from replanner.weather.sun import (
    hour_angle_of,
    may_stand_between,
    sun_position,
    whole_turns_off,
)

YEAR_MINUTES = 365 * 24 * 60


@given(st.floats(-90.0, 90.0), st.floats(-180.0, 180.0), st.integers(0, YEAR_MINUTES))
def test_the_sun_never_stands_where_it_may_not(
    latitude: float, longitude: float, minutes: int
) -> None:
    point = Point(latitude, longitude, 0.0)
    # ten minutes, each second of them: all there is between two nodes
    times = np.datetime64("2027-01-01T00:00:00", "s") + 60 * minutes + np.arange(600)
    height = sun_position(point, times).elevation
    for at in range(0, 600, 25):
        here = times[at : at + 1]
        assert may_stand_between(point, here, float(height[at]), float(height[at])).all()


def test_most_of_a_day_is_left_out() -> None:
    # independent of the figures: at the equator in March the sun climbs 15 degrees an hour
    point = Point(0.0, 0.0, 0.0)
    times = np.datetime64("2027-03-21T00:00:00", "s") + 60 * np.arange(24 * 60)
    may = may_stand_between(point, times, 0.0, 15.0)
    assert 2 * 60 <= may.sum() <= 2 * 60 + 4 * 25
    assert may_stand_between(point, times[:0], 0.0, 15.0).shape == (0,)


@given(st.lists(st.floats(-360.0, 720.0, allow_subnormal=False), min_size=1))
def test_whole_turns_are_taken_off_as_the_remainder_does_it(degrees: list[float]) -> None:
    angles = np.array(degrees)
    # to the last bit: no level hangs on which way it was worked out
    np.testing.assert_array_equal(whole_turns_off(angles), angles % 360.0)


@given(st.floats(-89.0, 89.0), st.floats(-180.0, 180.0), st.integers(0, YEAR_MINUTES))
def test_before_noon_the_sun_stands_in_the_east(
    latitude: float, longitude: float, minutes: int
) -> None:
    point = Point(latitude, longitude, 0.0)
    times = np.datetime64("2027-01-01T00:00:00", "s") + 60 * minutes + 173 * np.arange(500)
    azimuth, hour_angle = sun_position(point, times).azimuth, hour_angle_of(point, times)
    clear = np.abs(np.sin(np.radians(hour_angle))) > 1e-9  # due north or south by the last bit
    np.testing.assert_array_equal((azimuth < 180.0)[clear], (hour_angle < 0.0)[clear])
