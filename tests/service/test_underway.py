"""A day of the demo tour under way, one story a situation. Tour and weather are INVENTED.

Every outcome is worked out by hand from the tour file: minutes, sailings, worths, reception.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from replanner.advice.briefing import Briefing, Decision, HomeWay
from replanner.clock import local_instant
from replanner.errors import NoPlanError
from replanner.geodesy import Point
from replanner.planning.rules import Rules
from replanner.service.evening import Evening, plan_day
from replanner.service.planner import Means
from replanner.trip.edits import Demands
from replanner.trip.model import Tour, Way
from replanner.trip.reported import report_of
from replanner.trip.rest_of_day import back_over
from replanner.trip.timing import Speeds
from replanner.trip.underway import OnLeg, ReportKind, Underway
from tests.service.fair import MadeWeather
from tests.service.test_evening import LIMITS
from tests.trip.rides import demo

FRIDAY, SATURDAY, SUNDAY = date(2027, 4, 2), date(2027, 4, 3), date(2027, 4, 4)
TOUR = demo()


def at(day: date, hour: int, minute: int = 0) -> datetime:
    return local_instant(day, time(hour, minute), TOUR.zone)


def plan(
    day: date, now: datetime, demands: Demands, weather: MadeWeather | None = None,
    tour: Tour = TOUR,
) -> Evening:  # fmt: skip
    means = Means(
        forecasts=weather or MadeWeather(),
        limits=LIMITS,
        rules=Rules(),
        speeds=Speeds(),
        detour_factor=1.4,
        language="en",
    )
    return plan_day(tour, tour.day(day), now, demands, means)


def from_place(place: str, ready: datetime, *ridden: str, **other: object) -> Demands:
    there = Underway(at=ready, ready=ready, place=place, ridden=frozenset(ridden))
    return Demands(underway=there, **other)


def in_the_morning(demands: Demands) -> Demands:
    """Return the demands of riders who have begun nothing of the day."""
    assert demands.underway is not None
    return replace(demands, underway=replace(demands.underway, in_the_morning=True))


def with_tank(demands: Demands, km: float | None, told: float | None = None) -> Demands:
    """Return the demands of riders who have ridden so far since their tanks were full. [km].

    `told`: what of it they have told. [km]
    """
    assert demands.underway is not None
    tank = replace(demands.underway, tank_km=km, tank_told_km=told)
    return replace(demands, underway=tank)


def on_leg(leg: str, fraction: float, ready: datetime, *, back: bool = False) -> Underway:
    return Underway(
        at=ready,
        ready=ready,
        on_leg=OnLeg(leg=leg, way=Way.FORWARD, fraction=fraction),
        turning_back=back,
    )


def ridden(briefing: Briefing) -> list[str]:
    return [leg.id for leg in briefing.legs]


def sound(briefing: Briefing, demands: Demands) -> Briefing:
    """Check what holds of every rest of a day, and give it back."""
    assert demands.underway is not None
    legs = briefing.legs
    assert len(set(ridden(briefing))) == len(legs)
    assert not set(ridden(briefing)) & demands.underway.ridden
    assert not set(ridden(briefing)) & demands.closed
    assert all(leg.start >= demands.underway.ready for leg in legs)
    assert all(one.end <= other.start for one, other in pairwise(legs))
    assert briefing.way_home is not None
    assert briefing.way_home.departure >= demands.underway.ready
    if briefing.arrival is not None:
        assert all(leg.end <= briefing.arrival for leg in legs)
        assert briefing.arrival <= briefing.way_home.limit
    return briefing


def windy(gust: float, mean: float) -> MadeWeather:
    return MadeWeather(
        wind_speed_of_gust=lambda hours: np.full(len(hours), gust),
        wind_speed=lambda hours: np.full(len(hours), mean),
    )


def before(moment: datetime, value: float, otherwise: float) -> Callable[..., np.ndarray]:
    return lambda hours: np.where(hours < pd.Timestamp(moment), value, otherwise)


def test_a_day_with_nothing_left_to_ride_is_over() -> None:
    """All that may be ridden on Friday is: not even a way home needs its weather."""
    demands = from_place("orrowick", at(FRIDAY, 17), *TOUR.day(FRIDAY).legs)
    found = plan(FRIDAY, at(FRIDAY, 17), demands).briefing
    assert (found.decision, found.legs) == (Decision.REST_DAY, ())
    assert found.origin.service == "Made"


def test_at_the_base_at_the_planned_departure_nothing_changes() -> None:
    morning = plan(FRIDAY, at(FRIDAY, 7, 50), Demands()).briefing
    assert morning.departure is not None
    leaving = morning.departure
    again = plan(FRIDAY, leaving, Demands()).briefing
    assert again.legs == morning.legs
    wish = in_the_morning(from_place("orrowick", leaving))
    here = plan(FRIDAY, leaving, wish).briefing
    assert here.legs == again.legs
    assert (here.departure, here.arrival) == (again.departure, again.arrival)
    assert (here.value_minutes, here.bound_minutes) == (again.value_minutes, again.bound_minutes)
    assert (here.left_out, here.changes, here.plan_b) == (
        again.left_out, again.changes, again.plan_b,
    )  # fmt: skip


def test_once_the_day_has_begun_the_tank_is_not_known_and_that_is_told() -> None:
    noon = at(FRIDAY, 12)
    there = plan(
        FRIDAY, noon, in_the_morning(from_place("orrowick", noon, "brindle_loop"))
    ).briefing
    assert "tank" in there.cautions
    assert not any(leg.pumps for leg in there.legs)
    back = plan(FRIDAY, noon, from_place("orrowick", noon)).briefing  # they may have ridden
    assert "tank" in back.cautions
    full = plan(FRIDAY, noon, in_the_morning(from_place("orrowick", noon))).briefing
    assert "tank" not in full.cautions


def test_what_is_left_in_the_tank_by_the_plan_is_planned_with_and_bars_nothing() -> None:
    """The demo's smallest tank is planned for 272 km; two loops of 118 and 96 km are ahead."""
    noon = at(FRIDAY, 12)
    there = from_place("orrowick", noon, "brindle_loop")

    def since_full(km: float | None) -> Briefing:
        return plan(FRIDAY, noon, with_tank(there, km)).briefing

    ample, short, empty, unknown = (since_full(km) for km in (10.0, 140.0, 271.0, None))
    for told in (ample, short, empty, unknown):
        assert "tank" in told.cautions
        assert told.value_minutes is not None
    assert not any(leg.pumps for leg in (*ample.legs, *unknown.legs))
    assert any(leg.pumps for leg in short.legs)
    km = {leg.id: leg.since_full for leg in short.legs}
    assert max(point for points in km.values() for _, point in points) <= 272.0
    # Nobody can be brought in with a kilometre left: the plan is made without regard to it.
    assert [leg.id for leg in empty.legs] == [leg.id for leg in unknown.legs]


def test_a_place_reached_by_road_alone_is_no_morning_with_a_full_tank() -> None:
    """Far from the base with no leg ridden the tank counted as full, whatever they had told."""
    noon = at(FRIDAY, 12)
    there = in_the_morning(from_place("quern", noon))
    assert "tank" in plan(FRIDAY, noon, there).briefing.cautions
    briefing = plan(FRIDAY, noon, with_tank(there, 140.0)).briefing
    assert briefing.legs[0].since_full[0][1] >= 140.0


@pytest.mark.parametrize(
    ("km", "told", "caution"),
    [
        (None, None, "tank"),
        (0.0, None, "tank"),  # by a fill-up of the plan, which nobody has told
        (60.0, None, "tank"),  # reckoned from a full tank in the morning
        (0.0, 0.0, None),
        (0.5, 0.0, None),  # on the way out of the station
        (20.0, 0.0, "tank_reckoned"),
        (140.0, 140.0, None),
        (150.0, 140.0, "tank_reckoned"),
        (0.0, 140.0, "tank_reckoned"),  # filled up since, which nobody has told
    ],
)
def test_a_tank_is_not_called_unknown_once_riders_have_told_of_it(
    km: float | None, told: float | None, caution: str | None
) -> None:
    noon = at(FRIDAY, 12)
    there = with_tank(from_place("quern", noon, "brindle_loop"), km, told)
    found = {"tank", "tank_reckoned"} & set(plan(FRIDAY, noon, there).briefing.cautions)
    assert found == ({caution} if caution else set())


def test_a_tank_that_was_told_and_bars_the_day_is_not_known_after_all() -> None:
    """The demo's smallest tank is planned for 272 km: nobody can be brought in with one left."""
    noon = at(FRIDAY, 12)
    empty = with_tank(from_place("quern", noon, "brindle_loop"), 271.0, 271.0)
    briefing = plan(FRIDAY, noon, empty).briefing
    assert briefing.value_minutes is not None
    assert "tank" in briefing.cautions


def test_the_way_home_knows_what_is_left_in_the_tank() -> None:
    noon = at(FRIDAY, 12)
    there = from_place("quern", noon, "brindle_loop")

    def home(km: float | None) -> HomeWay:
        found = plan(FRIDAY, noon, with_tank(there, km)).briefing.way_home
        assert found is not None
        return found

    ample, empty, unknown = home(10.0), home(272.0), home(None)
    assert ample.km == empty.km == unknown.km > 0
    assert (ample.short_km, ample.fill_up_at) == (0.0, ())
    assert unknown.short_km is None
    assert empty.fill_up_at or empty.short_km


def test_what_is_ridden_is_not_offered_again_and_a_must_that_is_ridden_is_done() -> None:
    wish = from_place("orrowick", at(FRIDAY, 13), "hask_saddle", "quern_loop")
    briefing = sound(plan(FRIDAY, at(FRIDAY, 13), wish).briefing, wish)
    assert briefing.decision is not Decision.NO_WAY
    assert "hask_valley_road" not in ridden(briefing)  # nothing to stand in for any more


def test_a_stand_in_that_is_ridden_does_for_its_leg() -> None:
    wish = from_place("orrowick", at(FRIDAY, 13), "hask_valley_road")
    briefing = sound(plan(FRIDAY, at(FRIDAY, 13), wish).briefing, wish)
    assert "hask_saddle" not in ridden(briefing)
    assert briefing.decision is not Decision.NO_WAY


def test_a_missed_boat_means_the_next_one_where_that_is_worth_waiting_for() -> None:
    """The boat of 11:15 boards until 10:55. The next is at 13:15, over at 13:40.

    Round the inlet takes 110 minutes, to 12:50, but the ferry is worth 40 minutes more and
    waiting costs a tenth of a minute a minute.
    """
    ready = at(SATURDAY, 11)
    wish = from_place("ferry_w", ready, "lantern_coast")
    briefing = sound(plan(SATURDAY, ready, wish).briefing, wish)
    (boat,) = [leg for leg in briefing.legs if leg.id == "narrows_ferry"]
    assert boat.sailing == at(SATURDAY, 13, 15)
    assert ridden(briefing)[-2:] == ["wrack_bay", "sable_road"]


def test_late_at_the_quay_the_way_round_is_better_than_the_last_boat() -> None:
    """At 16:30 the boat left is that of 18:15; round the inlet they are there at 18:20.

    From there Tolfen is 80 minutes off by the upper road. Sunset is at 19:15 and a minute after the
    wished arrival costs three, so that twenty minutes are worth more than the ferry.
    """
    ready = at(SATURDAY, 16, 30)
    wish = from_place("ferry_w", ready, "lantern_coast")
    briefing = sound(plan(SATURDAY, ready, wish).briefing, wish)
    assert ridden(briefing)[0] == "round_the_inlet"
    assert briefing.legs[0].start == ready


def test_no_boat_goes_until_the_report_expires() -> None:
    ready = at(SATURDAY, 10)
    stopped = report_of("narrows_ferry", ReportKind.NO_SAILING, ready, TOUR.zone)
    wish = from_place("ferry_w", ready, "lantern_coast", reports=frozenset({stopped}))
    briefing = sound(plan(SATURDAY, ready, wish).briefing, wish)
    assert ridden(briefing)[0] == "round_the_inlet"
    until = replace(stopped, until=at(SATURDAY, 12))
    again = from_place("ferry_w", ready, "lantern_coast", reports=frozenset({until}))
    boat = sound(plan(SATURDAY, ready, again).briefing, again).legs[0]
    assert boat.sailing == at(SATURDAY, 13, 15)


def test_a_closed_leg_passes_to_its_stand_in_today_and_is_open_again_tomorrow() -> None:
    ready = at(FRIDAY, 9)
    shut = report_of("hask_saddle", ReportKind.CLOSED, ready, TOUR.zone)
    assert shut.until == at(SATURDAY, 0)
    wish = from_place("orrowick", ready, reports=frozenset({shut}))
    briefing = sound(plan(FRIDAY, ready, wish).briefing, wish)
    assert "hask_saddle" not in ridden(briefing)
    assert "hask_valley_road" in ridden(briefing)
    (out,) = [leg for leg in briefing.left_out if leg.id == "hask_saddle"]
    assert out.cause == "closed"


def test_a_leg_that_opens_at_noon_is_ridden_after_noon() -> None:
    ready = at(FRIDAY, 9)
    shut = replace(
        report_of("hask_saddle", ReportKind.CLOSED, ready, TOUR.zone), until=at(FRIDAY, 12)
    )
    wish = from_place("orrowick", ready, reports=frozenset({shut}))
    briefing = sound(plan(FRIDAY, ready, wish).briefing, wish)
    starts = [leg.start for leg in briefing.legs if leg.id == "hask_saddle"]
    assert all(start >= at(FRIDAY, 12) for start in starts)


def test_the_rest_of_the_leg_they_are_on_comes_first_at_once() -> None:
    """Hask takes 165 minutes; at 0.6 of it 66 are left, and the twin track lies behind."""
    ready = at(FRIDAY, 13, 2)
    wish = Demands(underway=on_leg("hask_saddle", 0.6, ready))
    briefing = sound(plan(FRIDAY, ready, wish).briefing, wish)
    first = briefing.legs[0]
    assert (first.id, first.start) == ("hask_saddle", ready)
    assert first.end == ready + timedelta(minutes=66)


def test_the_hazards_of_the_rest_of_a_leg_are_still_told() -> None:
    """Rain on wet grass is no-go: before the twin track it is told, behind it no more."""
    rain = MadeWeather(precipitation_amount=lambda hours: np.full(len(hours), 1.0))
    ready = at(FRIDAY, 13)
    ahead = Demands(underway=on_leg("hask_saddle", 0.3, ready))
    none = sound(plan(FRIDAY, ready, ahead, rain).briefing, ahead)
    assert none.decision is Decision.NO_WAY
    assert none.way_home is not None
    assert none.way_home.turning_back
    assert none.way_home.severity < 4.0
    behind = Demands(underway=on_leg("hask_saddle", 0.6, ready))
    assert ridden(sound(plan(FRIDAY, ready, behind, rain).briefing, behind))[0] == "hask_saddle"


def test_turning_back_takes_as_long_as_coming_and_gives_the_leg_up() -> None:
    """At 0.3 of 165 minutes they have ridden 49.5, whole minutes: 50."""
    ready = at(FRIDAY, 13)
    wish = Demands(underway=on_leg("hask_saddle", 0.3, ready, back=True))
    briefing = sound(plan(FRIDAY, ready, wish).briefing, wish)
    first = briefing.legs[0]
    assert (first.id, first.start) == (back_over("hask_saddle"), ready)
    assert first.end == ready + timedelta(minutes=50)
    assert "hask_saddle" not in ridden(briefing)
    assert "hask_valley_road" in ridden(briefing)  # the must passes to its stand-in


def test_whoever_is_on_a_leg_that_closes_turns_back() -> None:
    ready = at(FRIDAY, 13)
    shut = report_of("hask_saddle", ReportKind.CLOSED, ready, TOUR.zone)
    there = on_leg("hask_saddle", 0.3, ready)
    wish = Demands(underway=there, reports=frozenset({shut}))
    briefing = sound(plan(FRIDAY, ready, wish).briefing, wish)
    assert ridden(briefing)[0] == back_over("hask_saddle")


def test_a_puncture_stops_the_clock_until_they_are_ready() -> None:
    told, ready = at(FRIDAY, 11), at(FRIDAY, 13, 10)
    there = Underway(at=told, ready=ready, place="haskfoot", ridden=frozenset({"brindle_loop"}))
    wish = Demands(underway=there)
    briefing = sound(plan(FRIDAY, told, wish).briefing, wish)
    assert briefing.departure is not None
    assert briefing.departure >= ready


def test_a_tired_party_takes_the_low_road_where_a_fresh_one_would_not() -> None:
    """Gusts of 13.5 m/s are caution; one class stricter they are avoid, and on an exposed road
    with a stand-in that can be ridden, avoid is out.
    """
    ready, wind = at(FRIDAY, 9), windy(13.5, 6.8)
    fresh = from_place("orrowick", ready)
    tired = from_place("orrowick", ready, stricter=1)
    assert "hask_saddle" in ridden(sound(plan(FRIDAY, ready, fresh, wind).briefing, fresh))
    briefing = sound(plan(FRIDAY, ready, tired, wind).briefing, tired)
    assert "hask_saddle" not in ridden(briefing)
    assert "hask_valley_road" in ridden(briefing)


def test_homeward_nothing_is_ridden_for_its_own_sake() -> None:
    ready = at(FRIDAY, 13)
    wish = from_place("haskfoot", ready, homeward=True)
    briefing = sound(plan(FRIDAY, ready, wish).briefing, wish)
    assert ridden(briefing) == []
    assert briefing.way_home is not None
    assert briefing.arrival == briefing.way_home.arrival
    assert briefing.way_home.estimated


def test_homeward_from_within_a_leg_the_leg_is_finished_first() -> None:
    ready = at(SATURDAY, 12)
    wish = Demands(underway=on_leg("wrack_bay", 0.5, ready), homeward=True)
    briefing = sound(plan(SATURDAY, ready, wish).briefing, wish)
    # 40 minutes of the leg and 30 of plain road (or of Sable to Tolfen, which is the same)
    assert ridden(briefing)[0] == "wrack_bay"
    assert briefing.arrival == ready + timedelta(minutes=70)
    assert briefing.way_home is not None
    assert briefing.way_home.arrival == briefing.arrival
    assert not briefing.way_home.turning_back


def test_homeward_before_a_no_go_stretch_is_back_the_way_they_came() -> None:
    rain = MadeWeather(precipitation_amount=lambda hours: np.full(len(hours), 1.0))
    ready = at(FRIDAY, 13)
    wish = Demands(underway=on_leg("hask_saddle", 0.3, ready), homeward=True)
    briefing = sound(plan(FRIDAY, ready, wish, rain).briefing, wish)
    assert ridden(briefing) == [back_over("hask_saddle")]
    assert briefing.way_home is not None
    assert briefing.arrival == briefing.way_home.arrival


def test_another_night_makes_a_rest_day_and_tomorrow_takes_its_legs() -> None:
    ready = at(SATURDAY, 11)
    stay = frozenset({(SATURDAY, "orrowick")})
    wish = from_place("orrowick", ready, nights=stay, left_out=frozenset({"gannet_spur"}))
    briefing = sound(plan(SATURDAY, ready, wish).briefing, wish)
    assert briefing.decision is not Decision.NO_WAY
    assert briefing.base_to == "Orrowick"
    sunday = plan(SUNDAY, at(SATURDAY, 20), Demands(nights=stay)).briefing
    assert (sunday.base_from, sunday.base_to) == ("Orrowick", "Tolfen")
    crossing = [leg for leg in ridden(sunday) if leg in {"narrows_ferry", "round_the_inlet"}]
    assert len(crossing) == 1
    assert "lantern_coast" in ridden(sunday)


def test_a_night_on_the_way_ends_the_day_there() -> None:
    """Inlet head has no base: no reception binds it."""
    ready = at(SATURDAY, 17)
    wish = from_place(
        "ferry_w", ready, "lantern_coast", nights=frozenset({(SATURDAY, "inlethead")})
    )
    briefing = sound(plan(SATURDAY, ready, wish).briefing, wish)
    assert briefing.base_to == "Inlet head"
    assert briefing.decision is not Decision.NO_WAY


def test_too_late_for_any_plan_the_way_home_is_told_all_the_same() -> None:
    """The reception at Orrowick closes at 21:00; Haskfoot is 56 minutes off."""
    ready = at(FRIDAY, 20, 55)
    wish = from_place("haskfoot", ready)
    briefing = plan(FRIDAY, ready, wish).briefing
    assert briefing.decision is Decision.NO_WAY
    assert briefing.legs == ()
    assert briefing.way_home is not None
    assert not briefing.way_home.in_time
    assert briefing.way_home.limit == at(FRIDAY, 21)
    assert briefing.way_home.arrival > at(FRIDAY, 21, 30)
    assert briefing.way_home.severity >= 2.0  # it is dark


def test_after_the_limit_too() -> None:
    ready = at(FRIDAY, 21, 30)
    briefing = plan(FRIDAY, ready, from_place("haskfoot", ready)).briefing
    assert briefing.decision is Decision.NO_WAY
    assert briefing.way_home is not None
    assert briefing.way_home.arrival > ready


def test_on_another_local_day_there_is_no_rest_of_this_one() -> None:
    ready = at(SATURDAY, 0, 30)
    with pytest.raises(NoPlanError):
        plan(FRIDAY, ready, from_place("haskfoot", ready))


def test_the_plain_road_home_is_judged_too() -> None:
    """Whoever is out in a gale is told so, also where no leg of the tour leads home."""
    ready = at(FRIDAY, 13)
    wish = from_place("haskfoot", ready, "hask_saddle")
    briefing = plan(FRIDAY, ready, wish, windy(30.0, 20.0)).briefing
    assert briefing.way_home is not None
    assert briefing.way_home.severity == 4.0
    assert briefing.way_home.worst is not None
    assert briefing.way_home.worst.name in {"gust", "crosswind", "mean_wind"}


def test_what_is_not_known_of_the_plain_road_is_no_all_clear() -> None:
    ready = at(FRIDAY, 13)
    blind = MadeWeather(without=("wind_speed_of_gust", "wind_speed"))
    wish = from_place("haskfoot", ready, "hask_saddle")
    home = plan(FRIDAY, ready, wish, blind).briefing.way_home
    assert home is not None
    assert home.severity >= 2.0


def test_from_off_the_route_the_roads_are_estimates_and_never_shorter_than_the_map() -> None:
    ready = at(FRIDAY, 13)
    there = Underway(at=ready, ready=ready, point=Point(-46.1, 168.1, 0.0))
    briefing = sound(plan(FRIDAY, ready, Demands(underway=there)).briefing, Demands(underway=there))
    assert briefing.way_home is not None
    assert briefing.way_home.estimated
    # 29 km as the crow flies (1/60 degree is a nautical mile), 1.4 times that at 60 km/h
    assert (briefing.way_home.arrival - ready) == pytest.approx(
        timedelta(minutes=41), abs=timedelta(minutes=3)
    )


def test_wind_that_was_met_counts_for_two_hours_on_that_leg() -> None:
    """Common practice, no source: a reported wind is believed for two hours."""
    ready = at(FRIDAY, 9)
    blown = report_of("quern_loop", ReportKind.WIND, ready, TOUR.zone, level=4)
    assert blown.until == at(FRIDAY, 11)
    wish = from_place("orrowick", ready, reports=frozenset({blown}))
    briefing = sound(plan(FRIDAY, ready, wish).briefing, wish)
    (loop,) = [leg for leg in briefing.legs if leg.id == "quern_loop"]
    assert loop.start > at(FRIDAY, 11)


def test_gravel_slows_the_leg_for_a_week_for_everybody() -> None:
    """32 km/h until swept (UK councils): 45 km take 84 minutes and a bit instead of 60."""
    seen = at(FRIDAY, 9)
    stones = report_of("quern_loop", ReportKind.GRAVEL, seen, TOUR.zone)
    wish = from_place(
        "orrowick", seen, reports=frozenset({stones}), forced=frozenset({"quern_loop"})
    )
    briefing = sound(plan(FRIDAY, seen, wish).briefing, wish)
    (loop,) = [leg for leg in briefing.legs if leg.id == "quern_loop"]
    assert loop.end - loop.start >= timedelta(minutes=84)
    assert loop.severity >= 2.0
    expired = replace(stones, since=seen - timedelta(days=9), until=seen - timedelta(days=2))
    again = replace(wish, reports=frozenset({expired}))
    (swept,) = [
        leg for leg in sound(plan(FRIDAY, seen, again).briefing, again).legs
        if leg.id == "quern_loop"
    ]  # fmt: skip
    assert swept.severity < 2.0


def test_a_road_seen_dry_counts_as_dry_but_not_for_what_is_no_go() -> None:
    """Rain until 08:00: at 09:00 the sealed loop is still wet, unless somebody has seen it."""
    ready = at(FRIDAY, 9)
    rain = MadeWeather(
        precipitation_amount=before(at(FRIDAY, 8), 2.0, 0.0),
        surface_downwelling_shortwave_flux_in_air=lambda hours: np.zeros(len(hours)),
    )
    dry = report_of("quern_loop", ReportKind.DRY, ready, TOUR.zone)
    grass = report_of("hask_saddle", ReportKind.DRY, ready, TOUR.zone)
    wish = from_place(
        "orrowick", ready, left_out=frozenset({"salt_causeway", "gannet_spur", "brindle_loop"})
    )
    wet = sound(plan(FRIDAY, ready, wish, rain).briefing, wish)
    told = replace(wish, reports=frozenset({dry, grass}))
    seen = sound(plan(FRIDAY, ready, told, rain).briefing, told)
    assert seen.value_minutes is not None
    assert wet.value_minutes is not None
    assert seen.value_minutes >= wet.value_minutes
    no_go = [leg.start for leg in seen.legs if leg.id == "hask_saddle"]
    assert no_go == [leg.start for leg in wet.legs if leg.id == "hask_saddle"]


def test_a_day_not_under_way_has_no_way_home() -> None:
    assert plan(FRIDAY, at(FRIDAY, 7), Demands()).briefing.way_home is None


@pytest.mark.parametrize("hour", [10, 16])
def test_later_never_gains(hour: int) -> None:
    """Standing at the base an hour longer in the same fair weather is worth nothing more.

    The photo and drone halts want their hours, so that only the search's own value is compared.
    """
    early = from_place("orrowick", at(FRIDAY, hour), "brindle_loop")
    late = from_place("orrowick", at(FRIDAY, hour + 1), "brindle_loop")
    now = datetime(2027, 4, 1, 20, tzinfo=UTC)
    values = [plan(FRIDAY, now, wish).briefing.value_minutes for wish in (early, late)]
    first, second = (-np.inf if value is None else value for value in values)
    assert second <= first + 4.0 + 1e-6  # the price of leaving at another hour is not in the value
