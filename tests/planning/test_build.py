"""A day as a problem. Every tour, leg, hour and severity here is INVENTED (see `invented.py`).

Clock changes follow the zone (IANA tz database): New Zealand, 4 April 2027, 25 hours; 26
September 2027, 23 hours.
"""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.errors import NoPlanError
from replanner.planning.day_clock import day_clock
from replanner.planning.problem import NEVER
from replanner.planning.rules import Rules
from replanner.trip.edits import Demands
from replanner.trip.model import (
    Base,
    Exposure,
    Ferry,
    Halt,
    HaltKind,
    LegKind,
    Road,
    Sailing,
    StandIn,
    Way,
    WeeklyWindow,
    WindowEffect,
)
from replanner.trip.passage import moment_of
from replanner.trip.windows import BanKind
from tests.planning.invented import (
    FRIDAY,
    LUNCH,
    a_day,
    a_leg,
    a_tour,
    assess,
    best,
    build,
    light,
    local_hours,
    ridden,
    roads,
    utc,
    value,
)

PLAIN = Rules(left_out_cost=0.0)  # worths as the legs have them


def slot_of(built: object, wall: str, day: date = FRIDAY) -> int:
    clock = built.clock
    return int((utc(wall, day) - clock.first_slot) / timedelta(minutes=clock.slot_minutes))


def plan(tour: object, **other: object) -> list[str]:
    built = build(tour, **other)
    return ridden(built, best(built))


class TestClock:
    def test_from_dawn_rounded_up_to_dusk_and_two_hours(self) -> None:
        dawn = light(civil_dawn=utc("07:31"))
        built = build(a_tour([a_leg("loop")]), lights=(dawn, light()))
        assert built.clock.first_slot == utc("07:35")
        assert built.clock.by == utc("22:00")
        assert built.problem.by == built.problem.slots - 1 == slot_of(built, "22:00")
        assert (built.problem.earliest, built.clock.by_cause) == (0, "darkness")

    def test_the_earlier_of_latest_arrival_and_reception(self) -> None:
        base = Base(place="base", nights=(FRIDAY,), reception_until=time(20, 30))
        tour = a_tour([a_leg("loop")], bases=[base])
        assert build(tour).clock.by == utc("20:30")
        day = a_day("loop", latest_arrival=time(19, 0))
        assert build(tour, day=day).clock.by_cause == "latest arrival"
        assert build(tour, day=day).clock.by == utc("19:00")

    def test_a_reception_past_midnight_is_on_the_next_day(self) -> None:
        base = Base(
            place="base", nights=(FRIDAY,), check_in_from=time(14), reception_until=time(0, 30)
        )
        built = build(a_tour([a_leg("loop")], bases=[base]))
        assert built.clock.by == utc("00:30", FRIDAY + timedelta(days=1))

    def test_an_arrival_in_the_small_hours_is_of_the_next_date(self) -> None:
        day = a_day("loop", latest_arrival=time(0, 30), own_departure=time(9))
        assert build(a_tour([a_leg("loop")]), day=day).clock.by == utc(
            "00:30", FRIDAY + timedelta(days=1)
        )
        night_ride = a_day("loop", earliest_departure=time(1), latest_arrival=time(4))
        assert build(a_tour([a_leg("loop")]), day=night_ride).clock.by == utc("04:00")

    def test_a_past_day_is_over(self) -> None:
        with pytest.raises(NoPlanError, match="the day is over"):
            build(a_tour([a_leg("loop")]), earliest_now=utc("12:00", FRIDAY + timedelta(days=1)))

    def test_the_day_names_its_departure(self) -> None:
        day = a_day("loop", earliest_departure=time(9), latest_departure=time(10))
        problem = build(a_tour([a_leg("loop")]), day=day).problem
        assert problem.first_slot == utc("09:00")
        assert (problem.earliest, problem.latest) == (0, 12)

    def test_the_rider_names_a_minute(self) -> None:
        built = build(a_tour([a_leg("loop")]), demands=Demands(departure=utc("07:03")))
        assert built.clock.first_slot == utc("07:03")
        assert (built.problem.earliest, built.problem.latest) == (0, 0)

    def test_a_minute_named_for_another_day_does_not_bind_this_one(self) -> None:
        tomorrow = Demands(departure=utc("07:03", FRIDAY + timedelta(days=1)))
        assert build(a_tour([a_leg("loop")]), demands=tomorrow).clock.first_slot == utc("07:30")

    def test_nothing_starts_before_now(self) -> None:
        built = build(a_tour([a_leg("loop")]), earliest_now=utc("08:01"))
        assert built.problem.earliest == slot_of(built, "08:05")
        with pytest.raises(NoPlanError, match="the day is over"):
            build(a_tour([a_leg("loop")]), earliest_now=utc("22:30"))
        early = a_day("loop", latest_departure=time(9))
        with pytest.raises(NoPlanError, match="nothing is left of the day"):
            build(a_tour([a_leg("loop")]), day=early, earliest_now=utc("10:00"))

    @pytest.mark.parametrize(
        ("day", "hours"), [(date(2027, 4, 4), 25), (date(2027, 9, 26), 23), (FRIDAY, 24)]
    )
    def test_a_day_is_as_long_as_the_clocks_make_it(self, day: date, hours: int) -> None:
        """Without dusk the day lasts from six (assumption) to midnight, by the clock."""
        no_sun = light(
            day,
            civil_dawn=None,
            sunrise=None,
            sunset=None,
            civil_dusk=None,
            always_light=True,
        )
        tour = a_tour([a_leg("loop")], [a_day("loop", date=day, earliest_departure=time(0, 0))])
        clock = day_clock(tour, tour.days[0], no_sun, no_sun, Rules(), Demands())
        assert clock.instants.size == hours * 12 + 1
        assert clock.by_cause == "end of the day"
        assert not np.any(build(tour, lights=(no_sun, no_sun), rules=PLAIN).problem.late)

    def test_polar_night_keeps_exposed_legs_at_home(self) -> None:
        night = light(civil_dawn=None, sunrise=None, sunset=None, civil_dusk=None, never_light=True)
        exposed = a_leg("ridge", road=Road(exposure=Exposure.EXPOSED))
        built = build(a_tour([exposed, a_leg("town")]), lights=(night, night))
        assert built.ban(0, 30).kind is BanKind.LIGHT
        assert built.ban(1, 30) is None


class TestLate:
    def test_late_prices_from_the_wished_arrival_and_more_in_the_dark(self) -> None:
        rules = replace(PLAIN, late_cost=3, dark_cost=5, wished_before_dusk_minutes=60)
        built = build(a_tour([a_leg("loop")]), rules=rules)
        late = built.problem.late
        assert late[slot_of(built, "19:00")] == 0
        assert late[slot_of(built, "19:10")] == 30
        assert late[slot_of(built, "20:00")] == 180
        assert late[slot_of(built, "20:10")] == 3 * 70 + 5 * 10


class TestRoads:
    def test_whole_slots_up_and_no_road(self) -> None:
        legs = [a_leg("out", start="base", end="far"), a_leg("boat", start="quay", end="other")]
        connectors = roads({("base", "far"): 31.0, ("quay", "other"): float("nan")})
        built = build(a_tour(legs), connectors=connectors, rules=Rules(connector_cost=2.0))
        index = built.places.index
        travel, cost = built.problem.travel_slots[..., 0], built.problem.travel_cost[..., 0]
        assert travel[index("base"), index("far")] == 7
        assert cost[index("base"), index("far")] == 62.0
        assert travel[index("quay"), index("other")] == NEVER
        assert np.all(np.diag(travel) == 0)
        assert "inn" not in built.places

    def test_nothing_to_ride_and_no_road_to_the_end(self) -> None:
        tour = a_tour([], [a_day(end="inn")])
        with pytest.raises(NoPlanError, match="no road leads from Base to Inn"):
            build(tour, connectors=roads({("base", "inn"): float("nan")}))


class TestWorth:
    def test_worth_less_minutes_times_price(self) -> None:
        tour = a_tour([a_leg("loop", minutes=60, worth=100)])
        rules = replace(PLAIN, level_prices=(0.0, 0.5, 3.0, 8.0), new_leg_bonus=15.0)
        for severity, expected in ((0, 100), (1, 100), (2, 70), (2.5, -5), (3, -80)):
            way = build(tour, severity={"loop": severity}, rules=rules).problem.legs[0].ways[0]
            assert way.worth[0] == pytest.approx(expected)
        new = build(tour, rules=rules, missed=frozenset({"loop"}))
        assert new.problem.legs[0].ways[0].worth[0] == 115

    def test_unknown_is_priced_like_caution(self) -> None:
        tour = a_tour([a_leg("loop")])
        unknown = build(tour, severity={"loop": np.nan}).problem.legs[0].ways[0].worth
        caution = build(tour, severity={"loop": 2.0}).problem.legs[0].ways[0].worth
        assert np.array_equal(unknown, caution)

    def test_unknown_riding_minutes_are_refused(self) -> None:
        tour = a_tour([a_leg("loop")])
        starts = build(tour).clock.instants
        broken = assess(tour, tour.legs["loop"], Way.FORWARD, starts)
        broken = replace(broken, piece_minutes=broken.piece_minutes * np.nan)
        with pytest.raises(ValueError, match="loop"):
            build(tour, changed={("loop", Way.FORWARD): broken})

    def test_avoid_windows_are_priced_like_avoid(self) -> None:
        trucks = WeeklyWindow(
            name="log trucks", effect=WindowEffect.AVOID, opens=time(5), closes=time(18)
        )
        built = build(a_tour([a_leg("loop", worth=100, windows=(trucks,))]), rules=PLAIN)
        avoid = build(a_tour([a_leg("loop", worth=100)]), severity={"loop": 3.0}, rules=PLAIN)
        worth = built.problem.legs[0].ways[0].worth
        assert worth[0] == avoid.problem.legs[0].ways[0].worth[0]
        assert worth[slot_of(built, "18:00")] == 100

    def test_no_go_is_not_for_sale(self) -> None:
        built = build(a_tour([a_leg("loop", worth=1e6)]), severity={"loop": 4.0})
        assert np.all(np.isneginf(built.problem.legs[0].ways[0].worth))
        assert built.ban(0, 0).kind is BanKind.HAZARD

    def test_members_mean_worth_and_no_go_share(self) -> None:
        tour = a_tour([a_leg("loop", minutes=60, worth=100)])
        tenth = np.zeros((10, 1))
        tenth[0] = 4.0
        worth = build(tour, severity={"loop": tenth}, rules=PLAIN).problem.legs[0].ways[0].worth
        # an hour of it in one of ten, and none of the 20 minutes wanted in hand before it
        assert worth[0] == pytest.approx(100 - 0.1 * (60 * 8 + 20))
        fifth = tenth.copy()
        fifth[1] = 4.0
        assert np.isneginf(build(tour, severity={"loop": fifth}).problem.legs[0].ways[0].worth[0])

    def test_members_riding_time_takes_the_cautious_one(self) -> None:
        tour = a_tour([a_leg("loop", minutes=60)])
        starts = build(tour).clock.instants
        one = assess(tour, tour.legs["loop"], Way.FORWARD, starts, np.zeros((5, starts.size)))
        pace = np.array([1.0, 1.0, 1.0, 1.5, 2.0]).reshape(1, 5, 1)
        slow = replace(one, piece_minutes=one.piece_minutes * pace)
        built = build(
            tour, changed={("loop", Way.FORWARD): slow}, rules=Rules(riding_quantile=0.75)
        )
        assert built.problem.legs[0].ways[0].ride_slots[0] == 90 / 5


class TestBans:
    def test_light_for_exposed_legs_and_for_those_not_ridden_at_sunset(self) -> None:
        exposed = a_leg("ridge", road=Road(exposure=Exposure.EXPOSED))
        forest = a_leg("forest", last_light="sunset-30")
        built = build(a_tour([exposed, forest, a_leg("town")]))
        # Over by dusk at 20:00, over by 19:00, any time.
        assert built.ban(0, slot_of(built, "19:00")) is None
        assert built.ban(0, slot_of(built, "19:05")).kind is BanKind.LIGHT
        assert built.ban(1, slot_of(built, "18:00")) is None
        assert built.ban(1, slot_of(built, "18:05")).kind is BanKind.LIGHT
        assert built.ban(2, slot_of(built, "20:30")) is None
        assert built.ban(2, slot_of(built, "21:05")).kind is BanKind.ARRIVAL

    def test_exposed_legs_wait_for_dawn(self) -> None:
        day = a_day("ridge", earliest_departure=time(6))
        exposed = a_leg("ridge", road=Road(exposure=Exposure.EXPOSED))
        built = build(a_tour([exposed]), day=day)
        assert built.ban(0, slot_of(built, "07:25")).kind is BanKind.LIGHT
        assert built.ban(0, slot_of(built, "07:30")) is None

    def test_the_weightiest_reason_first(self) -> None:
        gate = WeeklyWindow(name="gate", effect=WindowEffect.CLOSED, opens=time(0), closes=time(0))
        built = build(a_tour([a_leg("loop", windows=(gate,))]), severity={"loop": 4.0})
        assert built.ban(0, 0).kind is BanKind.HAZARD
        built = build(a_tour([a_leg("loop", windows=(gate,))]))
        assert built.ban(0, 0) == (BanKind.WINDOW, "gate")

    def test_a_crossing_starts_with_its_sailings_only(self) -> None:
        ferry = Ferry(
            sailings=(
                Sailing(way=Way.FORWARD, weekdays=frozenset(range(7)), departures=(time(9, 45),)),
            ),
            boarding_minutes=20,
        )
        crossing = a_leg(
            "boat", minutes=25, kind=LegKind.CROSSING, start="quay", end="other", ferry=ferry
        )
        built = build(a_tour([crossing]))
        forward = built.problem.legs[0].ways[0]
        slots = np.flatnonzero(np.isfinite(forward.worth))
        assert slots.tolist() == [slot_of(built, f"09:{m:02d}") for m in (5, 10, 15, 20, 25)]
        assert forward.ride_slots[slots[-1]] == 45 / 5
        assert forward.ride_slots[slots[0]] == 65 / 5
        # Every minute that the wanted twenty lack costs one.
        assert np.diff(forward.worth[slots]).tolist() == [-5.0] * 4
        assert not np.isfinite(built.problem.legs[0].ways[1].worth).any()

    def test_being_just_in_time_for_a_tide_costs_what_the_margin_lacks(self) -> None:
        gate = WeeklyWindow(name="gate", effect=WindowEffect.OPEN, opens=time(9), closes=time(12))
        built = build(a_tour([a_leg("loop", minutes=60, worth=60, windows=(gate,))]), rules=PLAIN)
        worth = built.problem.legs[0].ways[0].worth
        last = int(np.flatnonzero(np.isfinite(worth))[-1])
        assert last == slot_of(built, "11:00")
        assert worth[last - 5 : last + 1].tolist() == [60, 60, 55, 50, 45, 40]


class TestHalts:
    HALT = Halt(
        place="far",
        fraction=0.5,
        minutes=20,
        kind=HaltKind.PHOTO,
        optional=True,
        worth_minutes=35,
    )

    def test_a_halt_that_may_be_left_out_is_a_way_of_its_own(self) -> None:
        built = build(
            a_tour([a_leg("loop", minutes=60, worth=60, halts=(self.HALT,))]), rules=PLAIN
        )
        ways = built.problem.legs[0].ways
        assert [way.ride_slots[0] for way in ways] == [12, 16, 12, 16]
        assert [way.worth[0] for way in ways] == [60, 75, 60, 75]
        solution = best(built)
        assert built.way(0, solution.visits[0].way).halts.any()

    def test_it_is_left_out_where_it_does_not_fit_or_is_not_worth_its_minutes(self) -> None:
        poor = replace(self.HALT, worth_minutes=20)
        assert len(build(a_tour([a_leg("loop", halts=(poor,))])).problem.legs[0].ways) == 2
        tour = a_tour([a_leg("loop", halts=(self.HALT,), one_way=True)])
        starts = build(tour).clock.instants
        one = assess(tour, tour.legs["loop"], Way.FORWARD, starts)
        fits = one.halt_fits.copy()
        fits[:, :60] = False
        built = build(tour, changed={("loop", Way.FORWARD): replace(one, halt_fits=fits)})
        with_halt = built.problem.legs[0].ways[1]
        assert np.all(np.isneginf(with_halt.worth[:60]))
        assert np.isfinite(with_halt.worth[60])

    def test_a_fixed_halt_takes_its_minutes_always(self) -> None:
        fixed = replace(self.HALT, optional=False, kind=HaltKind.VISIT, worth_minutes=0)
        tour = a_tour([a_leg("loop", minutes=60, halts=(fixed,))])
        way = build(tour, rules=PLAIN).problem.legs[0].ways[0]
        assert (way.ride_slots[0], way.worth[0]) == (16, 60)

    def test_a_halt_that_breaks_a_window_is_not_taken(self) -> None:
        gate = WeeklyWindow(
            name="gate", effect=WindowEffect.OPEN, opens=time(7), closes=time(9), fractions=(1.0,)
        )
        leg = a_leg("loop", minutes=60, halts=(self.HALT,), windows=(gate,), one_way=True)
        plain, halted = build(a_tour([leg])).problem.legs[0].ways
        assert np.isfinite(plain.worth).sum() == 7  # 07:30 to 08:00
        assert np.isfinite(halted.worth).sum() == 3  # 07:30 to 07:40


class TestHours:
    def test_lunch_is_taken_where_all_of_it_lies_inside_the_hours(self) -> None:
        """Half an hour to the café, forty minutes there: from 11:30 to 12:50 at the start."""
        leg = a_leg("loop", minutes=60, worth=60, halts=(LUNCH,), one_way=True)
        built = build(a_tour([leg]), rules=PLAIN)
        plain, halted = built.problem.legs[0].ways
        assert np.isfinite(plain.worth[0])
        taken = [
            f"{moment_of(built.clock.instants[slot]).astimezone(built.tour.zone):%H:%M}"
            for slot in np.flatnonzero(np.isfinite(halted.worth))
        ]
        assert (taken[0], taken[-1], len(taken)) == ("11:30", "12:50", 17)
        assert halted.worth[np.isfinite(halted.worth)] == pytest.approx(80.0)  # 60 + 60 - 40
        solution = best(built)
        assert built.way(0, solution.visits[0].way).halts[0, solution.visits[0].start_slot]

    def test_on_another_weekday_nobody_lunches_there(self) -> None:
        shut = replace(LUNCH, hours=replace(LUNCH.hours, weekdays=frozenset({5})))
        built = build(a_tour([a_leg("loop", halts=(shut,), one_way=True)]), rules=PLAIN)
        assert len(built.problem.legs[0].ways) == 1

    def test_what_is_ridden_before_it_puts_it_off(self) -> None:
        """A photo of twenty minutes on the way there: lunch fits from starts so much earlier."""
        photo = replace(TestHalts.HALT, fraction=0.2, optional=False)
        leg = a_leg("loop", minutes=60, halts=(photo, LUNCH), one_way=True)
        built = build(a_tour([leg]), rules=PLAIN)
        halted = built.problem.legs[0].ways[1]
        first = np.flatnonzero(np.isfinite(halted.worth))[0]
        start = moment_of(built.clock.instants[first]).astimezone(built.tour.zone)
        assert f"{start:%H:%M}" == "11:10"

    def test_a_pump_that_is_closed_fills_no_tank(self) -> None:
        pump = replace(LUNCH, kind=HaltKind.FUEL, worth_minutes=0, minutes=10)
        built = build(a_tour([a_leg("loop", halts=(pump,), one_way=True)]), rules=PLAIN)
        with_fuel = [way for way in built.legs[0].ways if way.pumps]
        assert [way.ban_at(0).name for way in with_fuel] == ["cafe hours"] * len(with_fuel)
        # From 11:30 to 13:20; drawn out to a break of 15 minutes, to 13:15.
        assert [np.isfinite(way.worth).sum() for way in with_fuel] == [23, 22]


def with_stand_in(**other: object) -> list:
    lane = a_leg("saddle", worth=90, stand_in=StandIn(leg="valley"), **other)
    return [lane, a_leg("valley", worth=60)]


class TestOwnOrderFirst:
    """Of two plans that are as good the one nearer the rider's own order is chosen."""

    def test_legs_without_a_worth_are_ridden_as_the_rider_put_them(self) -> None:
        built = build(a_tour([a_leg("one", worth=0), a_leg("two", worth=0)]))
        solution = best(built)
        assert ridden(built, solution) == ["one", "two"]
        assert solution.value == 0  # nothing was left out, so nothing is owed

    def test_a_leg_is_left_out_when_that_gains_more_than_the_price(self) -> None:
        """An hour at caution costs 30 minutes: two away from what riding it is worth."""
        for worth, legs in ((19, []), (21, ["one"])):
            built = build(a_tour([a_leg("one", worth=worth)]), severity={"one": 2.0})
            assert ridden(built, best(built)) == legs
        assert best(build(a_tour([a_leg("one", worth=19)]), severity={"one": 2.0})).value == -10

    def test_a_leg_the_rider_did_not_put_there_gets_nothing(self) -> None:
        built = build(a_tour([a_leg("one", worth=0)], [a_day(optional=("one",))]))
        assert ridden(built, best(built)) == []
        assert not built.problem.late[0]

    def test_of_parallel_roads_as_good_the_rider_gets_his_own(self) -> None:
        for worth, road in ((60, "saddle"), (63, "saddle"), (65, "valley")):
            saddle = a_leg("saddle", worth=60, stand_in=StandIn(leg="valley"))
            tour = a_tour([saddle, a_leg("valley", worth=worth)], [a_day("saddle")])
            assert plan(tour) == [road]

    def test_a_closed_leg_is_not_owed(self) -> None:
        tour = a_tour([a_leg("one", worth=0), a_leg("two", worth=0)])
        built = build(tour, demands=Demands(closed=frozenset({"one"})))
        assert best(built).value == 0


class TestChoice:
    def test_a_must_or_its_stand_in_exactly_one(self) -> None:
        tour = a_tour(with_stand_in(must=True), [a_day("saddle")])
        built = build(tour)
        assert built.problem.exactly_one == ((0, 1),)
        assert not any(leg.must for leg in built.problem.legs)
        assert ridden(built, best(built)) == ["saddle"]
        windy = build(tour, severity={"saddle": 4.0})
        assert ridden(windy, best(windy)) == ["valley"]

    def test_the_better_of_parallel_roads(self) -> None:
        tour = a_tour(with_stand_in(must=True), [a_day("saddle")])
        # The saddle is worth 30 minutes more; an hour at caution costs 30, a shade more than
        # caution costs more.
        assert plan(tour, severity={"saddle": 1.9}) == ["saddle"]
        assert plan(tour, severity={"saddle": 2.1}) == ["valley"]

    def test_optional_with_stand_in_at_most_one(self) -> None:
        tour = a_tour(with_stand_in(), [a_day("saddle")])
        built = build(tour)
        assert built.problem.at_most_one == ((0, 1),)
        assert ridden(built, best(built)) == ["saddle"]
        assert plan(tour, severity={"saddle": 4.0}) == ["valley"]
        nothing = build(tour, severity={"saddle": 4.0, "valley": 4.0})
        assert ridden(nothing, best(nothing)) == []

    def test_a_must_without_stand_in(self) -> None:
        tour = a_tour([a_leg("loop", must=True, worth=-5)])
        assert plan(tour) == ["loop"]
        assert value(build(tour, severity={"loop": 4.0})) == -np.inf

    def test_closed_and_left_out(self) -> None:
        tour = a_tour([*with_stand_in(must=True), a_leg("loop")], [a_day("saddle", "loop")])
        built = build(tour, demands=Demands(closed=frozenset({"saddle"})))
        assert [(leg.id, leg.must) for leg in built.problem.legs] == [
            ("valley", True),
            ("loop", False),
        ]
        built = build(tour, demands=Demands(left_out=frozenset({"loop", "valley"})))
        assert [(leg.id, leg.must) for leg in built.problem.legs] == [("saddle", True)]

    def test_an_optional_leg_left_out_takes_its_stand_in_along(self) -> None:
        tour = a_tour(with_stand_in(), [a_day("saddle")])
        assert build(tour, demands=Demands(left_out=frozenset({"saddle"}))).legs == ()
        closed = build(tour, demands=Demands(closed=frozenset({"saddle"})))
        assert [leg.leg.id for leg in closed.legs] == ["valley"]

    def test_forced(self) -> None:
        tour = a_tour(with_stand_in(), [a_day("saddle")])
        built = build(tour, severity={"saddle": 3.5}, demands=Demands(forced=frozenset({"saddle"})))
        assert ridden(built, best(built)) == ["saddle"]
        built = build(tour, demands=Demands(forced=frozenset({"valley"})))
        assert ridden(built, best(built)) == ["valley"]

    def test_a_leg_asked_for_elsewhere_is_not_forced_here(self) -> None:
        tour = a_tour([a_leg("loop"), a_leg("ring")], [a_day("loop")])
        built = build(tour, demands=Demands(forced=frozenset({"ring"})))
        assert [leg.leg.id for leg in built.legs] == ["loop"]

    def test_forcing_the_stand_in_of_a_must_replaces_it(self) -> None:
        tour = a_tour(with_stand_in(must=True), [a_day("saddle")])
        built = build(tour, demands=Demands(forced=frozenset({"valley"})))
        assert ridden(built, best(built)) == ["valley"]

    def test_moved_here_and_away(self) -> None:
        tour = a_tour([a_leg("loop"), a_leg("ring")], [a_day("loop")])
        here = build(tour, demands=Demands(moved=frozenset({("ring", FRIDAY)})))
        assert [(leg.id, leg.must) for leg in here.problem.legs] == [
            ("loop", False),
            ("ring", True),
        ]
        away = Demands(moved=frozenset({("loop", FRIDAY + timedelta(days=1))}))
        assert build(tour, demands=away).legs == ()

    def test_order_and_before(self) -> None:
        legs = [*with_stand_in(must=True), a_leg("loop", before=("saddle",)), a_leg("ring")]
        tour = a_tour(legs, [a_day("saddle", "loop", optional=("ring",))])
        built = build(tour, demands=Demands(before=frozenset({("ring", "loop")})))
        assert built.problem.before == ((2, 0), (3, 2))
        assert built.own_order == (0, 2)
        assert built.problem.own_order == (0, 1, 2)
        assert built.problem.order_cost == Rules().order_cost
        assert ridden(built, best(built)) == ["ring", "loop", "saddle"]

    def test_a_must_of_another_days_order_is_optional_here(self) -> None:
        later = a_day("loop", date=FRIDAY + timedelta(days=1))
        tour = a_tour([a_leg("loop", must=True)], [a_day(optional=("loop",)), later])
        assert not build(tour).problem.legs[0].must
        assert build(tour, day=later).problem.legs[0].must

    def test_a_spur_and_a_stop_have_one_way(self) -> None:
        tour = a_tour([a_leg("spur", kind=LegKind.SPUR), a_leg("cafe", kind=LegKind.STOP)])
        assert [len(leg.ways) for leg in build(tour).legs] == [1, 1]


class TestAssessments:
    def test_the_day_is_cut_out_of_a_longer_one(self) -> None:
        tour = a_tour([a_leg("loop", one_way=True)])
        slots = build(tour).clock.instants
        longer = np.concatenate([slots[:1] - np.timedelta64(300, "s"), slots])
        severity = np.arange(longer.size, dtype=float) % 4
        one = assess(tour, tour.legs["loop"], Way.FORWARD, longer, severity)
        built = build(tour, changed={("loop", Way.FORWARD): one})
        assert np.array_equal(built.way(0, 0).assessed.severity, severity[1:])

    def test_missing_slots_and_legs_are_refused(self) -> None:
        tour = a_tour([a_leg("loop", one_way=True)])
        slots = build(tour).clock.instants
        one = assess(tour, tour.legs["loop"], Way.FORWARD, slots[:-1])
        with pytest.raises(ValueError, match="every slot"):
            build(tour, changed={("loop", Way.FORWARD): one})


class TestProperties:
    @settings(max_examples=25, deadline=None)
    @given(
        level=st.lists(st.floats(0, 4), min_size=4, max_size=4),
        added=st.floats(0, 2),
    )
    def test_more_hazard_never_raises_worth_or_value(
        self, level: list[float], added: float
    ) -> None:
        tour = a_tour([a_leg("loop", worth=200)])

        def mild(hours: np.ndarray) -> np.ndarray:
            return np.interp(hours, [7, 11, 15, 20], level)

        def worse(hours: np.ndarray) -> np.ndarray:
            return np.minimum(mild(hours) + added, 4.0)

        first, second = (build(tour, severity={"loop": one}) for one in (mild, worse))
        assert np.all(second.problem.legs[0].ways[0].worth <= first.problem.legs[0].ways[0].worth)
        assert value(second) <= value(first) + 1e-6

    @settings(max_examples=20, deadline=None)
    @given(
        opens=st.integers(8, 12),
        length=st.integers(1, 5),
        earlier=st.integers(0, 2),
        later=st.integers(0, 3),
    )
    def test_widening_a_window_never_lowers_the_value(
        self, opens: int, length: int, earlier: int, later: int
    ) -> None:
        def built(first: int, last: int) -> float:
            gate = WeeklyWindow(
                name="gate",
                effect=WindowEffect.OPEN,
                opens=time(first),
                closes=time(last),
                fractions=(0.3, 0.8),
            )
            legs = [
                a_leg("range", minutes=150, worth=80, windows=(gate,), halts=(TestHalts.HALT,)),
                a_leg("loop", minutes=240, worth=100),
                a_leg("ring", minutes=180, worth=70),
            ]
            return value(build(a_tour(legs)))

        assert built(opens - earlier, opens + length + later) >= built(opens, opens + length)

    @settings(max_examples=25, deadline=None)
    @given(st.lists(st.floats(0, 4), min_size=20, max_size=20))
    def test_a_no_go_start_is_never_in_the_problem(self, level: list[float]) -> None:
        tour = a_tour([a_leg("loop", worth=1000)])

        def severity(hours: np.ndarray) -> np.ndarray:
            return np.asarray(level)[np.minimum(((hours - 7) * 1.3).astype(int), 19)]

        built = build(tour, severity={"loop": severity})
        no_go = severity(local_hours(built.clock.instants)) >= 4
        for way in built.problem.legs[0].ways:
            assert np.all(np.isneginf(way.worth[no_go]))


def test_slots_are_utc_instants() -> None:
    built = build(a_tour([a_leg("loop")]))
    assert built.problem.first_slot.tzinfo is UTC
    assert built.clock.instants[0].item() == datetime(2027, 4, 1, 18, 30)  # noqa: DTZ001
