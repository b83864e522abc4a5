"""Sight against stopping: fog limits must leave room to stop on a wet road."""

from pathlib import Path

import pytest

from replanner.files.limits_toml import read_limits
from tests.checks import CHECKS

ROOT = Path(__file__).parents[2]
LIMITS = read_limits(ROOT / "config/limits.toml")


# Liikenneturva (Finnish road safety council), motorcycle, 1 s and 3.5 m/s2 on a wet road:
# 92.8 m at 80 km/h, 138.0 m at 100 km/h.
WET = {row[0]: row[2] for row in CHECKS["stopping_motorcycle_liikenneturva"]["values"]}


def test_no_go_visibility_is_at_least_the_wet_stopping_distance_of_a_country_road() -> None:
    no_go = LIMITS["visibility"].no_go
    assert no_go is not None
    assert no_go >= WET[80]


def test_avoid_visibility_is_at_least_the_wet_stopping_distance_of_any_legal_speed() -> None:
    avoid = LIMITS["visibility"].avoid
    assert avoid is not None
    assert avoid >= WET[100]


@pytest.mark.parametrize("row", CHECKS["stopping_highway_code_126"]["values"])
def test_caution_visibility_is_above_the_stopping_distance_on_ice(row: list[float]) -> None:
    # Highway Code rule 126 to 70 mph; rule 230: on ice it can be ten times as long.
    caution = LIMITS["visibility"].caution
    assert caution is not None
    assert caution >= 10 * row[3]


def test_exposed_roads_ask_for_more_sight_at_every_step() -> None:
    plain, exposed = LIMITS["visibility"], LIMITS["visibility_exposed"]
    for sight in (4000, 1500, 900, 400, 150, 60):
        assert exposed.level(sight) >= plain.level(sight)
