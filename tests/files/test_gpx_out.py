"""The GPX file of a day, against the public schema and gpxpy. Tours and weather are INVENTED."""

from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import gpxpy
import pytest
import xmlschema
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from replanner.advice.briefing import Briefing
from replanner.files.gpx_in import read_gpx
from replanner.files.gpx_out import day_gpx
from replanner.geodesy import Point
from replanner.trip.edits import Demands
from replanner.trip.model import LegKind, Place, Tour, Way
from replanner.trip.track_match import legs_on_track
from replanner.wiring import demo_house
from tests.advice.briefings import REST_DAY, SWAP
from tests.advice.briefings import at as swap_at

SCHEMA = Path(__file__).parents[1] / "data" / "gpx" / "gpx-1.1.xsd"
DAYS = (date(2027, 4, 2), date(2027, 4, 3), date(2027, 4, 4), date(2027, 4, 5))
NS = {"g": "http://www.topografix.com/GPX/1/1"}


@cache
def schema() -> xmlschema.XMLSchema:
    return xmlschema.XMLSchema(SCHEMA)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> dict[date, tuple[Briefing, Tour]]:
    """Return the plan of each day of the demo, as made on the evening before."""
    found = {}
    for day in DAYS:
        with demo_house(tmp_path_factory.mktemp("state") / "state.sqlite", day) as house:
            found[day] = (house.plan(day, Demands()).briefing, house.tour)
    return found


def checked(briefing: Briefing, tour: Tour) -> Any:
    """Return the file as gpxpy reads it, after the schema has had nothing to say."""
    data = day_gpx(briefing, tour)
    errors = [str(error.reason) for error in schema().iter_errors(data.decode("utf-8"))]
    assert errors == []
    return gpxpy.parse(data.decode("utf-8"))


def test_the_schema_finds_faults():
    """A schema that took anything would prove nothing."""
    sound = '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x">{}</gpx>'
    assert schema().is_valid(sound.format('<wpt lat="1" lon="1"/>'))
    for fault in ('<wpt lat="91" lon="1"/>', '<wpt lat="1" lon="1"><ele>1e-5</ele></wpt>', "<x/>"):
        assert not schema().is_valid(sound.format(fault))


@pytest.mark.parametrize("day", DAYS, ids=str)
def test_the_file_holds_the_plan_in_riding_order(demo, day):
    briefing, tour = demo[day]
    gpx = checked(briefing, tour)
    roads = [leg for leg in briefing.legs if tour.legs[leg.id].kind is not LegKind.STOP]
    assert [track.name.split(" ", 1)[1] for track in gpx.tracks] == [leg.name for leg in roads]
    assert [track.number for track in gpx.tracks] == sorted(track.number for track in gpx.tracks)
    for track, leg in zip(gpx.tracks, roads, strict=True):
        start, end = tour.legs[leg.id].ends(leg.way)
        points = track.segments[0].points
        for point, place in ((points[0], start), (points[-1], end)):
            wanted = tour.places[place].point
            assert (point.latitude, point.longitude) == pytest.approx(wanted[:2], abs=1e-7)
    times = [point.time for point in gpx.waypoints]
    assert times[0] == briefing.departure
    assert times[-1] == briefing.arrival


@pytest.mark.parametrize("day", DAYS, ids=str)
def test_every_hour_of_the_plan_is_a_waypoint(demo, day):
    briefing, tour = demo[day]
    gpx = checked(briefing, tour)
    found = [(point.type, point.time) for point in gpx.waypoints]
    wanted = [("turn-back time", leg.turn_back) for leg in briefing.legs if leg.turn_back]
    wanted += [("decision point", point.latest) for point in briefing.decision_points]
    wanted += [("stop", reached) for leg in briefing.legs for _, reached in leg.halts]
    wanted += [("crossing", leg.sailing) for leg in briefing.legs if leg.sailing]
    wanted += [
        ("stop", leg.start) for leg in briefing.legs if tour.legs[leg.id].kind is LegKind.STOP
    ]
    for one in wanted:
        assert one in found
    assert len(found) == len(wanted) + 2  # leaving and being in


@pytest.mark.parametrize("day", DAYS, ids=str)
def test_texts_are_local_and_times_are_utc(demo, day):
    briefing, tour = demo[day]
    for point in checked(briefing, tour).waypoints:
        assert point.time.utcoffset() == timedelta(0)
        local = point.time.astimezone(ZoneInfo(briefing.zone))
        assert point.name.startswith(f"{local:%H:%M} ")


@pytest.mark.parametrize("day", DAYS, ids=str)
def test_roads_between_legs_join_them(demo, day):
    briefing, tour = demo[day]
    gpx = checked(briefing, tour)
    names = {place.point[:2]: place.id for place in tour.places.values()}
    hops = {
        route.number: [names[point.latitude, point.longitude] for point in route.points]
        for route in gpx.routes
    }
    today = tour.day(day)
    here = today.start
    for number, leg in enumerate(briefing.legs, 1):
        start, end = tour.legs[leg.id].ends(leg.way)
        assert hops.get(number, [here, start]) == [here, start]
        assert (number in hops) == (here != start)
        here = end
    assert hops.get(len(briefing.legs) + 1, [here, today.end]) == [here, today.end]


def test_it_is_the_same_file_for_the_same_plan(demo):
    briefing, tour = demo[DAYS[1]]
    assert day_gpx(briefing, tour) == day_gpx(briefing, tour)


def test_it_says_that_it_is_invented_and_old_and_who_decides(demo):
    briefing, tour = demo[DAYS[1]]
    told = checked(replace(briefing, plan_stale=True), tour).description
    assert told.startswith("INVENTED, not to be ridden by. OLD PLAN of ")
    assert "signs" in told
    assert briefing.origin.credit in told
    assert briefing.zone in told


def test_what_was_sent_is_read_back_and_marks_its_own_legs(demo):
    """The loop closed: a plan's file, ridden as drawn, marks the plan's legs as ridden."""
    briefing, tour = demo[DAYS[1]]
    lined = replace(
        tour,
        legs={
            key: replace(
                leg, track=tuple(tour.places[p].point for p in (leg.start, *leg.via, leg.end))
            )
            for key, leg in tour.legs.items()
        },
    )
    tracks = read_gpx(day_gpx(briefing, lined), where="plan.gpx")
    ridden = {
        match.leg for track in tracks if not track.planned for match in legs_on_track(lined, track)
    }
    roads = {leg.id for leg in briefing.legs if tour.legs[leg.id].kind is not LegKind.STOP}
    assert ridden >= roads


# --------------------------------------------------------------------------- days made by hand


def invented_tour(briefing: Briefing, demo_tour: Tour) -> Tour:
    """Return a tour that holds the legs of an example briefing, on the demo's places."""
    some = list(demo_tour.places)
    legs = {
        leg.id: replace(
            next(iter(demo_tour.legs.values())),
            id=leg.id, name=leg.name, kind=LegKind(leg.kind), start=some[n], end=some[n + 1],
            via=(), halts=(), track=(),
        )
        for n, leg in enumerate(briefing.legs)
    }  # fmt: skip
    places = {
        **demo_tour.places,
        "haskfoot": Place(id="haskfoot", name="Haskfoot", point=Point(-46.0, 168.0, 5.0)),
    }
    return replace(demo_tour, legs=legs, places=places, days=())


def test_a_day_under_way_begins_where_the_riders_are(demo):
    tour = invented_tour(SWAP, demo[DAYS[0]][1])
    here = Place(id="here", name="here", point=Point(-46.2, 168.3, 50.0))
    under_way = replace(SWAP, base_from="here", departure=swap_at("09:30"), legs=SWAP.legs[1:])
    gpx = checked(under_way, replace(tour, places={**tour.places, "here": here}))
    assert gpx.waypoints[0].name == "10:30 leave here"
    assert (gpx.waypoints[0].latitude, gpx.waypoints[0].longitude) == (-46.2, 168.3)
    assert gpx.routes[0].points[0].name == "here"
    # nobody knows where "here" is: the file begins with the first leg
    unknown = checked(under_way, tour)
    assert [track.name for track in unknown.tracks] == [track.name for track in gpx.tracks]
    assert all(point.type != "base" for point in unknown.waypoints[:1])


def test_a_leg_ridden_in_reverse_is_drawn_in_reverse(demo):
    tour = invented_tour(SWAP, demo[DAYS[0]][1])
    forward = checked(SWAP, tour).tracks[0].segments[0].points
    turned = replace(SWAP, legs=(replace(SWAP.legs[0], way=Way.REVERSE), *SWAP.legs[1:]))
    backward = checked(turned, tour).tracks[0].segments[0].points
    assert [(p.latitude, p.longitude) for p in backward] == [
        (p.latitude, p.longitude) for p in reversed(forward)
    ]


def test_a_recorded_line_is_kept_point_by_point(demo):
    tour = invented_tour(SWAP, demo[DAYS[0]][1])
    line = tuple(
        Point(-46 + n * 1.234567e-6, 179.999999999 if n == 3 else 168 + n / 977, float("nan"))
        for n in range(40)
    )
    legs = {**tour.legs, "hask": replace(tour.legs["hask"], track=line)}
    track = checked(SWAP, replace(tour, legs=legs)).tracks[2]
    points = track.segments[0].points
    assert len(points) == 40
    assert points[3].longitude == -180.0  # the schema has no +180
    assert points[7].latitude == pytest.approx(line[7].latitude, abs=1e-7)
    assert points[0].elevation is None
    assert "drawn straight" not in track.description


def test_a_leg_the_tour_has_lost_is_named(demo):
    tour = invented_tour(SWAP, demo[DAYS[0]][1])
    legs = {key: leg for key, leg in tour.legs.items() if key != "brindle"}
    gpx = checked(SWAP, replace(tour, legs=legs))
    assert "No longer in the tour: Brindle Low Road" in gpx.description
    assert [track.number for track in gpx.tracks] == [1, 3]


def test_a_day_of_rest_is_a_file_without_roads(demo):
    gpx = checked(REST_DAY, demo[DAYS[0]][1])
    assert (gpx.tracks, gpx.routes, gpx.waypoints) == ([], [], [])


def test_points_on_the_equator_are_written_plainly(demo):
    tour = invented_tour(SWAP, demo[DAYS[0]][1])
    line = (Point(0.00001, -0.00001, 0.04), Point(-1e-9, 1e-9, 0.0))
    legs = {**tour.legs, "hask": replace(tour.legs["hask"], track=line)}
    text = day_gpx(SWAP, replace(tour, legs=legs)).decode()
    assert 'lat="0.00001" lon="-0.00001"' in text
    assert '"-0' not in text.replace('"-0.00001"', "")


WILD = st.text(min_size=1, max_size=40) | st.sampled_from(
    ("A89 <north> & {south}", "]]>", "<!--", "\x00\x0b\x1b", "\ufffe\uffff", "\ud800", "&amp;", '"')
)


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(WILD, min_size=7, max_size=7))
def test_no_name_breaks_the_file(demo, names):
    legs = tuple(
        replace(leg, name=name, note=names[5]) for leg, name in zip(SWAP.legs, names, strict=False)
    )
    wild = replace(
        SWAP, legs=legs, tour=names[3], base_from=names[4], base_to=names[4],
        decision_points=(replace(SWAP.decision_points[0], place_name=names[6]),),
    )  # fmt: skip
    tour = invented_tour(wild, demo[DAYS[0]][1])
    places = {**tour.places, "b": Place(id="b", name=names[4], point=Point(1.0, 1.0, 1.0))}
    checked(wild, replace(tour, places=places))
