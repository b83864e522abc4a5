"""Gust, crosswind, mean wind, spread and the crossing."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.hazards import crosswind, gust, gust_spread, mean_wind, stopped_crossing
from replanner.hazards.limits import Limits
from replanner.hazards.model import Party
from replanner.hazards.track_wind import off_nearest, resolve_on_track
from replanner.trip.model import Exposure, LegKind
from tests.hazards.conftest import a_stretch, fair


@pytest.mark.parametrize(
    ("blows", "expected"),
    # Maryland bridges 30 and 40 mph, Severn bridge 40 kt (see tests/published/test_limits.py).
    [(13.4, 2.0), (17.9, 3.0), (20.6, 4.0), (30.0, 4.0), (7.0, 0.0)],
)
def test_gust_levels(limits: Limits, blows: float, expected: float) -> None:
    reading = gust.assess(a_stretch(), fair(wind_speed_of_gust=blows), Party(), limits)
    assert reading is not None
    assert reading.level[0] == pytest.approx(expected)
    assert reading.value[0] == blows


def test_a_gust_below_the_mean_counts_as_the_mean(limits: Limits) -> None:
    # It occurs in real answers: the larger counts (forecast services, measured).
    reading = gust.assess(
        a_stretch(), fair(wind_speed=14.0, wind_speed_of_gust=9.0), Party(), limits
    )
    assert reading is not None
    assert reading.value[0] == 14.0


def test_a_missing_gust_is_unknown_unless_the_mean_is_too_much(limits: Limits) -> None:
    weather = fair(2, wind_speed=[5.0, 15.0], wind_speed_of_gust=np.nan)
    reading = gust.assess(a_stretch(), weather, Party(), limits)
    assert reading is not None
    assert np.isnan(reading.level[0])
    assert reading.level[1] > 2


def test_lee_gusts_on_a_high_exposed_road_only(limits: Limits) -> None:
    # Gust factor 1.6 and more in the lee, mean above 10 m/s (Meteorol. Z. 13/2, 2004).
    weather = fair(2, wind_speed=[10.0, 12.0], wind_speed_of_gust=13.0)
    ridge = gust.assess(a_stretch(exposure=Exposure.EXPOSED), weather, Party(), limits)
    low = gust.assess(a_stretch(exposure=Exposure.EXPOSED, climb_m=50.0), weather, Party(), limits)
    assert ridge is not None
    assert low is not None
    assert ridge.value == pytest.approx([13.0, 19.2])
    assert low.value == pytest.approx([13.0, 13.0])


def test_crosswind_takes_the_worst_heading(limits: Limits) -> None:
    weather = fair(wind_speed_of_gust=16.0, wind_from_direction=0.0)
    north = crosswind.assess(a_stretch(headings_deg=(0.0,)), weather, Party(), limits)
    bends = crosswind.assess(a_stretch(headings_deg=(0.0, 60.0, 90.0)), weather, Party(), limits)
    assert north is not None
    assert bends is not None
    assert north.level[0] == 0
    assert bends.value[0] == pytest.approx(16.0)
    assert bends.level[0] > 3


def test_heading_or_direction_unknown_takes_the_whole_gust(limits: Limits) -> None:
    weather = fair(2, wind_speed_of_gust=16.0, wind_from_direction=[0.0, np.nan])
    unknown = crosswind.assess(a_stretch(headings_deg=()), weather, Party(), limits)
    known = crosswind.assess(a_stretch(headings_deg=(0.0,)), weather, Party(), limits)
    assert unknown is not None
    assert known is not None
    assert unknown.value == pytest.approx([16.0, 16.0])
    assert known.value == pytest.approx([0.0, 16.0], abs=1e-9)


def test_own_limit_and_shift_only_tighten(limits: Limits) -> None:
    # A rider of 15.6 m/s (35 mph) own limit, newer: 10.4 m/s stays the caution.
    party = Party(wind_shift=-3.0, own_limits={"gust": (15.6, 25.0, None)})
    reading = gust.assess(a_stretch(), fair(wind_speed_of_gust=10.4), party, limits)
    assert reading is not None
    assert reading.level[0] == pytest.approx(2.0)
    assert reading.limit.avoid == pytest.approx(14.9)
    keen = Party(own_limits={"gust": (None, 9.0, None)})
    reading = gust.assess(a_stretch(), fair(wind_speed_of_gust=9.0), keen, limits)
    assert reading is not None
    assert reading.level[0] == pytest.approx(3.0)


def test_mean_and_spread(limits: Limits) -> None:
    weather = fair(2, wind_speed=[13.4, 8.0], wind_speed_of_gust=[15.0, 18.0])
    mean = mean_wind.assess(a_stretch(), weather, Party(), limits)
    spread = gust_spread.assess(a_stretch(), weather, Party(), limits)
    assert mean is not None
    assert spread is not None
    assert mean.level[0] == pytest.approx(2.0)
    assert spread.level == pytest.approx([0.0, 3.0])


def test_a_wind_that_rises_within_the_hour_is_no_sudden_gust(limits: Limits) -> None:
    """The gust of 08:00 to 09:00 is that of the wind at 09:00, not of the calm at 08:00."""
    rising = fair(3, wind_speed=[2.0, 10.0, 10.0], wind_speed_of_gust=[14.0, 14.0, 20.0])
    spread = gust_spread.assess(a_stretch(), rising, Party(), limits)
    assert spread is not None
    assert spread.value == pytest.approx([4.0, 4.0, 10.0])  # after the last hour nothing is known
    gap = fair(3, wind_speed=[2.0, np.nan, 10.0], wind_speed_of_gust=[14.0, 14.0, 20.0])
    spread = gust_spread.assess(a_stretch(), gap, Party(), limits)
    assert spread is not None
    assert spread.value[0] == 12.0
    assert np.isnan(spread.value[1])


def test_a_crossing_stops_at_its_own_gust(limits: Limits) -> None:
    boat = a_stretch(surface="water", leg_kind=LegKind.CROSSING, ferry_gust_limit=20.0)
    weather = fair(4, wind_speed_of_gust=[10.0, 16.0, 18.0, 20.0])
    reading = stopped_crossing.assess(boat, weather, Party(), limits)
    assert reading is not None
    assert reading.level == pytest.approx([0.0, 2.0, 3.0, 4.0])


def test_a_crossing_without_a_known_limit_goes_by_gale_and_strong_wind(limits: Limits) -> None:
    # 20 and 34 kt, marine warning classes.
    boat = a_stretch(surface="water", leg_kind=LegKind.CROSSING)
    reading = stopped_crossing.assess(
        boat, fair(3, wind_speed_of_gust=[10.3, 17.5, np.nan]), Party(), limits
    )
    assert reading is not None
    assert reading.level == pytest.approx([2.0, 3.0, np.nan], nan_ok=True)


def test_roads_have_no_crossing_and_crossings_no_road(limits: Limits) -> None:
    boat = a_stretch(surface="water", leg_kind=LegKind.CROSSING)
    assert stopped_crossing.assess(a_stretch(), fair(), Party(), limits) is None
    assert gust.assess(boat, fair(), Party(), limits) is None


DEGREES = st.floats(-400.0, 800.0)


@given(st.lists(DEGREES, min_size=1, max_size=40), st.lists(DEGREES, min_size=1, max_size=5))
def test_the_nearest_heading_decides(headings: list[float], blows: list[float]) -> None:
    # all headings are the oracle: the nearest one for the sun, the one most across for the wind
    tracks, directions = np.array(headings), np.array(blows)
    apart = np.abs((directions[:, None] - tracks + 180.0) % 360.0 - 180.0)
    nearest = off_nearest(directions, tracks, 360.0)
    np.testing.assert_allclose(nearest, apart.min(axis=-1), atol=1e-9)
    across = np.abs(resolve_on_track(1.0, directions[:, None], tracks).crosswind)
    most = np.cos(np.radians(off_nearest(directions, tracks + 90.0, 180.0)))
    np.testing.assert_allclose(most, across.max(axis=-1), atol=1e-9)
