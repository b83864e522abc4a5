from dataclasses import replace
from datetime import date, datetime, time
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.advice.day_ride import own_ways
from replanner.advice.day_sheet import DaySheet, RemarkKind, day_sheet, day_sheets
from replanner.advice.day_sheet_text import day_sheet_text
from replanner.advice.words import words_for
from replanner.files.resources import demo_file
from replanner.files.tour_toml import load_tour
from replanner.geodesy import Point
from replanner.trip.connectors import connect, day_places
from replanner.trip.model import Halt, HaltKind, Leg, LegKind, Tour, Way
from replanner.trip.timing import Speeds, break_minutes
from replanner.units import UnitSystem

SPEEDS = Speeds()
DEMO = load_tour(demo_file("tour.toml"))
TWO_BAYS = load_tour(Path(__file__).parents[1] / "data/tour_two_bays.toml")


def sheet_of(tour: Tour, when: date, **changes: object) -> DaySheet:
    return day_sheet(tour, replace(tour.day(when), **changes), SPEEDS)  # type: ignore[arg-type]


def local(sheet: DaySheet, tour: Tour) -> tuple[str, str]:
    wall = [moment.astimezone(tour.zone) for moment in (sheet.departure, sheet.arrival)]
    return f"{wall[0]:%H:%M}", f"{wall[1]:%H:%M}"


def test_the_long_first_day_by_hand() -> None:
    sheet = sheet_of(DEMO, date(2027, 4, 1))
    # 118 + 225 + 225 riding; 10 + 40 halts; 568 minutes ask for 4 breaks, one is the lunch.
    assert sheet.riding_minutes == 568
    assert sheet.halt_minutes == 50
    assert sheet.break_minutes == 45
    assert sheet.distance_km == 144 + 232 + 193
    assert local(sheet, DEMO) == ("08:30", "19:33")
    assert sheet.longest_without_fuel_km == 232
    assert [remark.kind for remark in sheet.remarks] == [RemarkKind.LONG_DAY]


def test_the_ferry_day_waits_for_the_boat() -> None:
    sheet = sheet_of(DEMO, date(2027, 4, 3))
    # In at the quay 10:35, the 11:15 is boarded, 25 minutes over; a break is due before Wrack
    # Bay (95 + 80 + 30 = 205 riding minutes ask for one): 11:40 + 80 + 15 + 30 = 13:45.
    assert sheet.waiting_minutes == 40 + 25
    assert local(sheet, DEMO) == ("09:00", "13:45")
    assert sheet.distance_km == 82 + 54 + 26


def test_the_market_and_the_works_cost_their_minutes() -> None:
    assert sheet_of(DEMO, date(2027, 4, 4)).slow_minutes == 20
    assert sheet_of(DEMO, date(2027, 4, 5)).slow_minutes == 18
    early = sheet_of(DEMO, date(2027, 4, 5), own_departure=time(6, 45))
    assert early.slow_minutes == 0


def test_what_is_met_at_a_wrong_hour_is_told() -> None:
    # On a Saturday the gate (Monday to Friday) is shut; 08:00 is not inside the tide table.
    saturday = sheet_of(TWO_BAYS, date(2027, 4, 3))
    met = {remark.subject: remark.kind for remark in saturday.remarks}
    assert (met["gate"], met["Saddle"]) == (RemarkKind.CLOSED, RemarkKind.TIDE)
    # On a Sunday no boat goes over, and nobody can say when the day would be over.
    sunday = sheet_of(TWO_BAYS, date(2027, 4, 4))
    assert RemarkKind.NO_SAILING in [remark.kind for remark in sunday.remarks]
    assert (sunday.arrival, sunday.slack_minutes) == (None, None)
    told = day_sheet_text([sunday], TWO_BAYS, words_for("en"))
    assert "Ferry: no sailing on Sunday" in told
    assert "cannot be ridden so" in told
    assert ", in " not in told
    forest = sheet_of(DEMO, date(2027, 4, 5), start="tolfen", end="tolfen",
                      own_order=("ash_forest",))  # fmt: skip
    assert [remark.subject for remark in forest.remarks] == ["Forest of Ash, log trucks"]


def test_leaving_before_dawn_and_coming_in_after_dusk_are_told() -> None:
    sheet = sheet_of(DEMO, date(2027, 4, 1), own_departure=time(5, 0))
    assert RemarkKind.DARK_START in [remark.kind for remark in sheet.remarks]
    late = sheet_of(DEMO, date(2027, 4, 1), own_departure=time(11, 0))
    (told,) = [remark for remark in late.remarks if remark.kind is RemarkKind.TOO_LATE]
    assert late.slack_minutes is not None
    assert told.figure == -late.slack_minutes > 0
    assert (told.subject, late.slack_limit) == ("civil dusk", "civil dusk")


def test_the_first_limit_counts() -> None:
    sheet = sheet_of(DEMO, date(2027, 4, 1), latest_arrival=time(19, 0))
    assert (sheet.slack_minutes, sheet.slack_limit) == (-33, "latest arrival")


def test_polar_day_has_no_dusk_and_no_limit() -> None:
    places = {
        name: replace(place, point=Point(75.0, 25.0, 0.0)) for name, place in DEMO.places.items()
    }
    north = replace(DEMO, places=places, zone=ZoneInfo("Europe/Oslo"), bases=())
    sheet = day_sheet(north, replace(DEMO.days[1], date=date(2027, 6, 21)), SPEEDS)
    assert (sheet.slack_minutes, sheet.slack_limit) == (None, "")
    assert sheet.daylight_minutes is None
    assert "without dawn and dusk; no limit" in day_sheet_text([sheet], north, words_for("en"))


def test_polar_night_is_told_as_dark_not_as_without_a_limit() -> None:
    """At 78 degrees north the sun stays below -6 degrees for weeks round the winter solstice."""
    places = {
        name: replace(place, point=Point(78.2, 15.6, 0.0)) for name, place in DEMO.places.items()
    }
    north = replace(DEMO, places=places, zone=ZoneInfo("Arctic/Longyearbyen"), bases=())
    sheet = day_sheet(north, replace(DEMO.days[1], date=date(2027, 12, 20)), SPEEDS)
    told = day_sheet_text([sheet], north, words_for("en"))
    assert "light none, dark all day; never light enough" in told
    assert "no limit" not in told


def test_dawn_is_taken_at_the_start_of_the_day_and_dusk_at_its_end() -> None:
    # The light itself is checked against outside figures in tests/published.
    sheet = sheet_of(DEMO, date(2027, 4, 1))
    assert sheet.light_from is not None
    assert sheet.light_until is not None
    dawn, dusk = (m.astimezone(DEMO.zone) for m in (sheet.light_from, sheet.light_until))
    assert (f"{dawn:%H:%M}", f"{dusk:%H:%M}") == ("07:17", "20:07")


def test_an_estimated_connector_is_marked() -> None:
    tour = replace(DEMO, connectors=())
    sheet = sheet_of(tour, date(2027, 4, 2), start="tolfen")
    (told,) = [remark for remark in sheet.remarks if remark.kind is RemarkKind.ESTIMATED]
    assert told.subject == "Tolfen - Orrowick"
    # 128.8 km by the geodesic (GeographicLib), 1.4 times that at 60 km/h.
    assert told.figure == pytest.approx(128.8 * 1.4, abs=0.2)
    assert sheet.connector_minutes == told.figure
    assert sheet.estimated == (("tolfen", "orrowick"),)
    given_one = sheet_of(DEMO, date(2027, 4, 2), start="tolfen")
    assert given_one.connector_minutes == 160
    assert given_one.estimated == ()


def test_a_small_tank_is_told_on_the_longest_stretch() -> None:
    rider = replace(DEMO.riders[0], tank_range_km=260.0)
    small = replace(DEMO, riders=(rider,))
    sheet = sheet_of(small, date(2027, 4, 1))
    (told,) = [remark for remark in sheet.remarks if remark.kind is RemarkKind.TANK]
    assert told.figure == 232  # 232 of 260 is more than four fifths
    assert day_sheet_text([sheet], small, words_for("en")).count("four fifths") == 1


def test_each_leg_is_ridden_the_way_that_needs_the_least_plain_road() -> None:
    back = ("sable_road", "wrack_bay", "narrows_ferry", "lantern_coast")
    day = replace(DEMO.days[2], start="tolfen", end="orrowick", own_order=back)
    table = connect(DEMO, day_places(DEMO, day), SPEEDS)
    assert [way for _, way in own_ways(DEMO, day, table)] == [Way.REVERSE] * 4
    assert day_sheet(DEMO, day, SPEEDS).connector_minutes == 0


def test_a_sheet_reads_in_miles_where_the_rider_does() -> None:
    imperial = replace(DEMO, units=UnitSystem.IMPERIAL)
    text = day_sheet_text(day_sheets(imperial, SPEEDS), imperial, words_for("en"))
    assert "Marrowgate to Orrowick, 354 mi" in text  # 569 / 1.609344
    assert " km" not in text
    assert text.count("\n\n") == 4


def test_the_text_holds_what_the_sheet_holds() -> None:
    text = day_sheet_text([sheet_of(DEMO, date(2027, 4, 1))], DEMO, words_for("en"))
    assert text.splitlines() == [
        "Thu 1 Apr: Marrowgate to Orrowick, 569 km",
        "  leave 08:30, in 19:33; light 07:17-20:07; 34 min to civil dusk",
        "  riding 9:28 h, connectors 0:00 h, halts 0:50 h, breaks 0:45 h, boats and delays 0:00 h",
        "  longest stretch without fuel 232 km, smallest tank 340 km",
        "  ! 9:28 h on the road is a long day",
    ]


@given(st.times(time(5), time(12)), st.times(time(5), time(12)))
def test_leaving_later_never_leaves_more_slack(first: time, second: time) -> None:
    early, late = sorted(time(t.hour, t.minute) for t in (first, second))
    slack = [
        sheet_of(DEMO, date(2027, 4, 3), own_departure=wall).slack_minutes for wall in (early, late)
    ]
    assert slack[0] is not None
    assert slack[1] is not None
    assert slack[1] <= slack[0]


@given(
    st.lists(
        st.tuples(st.integers(1, 300), st.lists(st.sampled_from([0, 0.25, 0.5, 1]), max_size=2)),
        min_size=1,
        max_size=4,
    )
)
def test_fuel_and_breaks_agree_with_counting_them_out(
    parts: list[tuple[int, list[float]]],
) -> None:
    legs = {
        f"l{n}": Leg(
            id=f"l{n}", name=f"L{n}", kind=LegKind.LOOP, start="inn", end="inn", via=("foot",),
            riding_minutes=float(km), distance_km=float(km),
            halts=tuple(Halt(place="foot", fraction=f, minutes=5, kind=HaltKind.FUEL)
                        for f in fuel),
        )
        for n, (km, fuel) in enumerate(parts)
    }  # fmt: skip
    tour = replace(TWO_BAYS, legs=legs)
    sheet = sheet_of(tour, date(2027, 4, 3), own_order=tuple(legs))
    marks, reached = [0.0], 0.0
    for km, fuel in parts:
        marks += [reached + fraction * km for fraction in sorted(fuel)]
        reached += km
    gaps = [b - a for a, b in zip(marks, [*marks[1:], reached], strict=True)]
    assert sheet.longest_without_fuel_km == pytest.approx(max(gaps))
    assert sheet.break_minutes == break_minutes(reached)
    spent = sheet.riding_minutes + sheet.halt_minutes + sheet.break_minutes
    assert (sheet.arrival - sheet.departure).total_seconds() / 60 == pytest.approx(spent, abs=0.1)


def test_departure_falls_back_to_earliest_departure_and_dawn() -> None:
    dawn = sheet_of(DEMO, date(2027, 4, 1), own_departure=None)
    assert dawn.departure == dawn.light_from
    early = sheet_of(DEMO, date(2027, 4, 1), own_departure=None, earliest_departure=time(8))
    assert early.departure.astimezone(DEMO.zone) == datetime(2027, 4, 1, 8, tzinfo=DEMO.zone)
