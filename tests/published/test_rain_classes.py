"""Rain classes of the AMS Glossary of Meteorology ("Rain"): light to 2.5, moderate to 7.6 mm/h."""

import numpy as np
import pytest

from replanner.sources.invented_week import rain_code
from tests.checks import CHECKS


def test_the_glossary_is_as_quoted() -> None:
    quoted = CHECKS["rain_intensity_mm_h"]["ams_glossary"]
    assert quoted == "light trace-2.5; moderate 2.6-7.6; heavy >7.6"


@pytest.mark.parametrize(
    ("rain", "intensity"),
    [(0.1, "slight"), (2.5, "slight"), (2.6, "moderate"), (7.6, "moderate"), (7.7, "heavy")],
)
def test_class_of_the_code(rain: float, intensity: str) -> None:
    code = rain_code(np.array([rain]))[0]
    assert CHECKS["openmeteo_weather_code"]["codes"][f"{code:.0f}"] == f"rain {intensity}"


def test_no_rain_has_no_class() -> None:
    assert np.isnan(rain_code(np.array([0.0, np.nan]))).all()
