"""Crosswind against a published kind of table, MetPy as oracle, and its symmetries."""

import metpy.calc
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from metpy.units import units

from replanner.hazards.track_wind import resolve_on_track
from tests.checks import CHECKS

CHECK = CHECKS["crosswind"]
SPEEDS = st.floats(0.0, 60.0)
ANGLES = st.floats(-720.0, 720.0)


@pytest.mark.parametrize(("speed", "blows_from", "track", "head", "cross"), CHECK["values"])
def test_table(speed: float, blows_from: float, track: float, head: float, cross: float) -> None:
    # Trigonometry of the crosswind component chart, FAA-H-8083-3; positive from the right.
    found = resolve_on_track(speed, blows_from, track)
    assert found.headwind == pytest.approx(head, abs=CHECK["tol"])
    assert found.crosswind == pytest.approx(cross, abs=CHECK["tol"])


def test_metpy_agrees_on_a_northward_track() -> None:
    # u is positive towards the east, v towards the north; the headwind of a northward track is
    # -v, a wind from the right (east) is -u.
    speed, blows_from = np.meshgrid(np.arange(0.0, 40.0, 5.0), np.arange(0.0, 360.0, 15.0))
    u, v = metpy.calc.wind_components(speed * units("m/s"), blows_from * units.deg)
    found = resolve_on_track(speed, blows_from, 0.0)
    assert found.headwind == pytest.approx(-v.magnitude, abs=1e-9)
    assert found.crosswind == pytest.approx(-u.magnitude, abs=1e-9)


@given(SPEEDS, ANGLES, ANGLES)
def test_turning_round_flips_both_signs(speed: float, blows_from: float, track: float) -> None:
    out, back = (resolve_on_track(speed, blows_from, track + turn) for turn in (0.0, 180.0))
    assert back.headwind == pytest.approx(-out.headwind, abs=1e-9)
    assert back.crosswind == pytest.approx(-out.crosswind, abs=1e-9)


@given(SPEEDS, ANGLES, ANGLES)
def test_components_rebuild_the_speed(speed: float, blows_from: float, track: float) -> None:
    found = resolve_on_track(speed, blows_from, track)
    assert np.hypot(found.headwind, found.crosswind) == pytest.approx(speed, abs=1e-9)


def test_hours_by_legs_and_gaps() -> None:
    found = resolve_on_track(np.array([[5.0], [np.nan]]), 270.0, np.array([0.0, 90.0, 180.0]))
    assert found.crosswind.shape == (2, 3)
    assert np.isnan(found.crosswind[1]).all()
    assert not np.isnan(found.crosswind[0]).any()


def test_refusals_name_argument_and_value() -> None:
    with pytest.raises(ValueError, match=r"speed must not be negative, got -1\.0"):
        resolve_on_track(-1.0, 0.0, 0.0)
    with pytest.raises(ValueError, match="broadcast"):
        resolve_on_track([1.0, 2.0], [0.0, 0.0, 0.0], 0.0)
