"""Wind chill 2001 against its published charts, and against MetPy as an independent library."""

import math

import metpy.calc
import numpy as np
import pytest
from metpy.units import units

from replanner.hazards.felt import wind_chill, wind_chill_extrapolated, wind_chill_riding
from tests.checks import CHECKS


def half_away(value: float) -> int:
    """Round to whole degrees, halves away from zero, as the chart does."""
    return int(math.copysign(math.floor(abs(value) + 0.5), value))


def test_every_cell_of_the_chart() -> None:
    # Environment Canada, Wind Chill Calculation Chart (2001 index): 192 cells.
    cells = CHECKS["wind_chill_C_kmh"]["values"]
    assert len(cells) == 192
    for air, speed, printed, exact in cells:
        felt = float(wind_chill(air, speed))
        assert half_away(felt) == printed, (air, speed)
        assert felt == pytest.approx(exact, abs=0.005)


def test_the_chart_in_fahrenheit_and_miles() -> None:
    # US NWS wind chill chart; its own coefficients differ from ours by up to 0.06 degC.
    table = CHECKS["wind_chill_F_mph"]
    for air_f, row in table["rows"].items():
        for mph, printed in zip(table["V"], row, strict=True):
            felt = float(wind_chill((float(air_f) - 32) / 1.8, mph * 1.609344))
            assert felt * 1.8 + 32 == pytest.approx(printed, abs=0.5 + 0.06 * 1.8)


@pytest.mark.parametrize(("air", "speed", "formula"), CHECKS["wind_chill_at_ride_speed"]["values"])
def test_the_bare_formula_at_riding_speeds(air: float, speed: float, formula: float) -> None:
    # Arithmetic beyond the chart (marked so in checks.json), to the digits given.
    assert float(wind_chill(air, speed)) == pytest.approx(formula, abs=0.005)


def test_the_riding_speed_counts_one_and_a_half_times() -> None:
    # The index takes two thirds of the wind at 10 m at the face (Osczevski and Bluestein 2005);
    # MetPy has the same factor as its option face_level_winds.
    air, speed = np.array([-10.0, 0.0, 5.0]), np.array([30.0, 60.0, 90.0])
    theirs = metpy.calc.windchill(
        air * units.degC, speed * units("km/h"), face_level_winds=True, mask_undefined=False
    )
    assert wind_chill_riding(air, speed) == pytest.approx(theirs.to("degC").magnitude, abs=0.02)


def test_metpy_agrees_where_the_index_is_defined() -> None:
    air, speed = np.meshgrid(np.arange(-45.0, 10.1, 5.0), np.arange(5.0, 120.0, 7.0))
    theirs = metpy.calc.windchill(air * units.degC, speed * units("km/h"), mask_undefined=False)
    assert wind_chill(air, speed) == pytest.approx(theirs.to("degC").magnitude, abs=0.02)


def test_outside_the_chart_is_labelled() -> None:
    # Chart: -50..5 degC, 5..80 km/h.
    assert not wind_chill_extrapolated(5.0, 80.0)
    assert not wind_chill_extrapolated(-50.0, 5.0)
    assert wind_chill_extrapolated([5.1, 0.0, -51.0, 0.0], [20.0, 81.0, 20.0, 4.0]).all()
    assert wind_chill_extrapolated(np.nan, 20.0)
