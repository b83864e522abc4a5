"""Units: exact definitions (SI Brochure, NIST SP 811 appendix B) and refusals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from metpy.units import units

from replanner.units import to_inside

# NIST SP 811 (2008), appendix B.8, to the digits printed there
NIST = [
    ("mp/h", "m/s", 4.4704e-01),
    ("km/h", "m/s", 2.777778e-01),
    ("kn", "m/s", 5.144444e-01),
    ("inch", "mm", 25.4),
    ("ft", "m", 3.048e-01),
]


@pytest.mark.parametrize(("unit", "inside", "factor"), NIST)
def test_factors_of_nist(unit: str, inside: str, factor: float) -> None:
    assert float(to_inside(1.0, unit, inside)) == pytest.approx(factor, rel=5e-7)


@pytest.mark.parametrize(("fahrenheit", "celsius"), [(32.0, 0.0), (212.0, 100.0), (-40.0, -40.0)])
def test_fixed_points_of_fahrenheit(fahrenheit: float, celsius: float) -> None:
    """By definition: water freezes at 32 and boils at 212 degF; the scales meet at -40."""
    assert float(to_inside(fahrenheit, "°F", "degC")) == pytest.approx(celsius, abs=1e-12)


@given(st.floats(-100.0, 400.0))
def test_against_pint(value: float) -> None:
    """Oracle: pint, as MetPy sets it up."""
    for unit, theirs, inside, target in (
        ("°F", "degF", "degC", "degC"),
        ("mp/h", "mile/hour", "m/s", "m/s"),
        ("kn", "knot", "m/s", "m/s"),
        ("inch", "inch", "mm", "mm"),
        ("ft", "foot", "m", "m"),
    ):
        expected = units.Quantity(value, theirs).to(target).magnitude
        assert float(to_inside(value, unit, inside)) == pytest.approx(expected, rel=1e-6, abs=1e-9)


def test_missing_stays_missing_and_shape_is_kept() -> None:
    found = to_inside([[1.0, np.nan], [2.0, 3.0]], "km/h", "m/s")
    assert found.shape == (2, 2)
    assert np.isnan(found).tolist() == [[False, True], [False, False]]


@pytest.mark.parametrize("unit", ["furlongs", "", "M/S", "mph "])
def test_unknown_unit_is_refused_by_name(unit: str) -> None:
    with pytest.raises(ValueError, match=f"unit {unit!r} is not known"):
        to_inside(1.0, unit, "m/s")


def test_unit_of_something_else_is_refused() -> None:
    with pytest.raises(ValueError, match="'mm' does not measure m/s"):
        to_inside(1.0, "mm", "m/s")
