"""Geodesic lines; sources in tests/data/checks.json (GeographicLib's test lines, MIT)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.geodesy import Point, along, geodesic
from tests.checks import CHECKS

LINES = CHECKS["geodesic_wgs84"]


@pytest.mark.parametrize("line", LINES["values"])
def test_geographiclib_lines(line: list[float]) -> None:
    lat1, lon1, lat2, lon2, azimuth, _, metres = line
    found = geodesic(Point(lat1, lon1, 0.0), Point(lat2, lon2, 0.0))
    assert found.distance == pytest.approx(metres, abs=1e-6)
    assert found.bearing == pytest.approx(azimuth % 360.0, abs=1e-9)


@pytest.mark.parametrize("line", LINES["more"], ids=lambda line: line[0] if line else "")
def test_named_lines(line: list[float | str]) -> None:
    numbers = [float(value) for value in line if not isinstance(value, str)]
    lat1, lon1, lat2, lon2, metres, azimuth = numbers[:6]
    found = geodesic(Point(lat1, lon1, 0.0), Point(lat2, lon2, 0.0))
    assert found.distance == pytest.approx(metres, abs=1e-3)
    assert found.bearing == pytest.approx(azimuth, abs=1e-6)


points = st.builds(Point, st.floats(-89.0, 89.0), st.floats(-180.0, 180.0), st.floats(0.0, 3000.0))


@given(points, points, st.floats(0.0, 1.0))
def test_a_point_along_the_line_is_that_far_along(start: Point, end: Point, part: float) -> None:
    whole = geodesic(start, end).distance
    here = along(start, end, part)
    assert geodesic(start, here).distance == pytest.approx(part * whole, abs=1e-3)
    low, high = sorted((start.elevation, end.elevation))
    assert low - 1e-6 <= here.elevation <= high + 1e-6
