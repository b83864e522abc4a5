"""Legs cut into pieces. All places and legs here are INVENTED.

Oracle for points and bearings along a line: pyproj's `Geod` (PROJ), where it is installed (it
comes with MetPy), an implementation of the geodesic independent of geographiclib.
"""

import math
from itertools import pairwise
from random import Random
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from replanner.geodesy import Point
from replanner.trip.model import (
    Day,
    Leg,
    LegKind,
    Place,
    Road,
    Section,
    StandIn,
    Tour,
    Way,
)
from replanner.trip.stretches import (
    LONGEST_PIECE_MINUTES,
    leg_line,
    pieces,
    point_at,
    point_key,
    sample_points,
)

GEOD = Geod(ellps="WGS84")
PLACES = {
    "west": Point(-46.0, 168.0, 10.0),
    "top": Point(-46.0, 168.1, 600.0),
    "east": Point(-46.0, 168.2, 20.0),
    "north": Point(-45.9, 168.2, 5.0),
}


def a_leg(**other: object) -> Leg:
    given = {
        "id": "pass",
        "name": "High Road",
        "kind": LegKind.PASS,
        "start": "west",
        "end": "east",
        "via": ("top",),
        "riding_minutes": 100.0,
        "distance_km": 50.0,
    }
    return Leg(**(given | other))


def a_tour(*legs: Leg) -> Tour:
    return Tour(
        name="Invented",
        zone=ZoneInfo("Pacific/Auckland"),
        places={name: Place(id=name, name=name, point=point) for name, point in PLACES.items()},
        legs={leg.id: leg for leg in legs},
        days=(),
        riders=(),
    )


def a_section(first: float, last: float, **other: object) -> Section:
    given = {"name": f"{first}-{last}", "road": Road(surface="gravel")}
    return Section(from_fraction=first, to_fraction=last, **(given | other))


class TestCover:
    def test_a_leg_without_sections_is_one_piece(self) -> None:
        leg = a_leg()
        (piece,) = pieces(a_tour(leg), leg, Way.FORWARD)
        assert (piece.name, piece.road) == ("High Road", leg.road)
        assert (piece.from_fraction, piece.to_fraction) == (0.0, 1.0)
        assert (piece.start_minutes, piece.end_minutes) == (0.0, 100.0)

    def test_gaps_are_the_legs_own_road(self) -> None:
        leg = a_leg(sections=(a_section(0.6, 0.7), a_section(0.2, 0.5)))
        cut = pieces(a_tour(leg), leg, Way.FORWARD)
        assert [(piece.name, piece.start_minutes, piece.end_minutes) for piece in cut] == [
            ("High Road", 0.0, pytest.approx(20.0)),
            ("0.2-0.5", pytest.approx(20.0), pytest.approx(50.0)),
            ("High Road", pytest.approx(50.0), pytest.approx(60.0)),
            ("0.6-0.7", pytest.approx(60.0), pytest.approx(70.0)),
            ("High Road", pytest.approx(70.0), 100.0),
        ]

    def test_sections_that_fill_the_leg_leave_no_gap(self) -> None:
        leg = a_leg(sections=(a_section(0.0, 0.4), a_section(0.4, 1.0)))
        assert [p.name for p in pieces(a_tour(leg), leg, Way.FORWARD)] == ["0.0-0.4", "0.4-1.0"]

    def test_a_point_section_stays_a_point(self) -> None:
        leg = a_leg(sections=(a_section(0.3, 0.3, name="junction"),))
        cut = pieces(a_tour(leg), leg, Way.FORWARD)
        assert [(p.name, p.start_minutes, p.end_minutes) for p in cut] == [
            ("High Road", 0.0, 30.0),
            ("junction", 30.0, 30.0),
            ("High Road", 30.0, 100.0),
        ]

    @settings(max_examples=100)
    @given(
        st.lists(st.integers(0, 20).map(lambda n: n / 20), max_size=8).map(sorted),
        st.randoms(use_true_random=False),
        st.sampled_from(list(Way)),
    )
    def test_pieces_cover_the_leg_once_in_order(
        self, ends: list[float], random: Random, way: Way
    ) -> None:
        given_sections = list(dict.fromkeys(zip(ends[::2], ends[1::2], strict=False)))
        random.shuffle(given_sections)
        leg = a_leg(sections=tuple(a_section(*pair) for pair in given_sections))
        cut = pieces(a_tour(leg), leg, way)
        assert cut[0].from_fraction == 0.0
        assert cut[-1].to_fraction == 1.0
        assert cut[-1].end_minutes == pytest.approx(100.0)
        for piece in cut:
            assert piece.from_fraction <= piece.to_fraction
            assert piece.start_minutes == pytest.approx(piece.from_fraction * 100.0)
        for before, after in pairwise(cut):
            assert before.to_fraction == after.from_fraction


class TestLongStretches:
    def test_a_long_stretch_is_cut_into_equal_parts_with_weather_of_their_own(self) -> None:
        long = a_section(0.1, 0.7, name="moor")
        leg = a_leg(riding_minutes=500.0, sections=(long,), via=("top", "east"), end="north")
        cut = pieces(a_tour(leg), leg, Way.FORWARD)
        assert [(p.name, round(p.start_minutes, 6), round(p.end_minutes, 6)) for p in cut] == [
            ("High Road", 0.0, 50.0),
            ("moor", 50.0, 150.0),
            ("moor", 150.0, 250.0),
            ("moor", 250.0, 350.0),
            ("High Road", 350.0, 425.0),
            ("High Road", 425.0, 500.0),
        ]
        assert len({p.point_id for p in cut}) == 6
        assert {p.road for p in cut} == {leg.road, long.road}

    def test_a_section_with_a_place_keeps_it(self) -> None:
        leg = a_leg(riding_minutes=500.0, sections=(a_section(0.0, 1.0, place="top"),))
        assert {p.point for p in pieces(a_tour(leg), leg, Way.FORWARD)} == {PLACES["top"]}

    @given(st.floats(1, 900), st.sampled_from(list(Way)))
    def test_none_is_too_long(self, minutes: float, way: Way) -> None:
        leg = a_leg(riding_minutes=minutes, sections=(a_section(0.2, 0.9),))
        for piece in pieces(a_tour(leg), leg, way):
            assert piece.end_minutes - piece.start_minutes <= LONGEST_PIECE_MINUTES + 1e-6


class TestReverse:
    def test_order_fractions_minutes_and_headings_are_turned(self) -> None:
        road = Road(headings_deg=(350.0, 90.0))
        leg = a_leg(sections=(a_section(0.2, 0.5, name="ridge", road=road),))
        tour = a_tour(leg)
        forward, reverse = pieces(tour, leg, Way.FORWARD), pieces(tour, leg, Way.REVERSE)
        assert [p.name for p in reverse] == [p.name for p in reversed(forward)]
        ridge = reverse[1]
        assert (ridge.from_fraction, ridge.to_fraction) == (0.5, 0.8)
        assert (ridge.start_minutes, ridge.end_minutes) == (50.0, 80.0)
        # Turned round, the last heading comes first.
        assert ridge.headings_deg == (270.0, 170.0)
        assert {p.point_id for p in forward} == {p.point_id for p in reverse}


class TestPoints:
    @settings(max_examples=50)
    @given(st.floats(0, 1))
    def test_a_point_along_a_line(self, fraction: float) -> None:
        line = tuple(PLACES.values())
        lengths = [
            GEOD.inv(a.longitude, a.latitude, b.longitude, b.latitude)[2] for a, b in pairwise(line)
        ]
        target, leg = fraction * math.fsum(lengths), 0
        while leg < len(lengths) - 1 and target > lengths[leg]:
            target -= lengths[leg]
            leg += 1
        start, end = line[leg], line[leg + 1]
        bearing = GEOD.inv(start.longitude, start.latitude, end.longitude, end.latitude)[0]
        longitude, latitude, _ = GEOD.fwd(start.longitude, start.latitude, bearing, target)
        found = point_at(line, fraction)
        assert (found.latitude, found.longitude) == pytest.approx((latitude, longitude), abs=1e-7)
        share = target / lengths[leg]
        height = start.elevation + share * (end.elevation - start.elevation)
        assert found.elevation == pytest.approx(height, abs=1e-3)

    def test_a_loop_by_one_place_has_its_far_end_in_the_middle(self) -> None:
        leg = a_leg(start="west", end="west", via=("east",))
        line = leg_line(a_tour(leg), leg)
        assert point_at(line, 0.5)[:2] == pytest.approx(PLACES["east"][:2], abs=1e-9)

    def test_a_stop_has_one_point_and_no_heading(self) -> None:
        leg = a_leg(kind=LegKind.STOP, start="west", end="west", via=())
        (piece,) = pieces(a_tour(leg), leg, Way.FORWARD)
        assert piece.point == PLACES["west"]
        assert piece.headings_deg == ()

    def test_a_section_lies_where_its_place_is_and_as_high_as_it_says(self) -> None:
        road = Road(elevation_m=808.0)
        leg = a_leg(sections=(a_section(0.1, 0.2, place="north", road=road),))
        piece = pieces(a_tour(leg), leg, Way.FORWARD)[1]
        assert piece.point == PLACES["north"]._replace(elevation=808.0)

    def test_headings_are_those_of_the_hops_it_touches(self) -> None:
        leg = a_leg(via=("top", "east"), end="north", sections=(a_section(0.0, 0.25),))
        first, rest = pieces(a_tour(leg), leg, Way.FORWARD)
        east = GEOD.inv(168.0, -46.0, 168.1, -46.0)[0] % 360
        assert first.headings_deg == pytest.approx((east,), abs=1e-6)
        assert rest.headings_deg == pytest.approx((east, east, 0.0), abs=1e-6)

    def test_a_track_is_the_line(self) -> None:
        track = (PLACES["west"], PLACES["north"])
        leg = a_leg(track=track)
        assert leg_line(a_tour(leg), leg) == track

    def test_keys_join_what_no_forecast_can_tell_apart(self) -> None:
        assert point_key(Point(-46.00001, 168.0, 612.0)) == point_key(Point(-46.0, 168.0, 609.0))
        assert point_key(Point(-46.0, 168.0, 612.0)) != point_key(Point(-46.0, 168.0, 700.0))
        assert point_key(Point(-0.00001, 0.0, 0.0)) == point_key(Point(0.00001, 0.0, -1.0))


class TestSamplePoints:
    def test_every_piece_the_foot_and_the_stand_in(self) -> None:
        other = a_leg(id="valley", via=("north",), sections=(a_section(0.4, 0.6),))
        leg = a_leg(stand_in=StandIn(leg="valley"), sections=(a_section(0.2, 0.5),))
        tour = a_tour(leg, other)
        day = Day(date=None, start="west", end="east", own_order=("pass",))
        points = sample_points(tour, [day, day])
        wanted = {p.point_id for one in (leg, other) for p in pieces(tour, one, Way.FORWARD)}
        assert wanted <= set(points)
        assert point_key(PLACES["west"]) in points  # the foot of the pass
        assert point_key(PLACES["north"]) in points  # the foot of the valley road
        assert all(point_key(point) == key for key, point in points.items())
