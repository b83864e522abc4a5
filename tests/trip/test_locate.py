"""A position is found on a leg, at a place, or off the route of the demo tour."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from geographiclib.geodesic import Geodesic

from replanner.geodesy import Point, geodesic
from replanner.trip.leg_lines import RECORDED_WITHIN_M, line_of, metres_apart
from replanner.trip.locate import Whereabouts, locate, underway_at
from replanner.trip.model import Way
from replanner.trip.stretches import leg_line, point_at
from replanner.trip.underway import OnLeg
from tests.trip.rides import demo
from tests.trip.test_progress import FRIDAY

AT = datetime(2027, 4, 2, 1, tzinfo=UTC)


def beside(point: Point, bearing: float, metres: float) -> Point:
    there = Geodesic.WGS84.Direct(point.latitude, point.longitude, bearing, metres)
    return Point(there["lat2"], there["lon2"], point.elevation)


def on(leg: str, fraction: float) -> Point:
    return point_at(leg_line(demo(), demo().legs[leg]), fraction)


def test_a_town_is_a_place_and_told_with_how_far_it_is() -> None:
    base = demo().places["orrowick"].point
    found = locate(demo(), FRIDAY, beside(base, 40.0, 300.0))
    assert (found.place, found.on_leg) == ("orrowick", None)
    assert found.distance_m == pytest.approx(300.0, abs=1.0)


def test_a_summit_is_met_on_its_leg() -> None:
    found = locate(demo(), ("hask_saddle",), demo().places["hask"].point)
    assert found.on_leg is not None
    assert found.on_leg.leg == "hask_saddle"


@pytest.mark.parametrize("fraction", [0.2, 0.5, 0.8])
def test_where_on_a_line_a_position_lies_agrees_with_the_geodesic(fraction: float) -> None:
    """Outside check: positions laid out with geographiclib, 30 m beside a recorded line."""
    leg = demo().legs["long_valley"]
    start, end = (demo().places[place].point for place in (leg.start, leg.end))
    recorded = replace(leg, track=(start, end))
    tour = replace(demo(), legs={**demo().legs, leg.id: recorded})
    line = Geodesic.WGS84.InverseLine(start.latitude, start.longitude, end.latitude, end.longitude)
    there = line.Position(line.s13 * fraction)
    point = beside(Point(there["lat2"], there["lon2"], 0.0), there["azi2"] + 90.0, 30.0)
    found = locate(tour, (leg.id,), point)
    assert found.on_leg is not None
    assert found.on_leg.fraction == pytest.approx(fraction, abs=1e-4)
    assert found.distance_m == pytest.approx(30.0, abs=0.5)
    assert locate(tour, (leg.id,), beside(point, there["azi2"] + 90.0, 260.0)).on_leg is None


def test_a_straight_line_between_places_is_as_wide_as_its_road_may_swing() -> None:
    """Assumption: a fifth of the distance between two places, 1 to 8 km."""
    line = line_of(demo(), demo().legs["hask_saddle"])
    assert line is not None
    assert not line.recorded
    assert 1000.0 <= line.within.min() <= line.within.max() <= 8000.0
    assert line.within.min() > RECORDED_WITHIN_M
    point = beside(on("hask_saddle", 0.2), 90.0, 4000.0)
    assert locate(demo(), ("hask_saddle",), point).on_leg is not None


def test_off_the_route_the_distance_to_the_nearest_leg_is_told() -> None:
    point = Point(-45.5, 168.9, 0.0)
    found = locate(demo(), FRIDAY, point)
    assert (found.on_leg, found.place) == (None, None)
    assert found.distance_m > 20_000.0


def test_the_leg_they_were_on_is_believed_and_a_spur_is_not_ridden_backwards() -> None:
    """Out and back lie on one road: whoever was at 0.6 is on the way back."""
    there = on("gannet_spur", 0.7)
    was = OnLeg(leg="gannet_spur", way=Way.FORWARD, fraction=0.6)
    found = locate(demo(), FRIDAY, there, near=was)
    assert found.on_leg is not None
    assert (found.on_leg.leg, found.way_known) == ("gannet_spur", True)
    assert found.on_leg.fraction == pytest.approx(0.7, abs=0.01)
    out = replace(was, fraction=0.2)
    back = locate(demo(), FRIDAY, there, near=out).on_leg
    assert back is not None
    assert back.fraction == pytest.approx(0.3, abs=0.01)


def test_in_reverse_ahead_is_the_other_way_round() -> None:
    was = OnLeg(leg="hask_saddle", way=Way.REVERSE, fraction=0.8)
    found = locate(demo(), FRIDAY, on("hask_saddle", 0.7), near=was)
    assert found.on_leg is not None
    assert found.on_leg.way is Way.REVERSE
    assert found.on_leg.fraction == pytest.approx(0.7, abs=0.02)


def test_back_at_the_base_the_leg_is_over() -> None:
    was = OnLeg(leg="gannet_spur", way=Way.FORWARD, fraction=0.9)
    base = demo().places["orrowick"].point
    assert locate(demo(), FRIDAY, base, near=was).place == "orrowick"


def test_legs_side_by_side_are_not_told_apart_for_sure() -> None:
    there = on("hask_valley_road", 0.2)
    assert not locate(demo(), ("hask_saddle", "hask_valley_road"), there).sure


@pytest.mark.parametrize(
    "where",
    [
        Whereabouts(point=Point(-46.0, 168.0, 0.0), distance_m=9000.0),
        Whereabouts(point=Point(-46.0, 168.0, 0.0), place="orrowick", distance_m=10.0),
        Whereabouts(
            point=Point(-46.0, 168.0, 0.0),
            on_leg=OnLeg(leg="quern_loop", way=Way.FORWARD, fraction=0.5),
            distance_m=10.0,
        ),
    ],
)
def test_a_day_is_under_way_from_exactly_one_of_leg_place_and_point(where: Whereabouts) -> None:
    found = underway_at(where, AT, frozenset({"hask_saddle"}), live=True)
    told = [one for one in (found.on_leg, found.place, found.point) if one is not None]
    assert len(told) == 1
    assert (found.at, found.ready, found.live) == (AT, AT, True)


@pytest.mark.parametrize("metres", [1.0, 400.0, 8000.0])
def test_short_distances_agree_with_the_geodesic(metres: float) -> None:
    """Outside check: geographiclib."""
    here = demo().places["hask"].point
    there = beside(here, 30.0, metres)
    assert metres_apart(here, there) == pytest.approx(geodesic(here, there).distance, rel=1e-4)
