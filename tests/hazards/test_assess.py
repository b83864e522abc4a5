"""Legs assessed at the hours they are passed in. Tour and weather INVENTED."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.geodesy import Point
from replanner.hazards.assess import LegAssessment, assess_day, assess_leg
from replanner.hazards.limits import Limits
from replanner.hazards.model import Party
from replanner.hazards.resting import Resting, latest_by_breaks
from replanner.trip.model import (
    Day,
    Exposure,
    Halt,
    HaltKind,
    Leg,
    LegKind,
    Place,
    Rider,
    Road,
    Section,
    StandIn,
    Tour,
    Way,
)
from replanner.trip.stretches import sample_points
from replanner.weather.hourly import PointHours
from tests.hazards.conftest import FAIR

DAY = date(2027, 4, 2)
FIRST = np.datetime64("2027-03-27T00:00:00", "s")  # tables begin six days earlier
HOURS = 9 * 24
NOON = np.datetime64("2027-04-02T00:00:00", "s")  # 13:00 where the tour is

PLACES = {
    "inn": Place(id="inn", name="Inn", point=Point(-46.36, 168.02, 8.0)),
    "top": Place(id="top", name="Top", point=Point(-45.96, 167.69, 612.0)),
    "end": Place(id="end", name="End", point=Point(-46.02, 167.86, 120.0)),
}
TOP = Section(
    name="Top", from_fraction=0.5, to_fraction=0.75, place="top",
    road=Road(exposure=Exposure.EXPOSED, elevation_m=612.0, headings_deg=(90.0,)),
)  # fmt: skip
PASS = Leg(
    id="pass", name="Pass", kind=LegKind.PASS, start="inn", end="end", via=("top",),
    riding_minutes=240.0, distance_km=200.0, sections=(TOP,), road=Road(headings_deg=(0.0,)),
)  # fmt: skip
VALLEY = Leg(
    id="valley", name="Valley", kind=LegKind.TRANSIT, start="inn", end="end",
    riding_minutes=120.0, distance_km=110.0,
)  # fmt: skip


def tour_of(*legs: Leg) -> Tour:
    return Tour(
        name="Invented", zone=ZoneInfo("Pacific/Auckland"), places=PLACES,
        legs={leg.id: leg for leg in legs}, riders=(Rider(id="r1"),), invented=True,
        days=(Day(date=DAY, start="inn", end="end", own_order=tuple(leg.id for leg in legs)),),
    )  # fmt: skip


def fair_hours(tour: Tour, members: int | None = None) -> dict[str, PointHours]:
    shape = (HOURS,) if members is None else (members, HOURS)
    time = FIRST + np.arange(HOURS).astype("timedelta64[h]")
    return {
        point: PointHours(
            time,
            {
                name: np.full(shape, value)
                for name, value in FAIR.items()
                if name != "cloud_base_altitude"
            },
        )
        for point in sample_points(tour, tour.days)
    }


def at(hour: int, minute: int = 0) -> np.datetime64:
    """Return an instant counted from NOON."""
    return NOON + np.timedelta64(60 * hour + minute, "m")


def index(hour: int) -> int:
    return int((at(hour) - FIRST) / np.timedelta64(1, "h"))


def starts_of(*instants: np.datetime64) -> np.ndarray:
    return np.array(instants, "datetime64[s]")


def everywhere(hours: Mapping[str, PointHours], column: str, hour: int, value: float) -> None:
    for table in hours.values():
        table.columns[column][..., index(hour)] = value


def assessed(
    tour: Tour, hours: Mapping[str, PointHours], limits: Limits, *starts: np.datetime64,
    way: Way = Way.FORWARD, leg: str = "pass", party: Party | None = None,
) -> LegAssessment:  # fmt: skip
    return assess_leg(
        tour, tour.legs[leg], way, starts_of(*starts), hours, party or Party(), limits
    )


def test_fair_weather_is_go_in_dry_time(limits: Limits) -> None:
    tour = tour_of(PASS)
    found = assessed(tour, fair_hours(tour), limits, at(0), at(0, 5))
    assert found.piece_names == ("Pass", "Top", "Pass")
    assert found.piece_minutes[:, 0].tolist() == [120.0, 60.0, 60.0]
    assert (found.severity < 2).all()
    assert found.unknown == ()
    assert found.piece_severity.shape == (3, 2)
    assert found.halt_fits.shape == (0, 2)


def test_each_section_is_judged_at_its_own_hours_and_neighbours(limits: Limits) -> None:
    # the top is passed from 2:00 to 3:00 after a start at 0:00: hours 1 to 4 count
    tour = tour_of(PASS)
    for hour in range(-2, 8):
        hours = fair_hours(tour)
        everywhere(hours, "wind_speed_of_gust", hour, 22.0)
        found = assessed(tour, hours, limits, at(0))
        assert (found.piece_severity[1, 0] == 4) == (1 <= hour <= 4), hour


def test_a_long_leg_is_judged_with_its_breaks_and_without(limits: Limits) -> None:
    """Four hours, ridden two at most: one break, so the end is passed a quarter of an hour later.

    Rule 91 of the Highway Code: at least 15 minutes after every two hours.
    """
    tour = tour_of(PASS)
    resting = Resting(after_minutes=120.0, minutes=15.0)
    for minute, needed in ((0, 5), (50, 6)):  # in at 4:00 or 4:50; at 4:15 or 5:05 with a break
        hours = fair_hours(tour)
        everywhere(hours, "wind_speed_of_gust", needed, 22.0)
        day = replace(tour.days[0], own_order=("pass",))
        start = starts_of(at(0, minute))
        with_breaks = assess_day(tour, day, start, hours, Party(), limits, resting=resting)
        found = with_breaks["pass", Way.FORWARD]
        without = assessed(tour, hours, limits, at(0, minute))
        assert (without.severity[0] == 4) == (needed == 5)
        assert found.severity[0] == 4
        # riding takes as long as before, and what lies before any break is judged as before
        assert (found.piece_minutes == without.piece_minutes).all()
        assert found.piece_severity[0, 0] == without.piece_severity[0, 0]


def a_rest(fraction: float, minutes: float) -> Halt:
    return Halt(place="top", fraction=fraction, minutes=minutes, kind=HaltKind.CAFE)


@pytest.mark.parametrize(
    ("riding", "halts", "ends", "late"),
    [
        (120.0, (), (0.5, 1.0), (0.0, 0.0)),
        (121.0, (), (0.5, 1.0), (0.0, 15.0)),  # at the end of the first piece
        (121.0, (), (0.8, 1.0), (15.0, 15.0)),  # there it would be too late
        (360.0, (), (0.1, 0.5, 0.9), (0.0, 15.0, 30.0)),  # a third on, and at the half
        (240.0, (a_rest(0.5, 20.0),), (0.5, 1.0), (0.0, 0.0)),
        (240.0, (a_rest(0.5, 10.0),), (0.5, 1.0), (0.0, 15.0)),
        (300.0, (a_rest(0.2, 20.0),), (0.1, 1.0), (0.0, 15.0)),
    ],
)
def test_breaks_of_a_leg_lie_between_its_long_halts(
    riding: float, halts: tuple[Halt, ...], ends: tuple[float, ...], late: tuple[float, ...]
) -> None:
    leg = replace(PASS, riding_minutes=riding, halts=halts)
    resting = Resting(after_minutes=120.0, minutes=15.0)
    assert latest_by_breaks(leg, Way.FORWARD, ends, resting) == late
    assert latest_by_breaks(leg, Way.FORWARD, ends, None) == (0.0,) * len(ends)


def test_who_is_midway_on_a_leg_takes_its_breaks_sooner() -> None:
    leg = replace(PASS, riding_minutes=100.0, halts=(a_rest(0.5, 20.0),))
    resting = Resting(after_minutes=120.0, minutes=15.0, first="pass", midway=80.0)
    # of 130 minutes the middle is behind them
    assert latest_by_breaks(leg, Way.FORWARD, (0.2, 0.5, 1.0), resting) == (15.0, 15.0, 15.0)
    assert latest_by_breaks(replace(leg, id="other"), Way.FORWARD, (1.0,), resting) == (0.0,)


def test_the_finding_names_section_figure_limit_and_the_right_hour(limits: Limits) -> None:
    tour = tour_of(PASS)
    hours = fair_hours(tour)
    everywhere(hours, "wind_speed_of_gust", 4, 19.0)
    found = assessed(tour, hours, limits, at(0), at(-4))
    worst = found.findings[0]
    assert worst is not None
    assert (worst.hazard, worst.section, worst.unknown) == ("crosswind", "Top", False)
    assert worst.value == pytest.approx(19.0 * abs(np.sin(np.radians(200.0 - 90.0))))
    assert (worst.limit, worst.unit) == (15.0, "m/s")
    assert worst.hour == at(4)
    assert worst.passage == at(2)
    assert worst.severity == found.severity[0]
    assert found.severity[1] < 2
    assert found.findings[1] is None


def test_the_other_way_round_the_top_comes_earlier(limits: Limits) -> None:
    tour = tour_of(PASS)
    hours = fair_hours(tour)
    everywhere(hours, "wind_speed_of_gust", 4, 22.0)
    # ridden back, the top lasts from 1:00 to 2:00: hour 4 is past
    back = assessed(tour, hours, limits, at(0), way=Way.REVERSE)
    assert back.piece_names == ("Pass", "Top", "Pass")
    assert back.piece_minutes[:, 0].tolist()[0] == 60.0
    assert back.piece_severity[1, 0] < 2
    assert assessed(tour, hours, limits, at(0)).piece_severity[1, 0] == 4


def test_a_halt_delays_what_lies_behind_it(limits: Limits) -> None:
    cafe = Halt(place="inn", fraction=0.25, minutes=60.0, kind=HaltKind.CAFE)
    tour = tour_of(replace(PASS, halts=(cafe,)))
    hours = fair_hours(tour)
    everywhere(hours, "wind_speed_of_gust", 5, 22.0)  # one hour after all was passed without halt
    assert assessed(tour, hours, limits, at(0)).piece_severity[1, 0] == 4
    # ridden back the halt lies behind the top
    back = assessed(tour, hours, limits, at(0), way=Way.REVERSE)
    assert back.piece_severity[1, 0] < 2
    assert back.halt_fits.all()


def test_an_optional_halt_is_made_only_where_it_fits(limits: Limits) -> None:
    drone = Halt(place="inn", fraction=0.25, minutes=60.0, kind=HaltKind.DRONE, optional=True)
    tour = tour_of(replace(PASS, halts=(drone,)))
    hours = fair_hours(tour)
    everywhere(hours, "wind_speed_of_gust", 1, 8.0)  # too much to fly, little to ride
    found = assessed(tour, hours, limits, at(0), at(6))
    assert found.halt_fits.tolist() == [[False, True]]
    assert found.piece_minutes[:, 0].tolist() == [120.0, 60.0, 60.0]


def test_rain_slows_and_the_time_carries_on(limits: Limits) -> None:
    tour = tour_of(PASS)
    hours = fair_hours(tour)
    for hour in range(-1, 3):
        everywhere(hours, "precipitation_amount", hour, 1.0)
    found = assessed(tour, hours, limits, at(0))
    # speed -10 % in light rain (FHWA)
    assert found.piece_minutes[0, 0] == pytest.approx(120.0 * 1.11)
    worst = found.findings[0]
    assert worst is not None
    assert worst.passage == at(2, 13) + np.timedelta64(12, "s")


def test_a_missing_column_is_listed_and_caution_at_least(limits: Limits) -> None:
    tour = tour_of(PASS)
    hours = fair_hours(tour)
    for table in hours.values():
        table.columns.pop("visibility_in_air")
    found = assessed(tour, hours, limits, at(0))
    assert found.unknown == ("visibility",)
    assert found.severity[0] == 2
    worst = found.findings[0]
    assert worst is not None
    assert worst.unknown
    assert (worst.hazard, worst.value, worst.limit) == ("visibility", None, None)


def test_two_unknown_stay_one_caution(limits: Limits) -> None:
    tour = tour_of(PASS)
    hours = fair_hours(tour)
    for table in hours.values():
        for gone in ("visibility_in_air", "wind_speed_of_gust", "precipitation_amount"):
            table.columns.pop(gone)
    found = assessed(tour, hours, limits, at(0))
    assert {"visibility", "gust", "rain"} <= set(found.unknown)
    assert found.severity[0] == 2


def test_starts_outside_the_table_are_unknown(limits: Limits) -> None:
    tour = tour_of(PASS)
    late = FIRST + np.timedelta64(HOURS + 5, "h")
    found = assessed(tour, fair_hours(tour), limits, at(0), late)
    assert found.severity[0] < 2
    assert found.severity[1] >= 2
    worst = found.findings[1]
    assert worst is not None
    assert found.unknown == ()  # it could be judged for the other start


def test_a_point_without_a_table_is_unknown(limits: Limits) -> None:
    tour = tour_of(PASS)
    found = assessed(tour, {}, limits, at(0))
    assert found.severity[0] == 2
    assert "gust" in found.unknown
    assert (found.piece_minutes.sum(axis=0) >= 240).all()


def test_cautions_of_two_kinds_on_one_section_are_avoid(limits: Limits) -> None:
    # common practice, no source
    tour = tour_of(PASS)
    wind, fog = fair_hours(tour), fair_hours(tour)
    for hours in (wind, fog):
        everywhere(hours, "wind_speed_of_gust", 2, 13.4)
        everywhere(hours, "wind_speed", 2, 9.0)  # else the spread alone would be avoid
    everywhere(fog, "visibility_in_air", 2, 900.0)
    assert 2 <= assessed(tour, wind, limits, at(0)).severity[0] < 3
    assert 3 <= assessed(tour, fog, limits, at(0)).severity[0] < 4


def test_members_go_through_and_each_is_as_if_alone(limits: Limits) -> None:
    tour = tour_of(PASS)
    hours = fair_hours(tour, members=3)
    for table in hours.values():
        table.columns["precipitation_amount"][1, index(-1) : index(3)] = 1.0
        table.columns["wind_speed_of_gust"][2, index(3)] = 30.0
    starts = [at(0), at(0, 30), at(2)]
    together = assessed(tour, hours, limits, *starts)
    assert together.severity.shape == (3, 3)
    assert together.piece_minutes.shape == (3, 3, 3)
    for member in range(3):
        single = {
            point: PointHours(t.time, {n: v[member] for n, v in t.columns.items()})
            for point, t in hours.items()
        }
        alone = assessed(tour, single, limits, *starts)
        np.testing.assert_allclose(together.severity[member], alone.severity)
        np.testing.assert_allclose(together.piece_minutes[:, member], alone.piece_minutes)
        np.testing.assert_allclose(together.piece_severity[:, member], alone.piece_severity)
    assert together.findings == assessed(tour, {
        point: PointHours(t.time, {n: v[0] for n, v in t.columns.items()})
        for point, t in hours.items()
    }, limits, *starts).findings  # fmt: skip


def test_avoid_on_an_exposed_section_is_no_go_where_the_stand_in_can_be_ridden(
    limits: Limits,
) -> None:
    # the elementary table: level 3 on exposure 3 asks for the stand-in
    tour = tour_of(replace(PASS, stand_in=StandIn(leg="valley")), VALLEY)
    hours = fair_hours(tour)
    everywhere(hours, "wind_speed_of_gust", 2, 17.9)
    starts = starts_of(at(0), at(-8))
    day = assess_day(tour, tour.days[0], starts, hours, Party(), limits)
    assert set(day) == {("pass", Way.FORWARD), ("pass", Way.REVERSE),
                        ("valley", Way.FORWARD), ("valley", Way.REVERSE)}  # fmt: skip
    assert day["pass", Way.FORWARD].severity[0] == 4
    assert day["valley", Way.FORWARD].severity[0] < 3
    plain = assessed(tour, hours, limits, at(0))
    assert 3 <= plain.severity[0] < 4
    # fog thick enough to close the valley too: the pass is then no worse than by itself
    for hour in (0, 1):
        everywhere(hours, "visibility_in_air", hour, 150.0)
    day = assess_day(tour, tour.days[0], starts, hours, Party(), limits)
    assert day["valley", Way.FORWARD].severity[0] >= 3


def test_the_stand_in_is_assessed_with_the_day_even_if_not_listed(limits: Limits) -> None:
    tour = tour_of(replace(PASS, stand_in=StandIn(leg="valley")), replace(VALLEY, one_way=True))
    only_pass = replace(tour.days[0], own_order=("pass",))
    day = assess_day(tour, only_pass, starts_of(at(0)), fair_hours(tour), Party(), limits)
    assert set(day) == {
        ("pass", Way.FORWARD), ("pass", Way.REVERSE), ("valley", Way.FORWARD)
    }  # fmt: skip


def test_a_steep_narrow_pass_is_no_go_in_the_wet_and_its_valley_road_is_not(
    limits: Limits,
) -> None:
    # common practice, no source: left out in any wet when the parallel valley road is as good
    lane = Road(surface="grass", width_m=2.5, steepest_grade_percent=17.0,
                exposure=Exposure.EXPOSED, headings_deg=(90.0,), elevation_m=612.0)  # fmt: skip
    steep = replace(PASS, sections=(replace(TOP, road=lane),), stand_in=StandIn(leg="valley"))
    tour = tour_of(steep, VALLEY)
    hours = fair_hours(tour)
    everywhere(hours, "precipitation_amount", 0, 0.5)
    day = assess_day(tour, tour.days[0], starts_of(at(0)), hours, Party(), limits)
    assert day["pass", Way.FORWARD].severity[0] == 4
    # the first rain after dry days: ridden, slower
    assert day["valley", Way.FORWARD].severity[0] == 2
    # a wet track is ridden at 15 km/h
    top = 200.0 * 0.25
    assert day["pass", Way.FORWARD].piece_minutes[1, 0] == pytest.approx(top / 15.0 * 60.0)


def test_alone_without_a_phone_an_exposed_section_is_stricter(limits: Limits) -> None:
    # common practice, no source
    tour = tour_of(replace(PASS, phone=False))
    hours = fair_hours(tour)
    everywhere(hours, "wind_speed_of_gust", 2, 13.4)
    group = assessed(tour, hours, limits, at(0))
    alone = assessed(tour, hours, limits, at(0), party=Party(alone=True))
    assert alone.severity[0] > group.severity[0]


def test_the_dark_is_judged_to_the_minute(limits: Limits) -> None:
    # 2027-04-02 at the base: civil dusk about 20:06, which is 7:06 after NOON
    tour = tour_of(VALLEY)
    hours = fair_hours(tour)
    calm = assessed(tour, hours, limits, at(3, 30), at(6), leg="valley")
    assert calm.severity[0] < 2
    assert calm.severity[1] >= 3
    worst = calm.findings[1]
    assert worst is not None
    assert worst.hazard == "darkness"
    assert worst.hour == at(8)  # the end of the leg, the darkest of it
    assert worst.value is not None
    assert worst.value == pytest.approx(-54.0, abs=4.0)


def test_cloud_on_the_pass_is_told_from_the_air_at_its_foot(limits: Limits) -> None:
    # base = foot + 125 m per degree between air and dew point (from memory)
    tour = tour_of(PASS)
    hours = fair_hours(tour)
    for table in hours.values():
        table.columns["dew_point_temperature"][:] = 15.0  # 18 - 15: base at 383 m
    found = assessed(tour, hours, limits, at(0))
    assert found.piece_severity[0, 0] < 2
    assert found.piece_severity[1, 0] >= 3
    worst = found.findings[0]
    assert worst is not None
    assert worst.hazard == "cloud_base"
    assert worst.value == pytest.approx(8.0 + 3.0 * 125.0 - 612.0)


def test_a_stop_has_no_hazards(limits: Limits) -> None:
    stop = Leg(id="pass", name="Cafe", kind=LegKind.STOP, start="inn", end="inn",
               riding_minutes=45.0, distance_km=0.0)  # fmt: skip
    tour = tour_of(stop)
    hours = fair_hours(tour)
    everywhere(hours, "wind_speed_of_gust", 0, 40.0)
    found = assessed(tour, hours, limits, at(0))
    assert found.severity.tolist() == [0.0]
    assert found.findings == (None,)
    assert found.piece_minutes.sum() == 45.0


def test_no_start_is_refused(limits: Limits) -> None:
    tour = tour_of(PASS)
    with pytest.raises(ValueError, match="at least one start"):
        assessed(tour, fair_hours(tour), limits)


def changing_hours(tour: Tour, members: int, seed: int) -> dict[str, PointHours]:
    """Return INVENTED weather that differs by hour, point and member, with gaps."""
    rng = np.random.default_rng(seed)
    worst = {"precipitation_amount": 6.0, "wind_speed_of_gust": 24.0, "wind_from_direction": 360.0}
    hours = fair_hours(tour, members)
    for table in hours.values():
        for name, most in worst.items():
            values = most * rng.uniform(size=(members, HOURS)) ** 2
            table.columns[name][:] = np.where(rng.uniform(size=values.shape) < 0.05, np.nan, values)
        # an overcast sky: how finely a low sun is looked for hangs on the longest passage of all
        table.columns["cloud_area_fraction"][:] = 90.0
        table.columns["weather_code"][:] = np.where(rng.uniform(size=HOURS) < 0.1, 45.0, 1.0)
    return hours


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 2**32 - 1), st.lists(st.integers(-900, 900), min_size=2, max_size=6))
def test_what_starts_and_ways_share_changes_nothing(
    limits: Limits, seed: int, minutes: list[int]
) -> None:
    halt = Halt(place="top", fraction=0.6, minutes=20.0, kind=HaltKind.PHOTO, optional=True)
    leg = replace(PASS, halts=(halt,), stand_in=StandIn(leg="valley"), last_light="sunset-30")
    tour = tour_of(leg, replace(VALLEY, animals=True))
    hours, starts = changing_hours(tour, 3, seed), starts_of(*(at(0, each) for each in minutes))
    party = Party(alone=True)
    day = assess_day(tour, tour.days[0], starts, hours, party, limits)
    for (leg_id, way), together in day.items():
        alone = [
            assess_day(tour, tour.days[0], start[None], hours, party, limits)[leg_id, way]
            for start in starts
        ]
        for name in ("piece_minutes", "piece_severity", "severity", "halt_fits"):
            apart = np.concatenate([getattr(each, name) for each in alone], axis=-1)
            np.testing.assert_allclose(getattr(together, name), apart, atol=1e-9)
        told = [None if each is None else each[:2] for each in together.findings]
        assert told == [
            None if each.findings[0] is None else each.findings[0][:2] for each in alone
        ]
    valley = assess_leg(tour, tour.legs["valley"], Way.REVERSE, starts, hours, party, limits)
    shared = day["valley", Way.REVERSE]
    np.testing.assert_array_equal(shared.piece_severity, valley.piece_severity)
    np.testing.assert_array_equal(shared.piece_minutes, valley.piece_minutes)
    assert shared.findings == valley.findings
