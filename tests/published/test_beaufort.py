"""Beaufort's scale against our units and our limits of the mean wind.

Source: WMO-No. 306, Manual on Codes, table 1100, as told alike by several public copies (see
tests/data/checks.json, `beaufort`). The scale speaks of ten-minute means, not of gusts.
"""

import pytest

from replanner.units import to_inside
from tests.checks import CHECKS
from tests.published.test_limits import LIMITS

SCALE = CHECKS["beaufort"]
FORCES = range(1, 13)


def force_of(speed: float) -> int:
    return max(force for force, lower in enumerate(SCALE["ms_lower"]) if speed >= lower)


@pytest.mark.parametrize("force", FORCES)
def test_the_scale_in_knots_and_kilometres_an_hour_is_the_scale_in_metres_a_second(
    force: int,
) -> None:
    """The columns are rounded apart: knots differ by up to 0.75 m/s (force 5), km/h by 0.3."""
    lower = SCALE["ms_lower"][force]
    assert float(to_inside(SCALE["knots"][force][0], "kn", "m/s")) == pytest.approx(lower, abs=0.8)
    assert float(to_inside(SCALE["kmh"][force][0], "km/h", "m/s")) == pytest.approx(lower, abs=0.3)


def test_the_mean_wind_is_caution_avoid_and_no_go_in_rising_forces() -> None:
    """Strong breeze (6) is caution, gale (8) avoid, strong gale (9) no-go."""
    limit = LIMITS["mean_wind"]
    steps = (limit.caution, limit.avoid, limit.no_go)
    assert [force_of(step) for step in steps if step is not None] == [6, 8, 9]
