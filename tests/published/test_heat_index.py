"""The heat index against published values and MetPy."""

import metpy.calc
import numpy as np
import pytest
from metpy.units import units

from replanner.hazards.felt import heat_index
from tests.checks import CHECKS

CHECK = CHECKS["heat_index_F"]


def index_f(air_f: float, humidity: float) -> float:
    return float(heat_index((air_f - 32.0) / 1.8, humidity)) * 1.8 + 32.0


@pytest.mark.parametrize(("air_f", "humidity", "published"), CHECK["values"])
def test_published_values(air_f: float, humidity: float, published: float) -> None:
    # NWS Weather Prediction Center's equation with both adjustments, recomputed with MetPy.
    assert index_f(air_f, humidity) == pytest.approx(published, abs=CHECK["tol"])


@pytest.mark.parametrize(("air_f", "humidity", "printed"), CHECK["wpc_calculator_ints"])
def test_the_calculator_of_the_weather_service(air_f: float, humidity: float, printed: int) -> None:
    assert round(index_f(air_f, humidity)) == printed


def test_the_simple_form_below_80() -> None:
    # WPC's text: the simple formula averaged with the temperature; 79.79 for 80 degF at 40 %
    # and 79.45 for 79 degF at 70 % do not reach 80, so the regression is not used.
    assert index_f(80, 40) == pytest.approx(79.79, abs=0.01)
    assert index_f(70, 50) == pytest.approx(69.5, abs=0.06)


def test_metpy_agrees_well_above_the_switch() -> None:
    # Near 80 degF implementations differ (see checks.json), so compare from 84 degF on.
    air_f, humidity = np.meshgrid(np.arange(84.0, 112.0, 2.0), np.arange(5.0, 100.0, 5.0))
    theirs = metpy.calc.heat_index(air_f * units.degF, humidity * units.percent).to("degC")
    assert heat_index((air_f - 32) / 1.8, humidity) == pytest.approx(theirs.magnitude, abs=0.003)


def test_missing_stays_missing() -> None:
    assert np.isnan(heat_index([np.nan, 30.0], [50.0, np.nan])).all()
