"""Tracks matched to legs. All places, roads and rides here are INVENTED.

Outside check: how near a track comes to a place, against geographiclib by brute force.
"""

import math
import time
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from random import Random
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from replanner.geodesy import Point, along, geodesic
from replanner.trip.model import Leg, LegKind, Place, Tour, Way
from replanner.trip.track import Track, TrackPoint
from replanner.trip.track_line import TrackLine, points_along, track_km
from replanner.trip.track_match import LINE_WITHIN_M, legs_on_track

START = datetime(2027, 4, 2, 20, 0, tzinfo=UTC)
PLACES = {
    "west": Point(-46.00, 168.00, 10.0),
    "east": Point(-46.00, 168.20, 10.0),
    "north": Point(-45.90, 168.10, 200.0),
    "south": Point(-46.10, 168.10, 5.0),
    "tip": Point(-46.00, 168.40, 5.0),
}
RADIUS_M = 6371008.8  # mean radius; only to make wobbles, never to check


def bend(start: Point, end: Point, bulge: float, count: int = 120) -> tuple[Point, ...]:
    """Return a line that bulges sideways by a share of its length."""
    found = []
    for n in range(count + 1):
        share = n / count
        here = along(start, end, share)
        side = bulge * math.sin(math.pi * share)
        found.append(
            Point(
                here.latitude + side * (end.longitude - start.longitude),
                here.longitude - side * (end.latitude - start.latitude),
                10.0,
            )
        )
    return tuple(found)


PASS_LINE = bend(PLACES["west"], PLACES["east"], 0.3)
VALLEY_LINE = bend(PLACES["west"], PLACES["east"], -0.2)
SPUR_OUT = bend(PLACES["east"], PLACES["tip"], 0.1)
SPUR_LINE = SPUR_OUT + SPUR_OUT[-2::-1]
LOOP_LINE = (
    bend(PLACES["west"], PLACES["north"], 0.1)
    + bend(PLACES["north"], PLACES["east"], 0.1)[1:]
    + bend(PLACES["east"], PLACES["south"], 0.1)[1:]
    + bend(PLACES["south"], PLACES["west"], 0.1)[1:]
)


def km(line: tuple[Point, ...]) -> float:
    return sum(geodesic(here, there).distance for here, there in pairwise(line)) / 1000.0


def leg(key: str, start: str, end: str, line: tuple[Point, ...], **more: object) -> Leg:
    fields = {
        "id": key, "name": key, "kind": LegKind.TRANSIT, "start": start, "end": end,
        "riding_minutes": 60.0, "distance_km": km(line), "track": line,
    } | more  # fmt: skip
    return Leg(**fields)  # type: ignore[arg-type]


LEGS = (
    leg("pass", "west", "east", PASS_LINE, kind=LegKind.PASS),
    leg("valley", "west", "east", VALLEY_LINE),
    leg("spur", "east", "east", SPUR_LINE, kind=LegKind.SPUR),
    leg("loop", "west", "west", LOOP_LINE, kind=LegKind.LOOP),
)


def tour(*legs: Leg) -> Tour:
    return Tour(
        name="Invented",
        zone=ZoneInfo("Pacific/Auckland"),
        places={key: Place(id=key, name=key.title(), point=point) for key, point in PLACES.items()},
        legs={one.id: one for one in legs},
        days=(),
        riders=(),
        invented=True,
    )


def ride(
    *lines: tuple[Point, ...], wobble: float = 0.0, timed: bool = True, every: int = 1
) -> Track:
    """Return a ride along lines, a point each 30 s, each up to `wobble` metres beside."""
    random = Random(1)
    points: list[Point] = []
    for line in lines:
        points += line[::every] + (line[-1:] if (len(line) - 1) % every else ())
    return Track(
        name="ride",
        segments=(
            tuple(
                TrackPoint(
                    beside(point, random, wobble),
                    START + timedelta(seconds=30 * n) if timed else None,
                )
                for n, point in enumerate(points)
            ),
        ),
    )


def beside(point: Point, random: Random, metres: float) -> Point:
    turn, far = random.uniform(0, 2 * math.pi), random.uniform(0, metres)
    north, east = far * math.cos(turn), far * math.sin(turn)
    return Point(
        point.latitude + math.degrees(north / RADIUS_M),
        point.longitude + math.degrees(east / RADIUS_M / math.cos(math.radians(point.latitude))),
        point.elevation,
    )


def told(track: Track, *legs: Leg) -> list[tuple[str, Way]]:
    return [(match.leg, match.way) for match in legs_on_track(tour(*legs), track)]


@pytest.mark.parametrize("seed", range(20))
def test_distances_are_those_of_the_ellipsoid(seed):
    random = Random(seed)
    latitude, longitude = random.uniform(-70, 70), random.choice([179.999, -179.9995, 10.0])
    place = Point(latitude, longitude, 0.0)
    points = [beside(place, random, 800.0) for _ in range(6)]
    points = [point._replace(longitude=(point.longitude + 180) % 360 - 180) for point in points]
    track = Track(name="", segments=(tuple(TrackPoint(point, None) for point in points),))
    found = TrackLine.of(track).distances([place]).min()
    nearest = min(
        geodesic(place, along(here, there, n / 100)).distance
        for here, there in pairwise(points)
        for n in range(101)
    )
    assert found == pytest.approx(nearest, abs=8.5)  # the brute force looks each 16 m at most
    assert found <= nearest + 0.05


def test_lengths_are_those_of_the_ellipsoid():
    line = TrackLine.of(ride(PASS_LINE))
    wanted = sum(
        Geodesic.WGS84.Inverse(a.latitude, a.longitude, b.latitude, b.longitude)["s12"]
        for a, b in pairwise(PASS_LINE)
    )
    assert line.metres_between(0, line.length.size - 1) == pytest.approx(wanted, rel=1e-6)


def test_a_track_is_as_long_as_what_was_recorded():
    assert track_km(ride(PASS_LINE)) == pytest.approx(km(PASS_LINE), rel=1e-6)
    points = ride(PASS_LINE).points
    broken = Track(name="", segments=(points[:30], points[90:]))
    wanted = km(PASS_LINE[:30]) + km(PASS_LINE[90:])
    assert track_km(broken) == pytest.approx(wanted, rel=1e-6)
    assert track_km(Track(name="", segments=(points[:1],))) == 0.0


def test_points_along_a_line_are_even_and_hold_both_ends():
    points = points_along(PASS_LINE)
    assert points[0] == pytest.approx(PASS_LINE[0])
    assert points[-1] == PASS_LINE[-1]
    hops = [geodesic(here, there).distance for here, there in pairwise(points)]
    assert max(hops) < 86.0  # 21 km in 250 points
    assert min(hops) > 84.0
    assert len(points_along((PLACES["west"], PLACES["tip"]))) == 250


def test_a_day_ridden_marks_its_legs_in_order_and_way():
    track = ride(PASS_LINE, SPUR_LINE, VALLEY_LINE[::-1], wobble=60.0)
    assert told(track, *LEGS) == [
        ("pass", Way.FORWARD),
        ("spur", Way.FORWARD),
        ("valley", Way.REVERSE),
    ]
    for match in legs_on_track(tour(*LEGS), track):
        assert match.by_line
        assert match.covered > 0.97


def test_times_are_those_of_passing_the_ends():
    track = ride(PASS_LINE, SPUR_LINE, VALLEY_LINE[::-1])
    found = {match.leg: match for match in legs_on_track(tour(*LEGS), track)}
    slack = timedelta(seconds=60)
    assert abs(found["pass"].start - START) <= slack
    assert abs(found["pass"].end - (START + timedelta(seconds=30 * 120))) <= slack
    spur_begins = START + timedelta(seconds=30 * 121)
    assert abs(found["spur"].start - spur_begins) <= slack
    assert abs(found["spur"].end - (spur_begins + timedelta(seconds=30 * 240))) <= slack


def test_a_track_without_times_gives_no_times():
    for match in legs_on_track(tour(*LEGS), ride(PASS_LINE, timed=False)):
        assert match.start is None
        assert match.end is None


def test_a_clock_set_back_on_the_way_gives_no_times():
    points = ride(PASS_LINE).points
    late = points[0]._replace(at=START + timedelta(days=1))
    track = Track(name="", segments=((late, late, *points[2:]),))
    (match,) = legs_on_track(tour(*LEGS), track)
    assert (match.leg, match.start, match.end) == ("pass", None, None)


def test_a_loop_is_told_in_the_way_ridden():
    assert told(ride(LOOP_LINE), *LEGS) == [("loop", Way.FORWARD)]
    assert told(ride(LOOP_LINE[::-1]), *LEGS) == [("loop", Way.REVERSE)]


def test_a_one_way_leg_ridden_backwards_is_not_that_leg():
    one_way = leg("pass", "west", "east", PASS_LINE, one_way=True)
    assert told(ride(PASS_LINE), one_way) == [("pass", Way.FORWARD)]
    assert told(ride(PASS_LINE[::-1]), one_way) == []


def test_the_parallel_road_is_not_the_pass():
    assert told(ride(VALLEY_LINE), *LEGS) == [("valley", Way.FORWARD)]


@pytest.mark.parametrize("share", [0.3, 0.5, 0.7])
def test_a_leg_begun_and_given_up_is_not_ridden(share):
    out = PASS_LINE[: int(len(PASS_LINE) * share)]
    assert told(ride(out, out[::-1]), *LEGS) == []


def test_a_spur_turned_round_half_way_is_not_ridden():
    out = SPUR_OUT[: len(SPUR_OUT) // 2]
    assert told(ride(out, out[::-1]), *LEGS) == []


def test_a_leg_joined_a_little_late_counts_and_half_a_leg_does_not():
    (match,) = legs_on_track(tour(*LEGS), ride(PASS_LINE[18:]))
    assert match.leg == "pass"
    assert 0.8 <= match.covered < 0.9
    assert told(ride((*PASS_LINE[:20], *PASS_LINE[100:])), *LEGS) == []


def test_a_break_in_the_recording_is_not_ridden_over():
    whole = ride(PASS_LINE).points
    broken = Track(name="", segments=(whole[:30], whole[91:]))
    assert legs_on_track(tour(*LEGS), broken) == ()
    short = Track(name="", segments=(whole[:58], whole[62:]))
    assert [match.leg for match in legs_on_track(tour(*LEGS), short)] == ["pass"]


def test_a_recorder_that_writes_seldom_is_read_between_its_points():
    straight = leg("straight", "west", "east", (PLACES["west"], PLACES["east"]))
    track = ride((PLACES["west"], PLACES["east"]))
    (match,) = legs_on_track(tour(straight), track)
    assert match.covered == 1.0
    assert (match.start, match.end) == (START, START + timedelta(seconds=30))
    assert told(ride((PLACES["east"], PLACES["west"])), straight) == [("straight", Way.REVERSE)]


def test_the_limit_is_a_hundred_and_fifty_metres():
    north = math.degrees(1.0 / RADIUS_M)
    for metres, wanted in ((LINE_WITHIN_M - 5, 1), (LINE_WITHIN_M + 5, 0)):
        moved = (PLACES["west"], PLACES["east"])
        beside_it = tuple(p._replace(latitude=p.latitude + metres * north) for p in moved)
        straight = leg("straight", "west", "east", moved)
        assert len(legs_on_track(tour(straight), ride(beside_it))) == wanted


# ---------------------------------------------------------------- legs of which places are known

BY_PLACES = leg("round", "west", "west", LOOP_LINE, track=(), via=("north", "east", "south"),
                kind=LegKind.LOOP)  # fmt: skip


def test_places_are_met_in_order():
    assert told(ride(LOOP_LINE, wobble=100.0), BY_PLACES) == [("round", Way.FORWARD)]
    assert told(ride(LOOP_LINE[::-1]), BY_PLACES) == [("round", Way.REVERSE)]
    (match,) = legs_on_track(tour(BY_PLACES), ride(LOOP_LINE))
    assert (match.by_line, match.covered) == (False, 1.0)


def test_a_place_missed_is_another_ride():
    quarter = bend(PLACES["west"], PLACES["north"], 0.1)
    assert told(ride(quarter, quarter[::-1]), BY_PLACES) == []


def test_of_two_roads_known_by_their_ends_alone_the_likelier_length_counts():
    short = leg("valley", "west", "east", VALLEY_LINE, track=())
    long = leg("pass", "west", "east", PASS_LINE, track=(), distance_km=km(PASS_LINE))
    assert told(ride(VALLEY_LINE), short, long) == [("valley", Way.FORWARD)]
    assert told(ride(PASS_LINE), short, long) == [("pass", Way.FORWARD)]


def test_a_road_much_longer_than_the_leg_is_another_road():
    detour = LOOP_LINE[: len(LOOP_LINE) // 2 + 1]  # by the north
    direct = leg("direct", "west", "east", (PLACES["west"], PLACES["east"]), track=())
    assert km(detour) > 1.35 * direct.distance_km
    assert told(ride(detour), direct) == []


def test_stops_and_legs_without_any_line_are_not_matched():
    stop = leg("cafe", "west", "west", LOOP_LINE, track=(), kind=LegKind.STOP, distance_km=0.0)
    bare = leg("bare", "west", "west", LOOP_LINE, track=())
    assert told(ride(LOOP_LINE), stop, bare) == []


def test_nothing_is_made_of_a_single_point():
    point = TrackPoint(PLACES["west"], START)
    assert legs_on_track(tour(*LEGS), Track(name="", segments=((point,),))) == ()
    assert legs_on_track(tour(*LEGS), Track(name="", segments=((point,), (point,)))) == ()
    assert legs_on_track(tour(*LEGS), Track(name="", segments=())) == ()


def test_a_halt_is_no_trouble():
    still = (PASS_LINE[60],) * 200
    assert told(ride(PASS_LINE[:61], still, PASS_LINE[60:], wobble=20.0), *LEGS) == [
        ("pass", Way.FORWARD)
    ]


def test_a_point_a_second_all_day_is_matched_soon():
    """20,000 points are what two megabytes hold; the limit is wide: the machine is shared."""
    west, tip = PLACES["west"], PLACES["tip"]
    longitudes = np.linspace(west.longitude, tip.longitude, 20_000)
    track = ride(tuple(west._replace(longitude=float(each)) for each in longitudes))
    begun = time.process_time()
    legs_on_track(tour(*LEGS), track)
    assert time.process_time() - begun < 5.0
