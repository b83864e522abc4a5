"""The rest of a day as a tour and a day of its own; parts of legs, nights, reports. INVENTED."""

from dataclasses import replace
from datetime import date, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.clock import local_instant
from replanner.geodesy import Point, geodesic
from replanner.trip.connectors import connect, day_places
from replanner.trip.edits import Demands
from replanner.trip.homeward import homeward
from replanner.trip.model import HaltKind, LegKind, LooseChippings, SurfaceClass, Way
from replanner.trip.nights import with_nights
from replanner.trip.on_the_map import roads_from
from replanner.trip.part_of_leg import rest_of_leg, way_back
from replanner.trip.passage import in_way
from replanner.trip.plain_road import roads_to
from replanner.trip.reported import USUAL, bearing_on, closed_on, report_of, with_reports
from replanner.trip.rest_of_day import HERE, RestOfDay, back_over, rest_of_day
from replanner.trip.stretches import foot_point, pieces
from replanner.trip.timing import Speeds
from replanner.trip.underway import OnLeg, ReportKind, Underway
from tests.trip.rides import demo

TOUR, SPEEDS = demo(), Speeds()
FRIDAY, SATURDAY = date(2027, 4, 2), date(2027, 4, 3)
NOON = local_instant(FRIDAY, time(12), TOUR.zone)
RIDDEN = [name for name, leg in TOUR.legs.items() if leg.kind is not LegKind.STOP]


def rest(underway: Underway, **other: object) -> RestOfDay:
    demands = Demands(underway=underway, **other)
    return rest_of_day(TOUR, TOUR.day(FRIDAY), demands, SPEEDS, 1.4)


def on_hask(fraction: float, way: Way = Way.FORWARD, *, back: bool = False) -> Underway:
    there = OnLeg(leg="hask_saddle", way=way, fraction=fraction)
    return Underway(at=NOON, ready=NOON, on_leg=there, turning_back=back)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(RIDDEN), st.sampled_from(list(Way)), st.floats(0.01, 0.99))
def test_the_rest_of_a_leg_is_the_leg_from_there_on(name: str, way: Way, fraction: float) -> None:
    """Minutes, kilometres, surfaces and the points whose weather counts: all of what is ahead."""
    leg = TOUR.legs[name]
    part = rest_of_leg(TOUR, leg, way, fraction, name=name, start=leg.start)
    tour = replace(TOUR, places={**TOUR.places, **{one.id: one for one in part.places}})
    begun = in_way(fraction, way)
    assert part.leg.riding_minutes == pytest.approx(leg.riding_minutes * (1.0 - begun))
    assert part.leg.distance_km == pytest.approx(leg.distance_km * (1.0 - begun))
    assert part.leg.end == leg.ends(way)[1]
    whole, left = pieces(TOUR, leg, way), pieces(tour, part.leg, Way.FORWARD)
    ahead = [piece for piece in whole if piece.to_fraction > begun + 2e-3]
    assert [piece.point_id for piece in left][-len(ahead) :] == [one.point_id for one in ahead]
    for mine, yours in zip(reversed(left), reversed(ahead), strict=False):
        assert mine.road.surface == yours.road.surface
        assert mine.road.exposure == yours.road.exposure
        assert mine.headings_deg == yours.headings_deg
    ends = [(one.from_fraction, one.to_fraction) for one in left]
    assert ends[0][0] == 0.0
    assert ends[-1][1] == 1.0
    assert foot_point(tour, part.leg) == foot_point(TOUR, leg)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(RIDDEN), st.sampled_from(list(Way)), st.floats(0.01, 0.99))
def test_on_and_back_make_up_the_whole(name: str, way: Way, fraction: float) -> None:
    leg = TOUR.legs[name]
    on = rest_of_leg(TOUR, leg, way, fraction, name=name, start=leg.start).leg
    back = way_back(TOUR, leg, way, fraction, name=back_over(name), start=leg.start).leg
    assert on.riding_minutes + back.riding_minutes == pytest.approx(leg.riding_minutes)
    assert back.end == leg.ends(way)[0]
    assert (back.worth_minutes, back.halts) == (0.0, ())


def test_halts_tides_and_gates_behind_are_gone_those_ahead_are_met_sooner() -> None:
    causeway = TOUR.legs["salt_causeway"]
    part = rest_of_leg(TOUR, causeway, Way.FORWARD, 0.52, name="salt_causeway", start="orrowick")
    assert [halt.kind for halt in part.leg.halts] == [HaltKind.FUEL]  # at its end
    assert part.leg.tides is not None
    assert part.leg.tides.fractions == pytest.approx((0.02 / 0.48, 0.04 / 0.48))
    assert part.leg.far_end < 0
    over = rest_of_leg(TOUR, causeway, Way.FORWARD, 0.6, name="salt_causeway", start="orrowick")
    assert over.leg.tides is None
    umber = rest_of_leg(TOUR, TOUR.legs["umber_range"], Way.REVERSE, 0.5, name="u", start="tolfen")
    (gate,) = umber.leg.windows  # ridden in reverse from the middle the market lies behind
    assert gate.fractions == pytest.approx((0.56,))


def test_nothing_of_a_leg_is_left_at_its_end() -> None:
    leg = TOUR.legs["quern_loop"]
    with pytest.raises(ValueError, match="nothing is left"):
        rest_of_leg(TOUR, leg, Way.FORWARD, 1.0, name="x", start="orrowick")


@pytest.mark.parametrize(("fraction", "place"), [(0.0, "orrowick"), (1.0, "orrowick")])
def test_at_either_end_of_a_leg_they_are_at_a_place(fraction: float, place: str) -> None:
    found = rest(on_hask(fraction))
    assert (found.first, found.day.start) == (None, place)
    assert ("hask_saddle" in found.day.legs) == (fraction == 0.0)


def test_the_leg_they_are_on_is_the_first_must_and_begins_here() -> None:
    found = rest(on_hask(0.3), left_out=frozenset({"hask_saddle"}))
    leg = found.tour.legs["hask_saddle"]
    assert (found.first, found.day.own_order[0]) == ("hask_saddle", "hask_saddle")
    assert (leg.must, leg.one_way, leg.start) == (True, True, HERE)
    assert {"brindle_loop", "quern_loop"} <= set(leg.before)
    assert "hask_saddle" not in found.demands.left_out
    assert found.day.own_order[1:] == ("brindle_loop", "gannet_spur")


def test_wishes_about_what_is_done_are_done() -> None:
    there = Underway(at=NOON, ready=NOON, place="orrowick", ridden=frozenset({"brindle_loop"}))
    found = rest(
        there,
        forced=frozenset({"brindle_loop", "quern_loop"}),
        moved=frozenset({("brindle_loop", FRIDAY)}),
        departure=NOON - timedelta(hours=3),
    )
    assert found.demands.forced == {"quern_loop"}
    assert found.demands.moved == frozenset()
    assert found.demands.departure is None
    assert "brindle_loop" not in found.day.legs


def test_what_was_ridden_today_is_not_offered_on_later_days() -> None:
    """The spur may be ridden on Friday or on Saturday."""
    assert "gannet_spur" in TOUR.day(SATURDAY).legs
    there = Underway(at=NOON, ready=NOON, place="orrowick", ridden=frozenset({"gannet_spur"}))
    assert "gannet_spur" not in rest(there).tour.day(SATURDAY).legs


@pytest.mark.parametrize(
    "other", [{"place": "orrowick"}, {"point": Point(-46.0, 168.0, 0.0), "place": "hask"}]
)
def test_exactly_one_thing_says_where_they_are(other: dict[str, object]) -> None:
    there = replace(on_hask(0.5), **other)
    with pytest.raises(ValueError, match="exactly one"):
        rest(there)


@settings(max_examples=30, deadline=None)
@given(st.floats(-46.6, -45.9), st.floats(167.7, 169.8))
def test_roads_from_a_point_keep_the_triangle_with_the_roads_that_are_known(
    latitude: float, longitude: float
) -> None:
    day, point = TOUR.day(SATURDAY), Point(latitude, longitude, 0.0)
    table = connect(TOUR, day_places(TOUR, day), SPEEDS, 1.4)
    found = {
        road.between[1]: road.riding_minutes
        for road in roads_from(TOUR, HERE, point, day, SPEEDS, 1.4)
    }
    assert set(found) == set(table.places)
    for place, minutes in found.items():
        if minutes is None:
            continue
        straight = geodesic(point, TOUR.places[place].point).distance / 1000.0 * 1.4
        assert minutes >= straight / SPEEDS.connector * 60.0 - 1e-6
        for other, to_other in found.items():
            beyond = table.between(place, other)
            plain = geodesic(point, TOUR.places[place].point).distance / 1000.0 * 1.4
            if beyond is not None and to_other is not None:
                assert to_other + plain / SPEEDS.connector * 60.0 >= beyond - 1e-6


def test_a_night_elsewhere_changes_both_days_and_the_reception() -> None:
    found = with_nights(TOUR, {(SATURDAY, "orrowick")})
    saturday, sunday = found.day(SATURDAY), found.day(SATURDAY + timedelta(days=1))
    assert (saturday.start, saturday.end, sunday.start) == ("orrowick", "orrowick", "orrowick")
    assert saturday.own_order == ()
    assert sunday.own_order[:2] == ("lantern_coast", "narrows_ferry")
    nights = {base.place: base.nights for base in found.bases}
    assert SATURDAY in nights["orrowick"]
    assert SATURDAY not in nights["tolfen"]
    assert with_nights(TOUR, {(SATURDAY, "tolfen")}) == TOUR
    with pytest.raises(ValueError, match="no place"):
        with_nights(TOUR, {(SATURDAY, "nowhere")})


def test_homeward_only_fuel_is_halted_for() -> None:
    found = homeward(TOUR, "hask_saddle").legs
    assert {leg.worth_minutes for leg in found.values()} == {0.0}
    assert [name for name, leg in found.items() if leg.must] == ["hask_saddle"]
    kinds = {halt.kind for leg in found.values() for halt in leg.halts}
    assert kinds == {HaltKind.FUEL}


def test_plain_road_is_judged_in_parts_and_told_as_estimated_where_it_is() -> None:
    connectors = connect(TOUR, ("ferry_e", "wrack", "tolfen", "ferry_w"), SPEEDS, 1.4)
    roads = roads_to(TOUR, "tolfen", connectors.places, connectors)
    assert set(roads.legs) == {"road from ferry_e", "road from wrack", "road from ferry_w"}
    assert roads.estimated == {"road from wrack"}
    given = roads.legs["road from ferry_e"]  # 75 minutes, 72 km in the tour file
    assert (given.riding_minutes, given.distance_km, len(given.sections)) == (75.0, 72.0, 3)


# How long reports count: trade practice and assumptions, said beside each in `USUAL`.
@pytest.mark.parametrize(
    ("kind", "until"),
    [
        (ReportKind.CLOSED, local_instant(SATURDAY, time(0), TOUR.zone)),
        (ReportKind.NO_SAILING, local_instant(SATURDAY, time(0), TOUR.zone)),
        (ReportKind.GRAVEL, NOON + timedelta(days=7)),
        (ReportKind.WIND, NOON + timedelta(hours=2)),
        (ReportKind.FOG, NOON + timedelta(hours=2)),
        (ReportKind.WET, NOON + timedelta(hours=2)),
    ],
)
def test_a_report_expires_when_nobody_says_otherwise(kind: ReportKind, until: object) -> None:
    found = report_of("quern_loop", kind, NOON, TOUR.zone)
    assert (found.since, found.until) == (NOON, until)
    assert set(USUAL) == set(ReportKind)
    told = ("no source", "assumption", "councils")
    assert all(any(word in usual.source for word in told) for usual in USUAL.values())


def test_a_closure_counts_until_it_expires_and_not_before_it_was_seen() -> None:
    shut = report_of("quern_loop", ReportKind.CLOSED, NOON, TOUR.zone)
    assert closed_on({shut}, FRIDAY, TOUR.zone) == {"quern_loop"}
    assert closed_on({shut}, SATURDAY, TOUR.zone) == frozenset()
    assert closed_on({shut}, FRIDAY - timedelta(days=1), TOUR.zone) == frozenset()
    longer = replace(shut, until=NOON + timedelta(days=2))
    assert closed_on({longer}, SATURDAY, TOUR.zone) == {"quern_loop"}
    assert bearing_on({shut}, [TOUR.day(SATURDAY)], TOUR.zone) == frozenset()


def test_gravel_lies_on_the_whole_leg_and_the_fresher_dressing_counts() -> None:
    stones = report_of("brindle_loop", ReportKind.GRAVEL, NOON, TOUR.zone)
    leg = with_reports(TOUR, {stones}, FRIDAY).legs["brindle_loop"]
    assert leg.road.chippings == LooseChippings(laid=FRIDAY, assumed_until=date(2027, 4, 9))
    # dressed on 27 March until 10 April (tour file)
    assert {part.road.chippings for part in leg.sections} == {
        LooseChippings(laid=FRIDAY, assumed_until=date(2027, 4, 10))
    }
    assert with_reports(TOUR, {stones}, FRIDAY - timedelta(days=1)) == TOUR


def test_boats_before_the_report_expires_do_not_go() -> None:
    saturday_noon = NOON + timedelta(days=1)
    stopped = replace(
        report_of("narrows_ferry", ReportKind.NO_SAILING, saturday_noon, TOUR.zone),
        until=local_instant(SATURDAY, time(14), TOUR.zone),
    )
    ferry = with_reports(TOUR, {stopped}, SATURDAY).legs["narrows_ferry"].ferry
    assert ferry is not None
    saturday, monday = SATURDAY.weekday(), 0
    east = {
        day: sorted(
            wall
            for one in ferry.sailings
            if one.way is Way.FORWARD and day in one.weekdays
            for wall in one.departures
        )
        for day in (saturday, monday)
    }
    assert east[saturday] == [time(15, 15), time(16, 45), time(18, 15)]
    assert east[monday][0] == time(8, 15)


def test_what_only_the_weather_decides_changes_no_leg() -> None:
    kinds = (ReportKind.WIND, ReportKind.FOG, ReportKind.WET, ReportKind.DRY, ReportKind.MUD)
    reports = {report_of("quern_loop", kind, NOON, TOUR.zone) for kind in kinds}
    assert with_reports(TOUR, reports, FRIDAY) == TOUR
    assert TOUR.legs["narrows_ferry"].road.surface_class is not SurfaceClass.TRACK


def test_the_plan_ridden_by_is_the_own_order_from_now_on() -> None:
    """A stand-in that is ridden stands for its leg; what the file has beside it comes last."""
    there = Underway(at=NOON, ready=NOON, place="orrowick")
    assert rest(there).day.own_order == ("hask_saddle", "brindle_loop", "gannet_spur")
    riding = replace(there, riding=("quern_loop", "brindle_low_road", "hask_saddle"))
    found = rest(riding).day
    assert found.own_order == ("quern_loop", "brindle_loop", "hask_saddle", "gannet_spur")
    assert found.optional == ("salt_causeway",)
    assert rest(replace(riding, riding=("no_such_leg",))).day.own_order == rest(there).day.own_order
    both = replace(there, riding=("brindle_low_road", "brindle_loop"))  # each in its own right
    assert rest(both).day.own_order == ("brindle_loop", "hask_saddle", "gannet_spur")


def test_in_the_queue_nobody_needs_time_to_board() -> None:
    quay = Underway(at=NOON, ready=NOON, place="ferry_w")
    asked = TOUR.legs["narrows_ferry"].ferry
    here = rest(quay).tour.legs["narrows_ferry"].ferry
    assert here == asked
    waiting = rest(replace(quay, boarding="narrows_ferry")).tour.legs["narrows_ferry"].ferry
    assert asked is not None
    assert waiting == replace(asked, boarding_minutes=0.0, in_queue=True)
    assert rest(replace(quay, boarding="quern_loop")).tour.legs == rest(quay).tour.legs
