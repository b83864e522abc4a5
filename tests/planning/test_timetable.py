"""Plans timed to the minute, what they can lose, where to turn. All tours here are INVENTED."""

from dataclasses import replace
from datetime import time, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.planning.build import BuiltDay
from replanner.planning.day_search import DaySearch
from replanner.planning.problem import DaySolution, Visit
from replanner.planning.slack import room_before, spare
from replanner.planning.timetable import TimedLeg, timetable
from replanner.planning.turning import decision_points, place_fraction, turn_back
from replanner.trip.edits import Demands
from replanner.trip.model import (
    Exposure,
    Ferry,
    Halt,
    HaltKind,
    Join,
    LegKind,
    Road,
    Sailing,
    Section,
    StandIn,
    Way,
    WeeklyWindow,
    WindowEffect,
)
from tests.planning.invented import LUNCH, a_day, a_leg, a_tour, best, build, light, roads, utc


def by_hand(built: BuiltDay, *starts: str, leave: str | None = None) -> DaySolution:
    """Return the plan that rides the legs as numbered, forward, at those wall times."""

    def slot(wall: str) -> int:
        step = timedelta(minutes=built.clock.slot_minutes)
        return int((utc(wall) - built.clock.first_slot) / step)

    visits = tuple(Visit(leg, 0, slot(wall)) for leg, wall in enumerate(starts))
    return DaySolution(0.0, 0.0, True, slot(leave or starts[0]), visits, slot("19:00"))


class TestMinutes:
    def test_legs_connectors_and_departure_to_the_minute(self) -> None:
        legs = [
            a_leg("out", minutes=62, start="far", end="quay"),
            a_leg("back", minutes=33, start="quay", end="inn"),
        ]
        built = build(
            a_tour(legs), connectors=roads({("base", "far"): 31.0, ("base", "inn"): 12.5})
        )
        plan = by_hand(built, "09:00", "10:05", leave="08:25")
        times = timetable(built, plan)
        assert times.departure == utc("08:29")  # 09:00 less 31 minutes; the slot says 08:25
        assert [(leg.ready, leg.start, leg.end) for leg in times.legs] == [
            (utc("09:00"), utc("09:00"), utc("10:02")),
            (utc("10:02"), utc("10:05"), utc("10:38")),
        ]
        assert times.arrival == utc("10:51")

    def test_leaving_is_not_later_than_the_day_allows(self) -> None:
        built = build(a_tour([a_leg("loop")]), day=a_day("loop", latest_departure=time(8, 30)))
        plan = by_hand(built, "09:00", leave="08:00")
        assert timetable(built, plan).departure == utc("08:30")

    def test_the_minute_the_rider_named_is_kept(self) -> None:
        built = build(a_tour([a_leg("loop")]), demands=Demands(departure=utc("07:43")))
        plan = DaySolution(0.0, 0.0, True, 0, (Visit(0, 0, 6),), 18)
        times = timetable(built, plan)
        assert (times.departure, times.legs[0].start) == (utc("07:43"), utc("08:13"))

    def test_estimated_connectors_are_told(self) -> None:
        connectors = roads()
        connectors.estimated[0, 1] = connectors.estimated[1, 0] = True
        built = build(a_tour([a_leg("out", start="far", end="quay")]), connectors=connectors)
        times = timetable(built, by_hand(built, "09:00", leave="08:30"))
        assert times.estimated == (("base", "far"),)

    def test_sailing_halts_and_windows_are_told(self) -> None:
        ferry = Ferry(
            sailings=(
                Sailing(way=Way.FORWARD, weekdays=frozenset(range(7)), departures=(time(9, 47),)),
            ),
            boarding_minutes=20,
        )
        halt = Halt(place="far", fraction=0.5, minutes=10, kind=HaltKind.VISIT)
        slow = WeeklyWindow(
            name="market",
            effect=WindowEffect.SLOW,
            opens=time(9),
            closes=time(14),
            fractions=(0.25,),
            added_minutes=20,
        )
        legs = [
            a_leg(
                "boat", minutes=25, kind=LegKind.CROSSING, start="quay", end="other", ferry=ferry
            ),
            a_leg("lane", minutes=60, start="other", end="base", halts=(halt,), windows=(slow,)),
        ]
        built = build(a_tour(legs))
        times = timetable(built, by_hand(built, "09:25", "10:15", leave="08:55"))
        boat, lane = times.legs
        assert (boat.sailing, boat.end) == (utc("09:47"), utc("10:12"))
        assert (lane.slow, lane.end) == (("market",), utc("11:45"))
        assert lane.halts == ((halt, utc("11:05")),)

    def test_an_empty_plan(self) -> None:
        built = build(a_tour([], [a_day(end="inn")]), connectors=roads({("base", "inn"): 41}))
        times = timetable(built, best(built))
        assert times.arrival - times.departure == timedelta(minutes=41)


class TestShutHalts:
    """What is left out for its hours is told with the hour it is passed at: the rider may wait."""

    @staticmethod
    def timed(halt: Halt, start: str, way: int = 0) -> TimedLeg:
        built = build(a_tour([a_leg("loop", minutes=60, halts=(halt,), one_way=True)]))
        plan = by_hand(built, start)
        plan = replace(plan, visits=(replace(plan.visits[0], way=way),))
        return timetable(built, plan).legs[0]

    def test_passed_before_it_opens(self) -> None:
        assert self.timed(LUNCH, "09:00").shut == ((LUNCH, utc("09:30")),)

    def test_open_but_not_until_all_of_it_is_eaten(self) -> None:
        """Passed at 13:20 forty minutes just fit, ten minutes later they do not."""
        assert self.timed(LUNCH, "12:50").shut == ()
        assert self.timed(LUNCH, "13:00").shut == ((LUNCH, utc("13:30")),)

    def test_a_halt_that_is_made_is_not_shut(self) -> None:
        made = self.timed(LUNCH, "12:00", way=1)
        assert made.halts == ((LUNCH, utc("12:30")),)
        assert made.shut == ()

    def test_fuel_that_is_not_needed_is_not_missed(self) -> None:
        assert self.timed(replace(LUNCH, kind=HaltKind.FUEL), "09:00").shut == ()


class TestRefusals:
    def test_a_forbidden_start(self) -> None:
        built = build(a_tour([a_leg("loop")]), severity={"loop": 4.0})
        with pytest.raises(ValueError, match="loop may not start"):
            timetable(built, by_hand(built, "09:00"))

    def test_a_leg_that_is_not_over(self) -> None:
        built = build(a_tour([a_leg("loop"), a_leg("ring")]))
        with pytest.raises(ValueError, match="ring would start before"):
            timetable(built, by_hand(built, "09:00", "09:55"))

    def test_leaving_too_late_for_the_first_leg(self) -> None:
        built = build(a_tour([a_leg("out", start="far")]))
        with pytest.raises(ValueError, match="before its place"):
            timetable(built, by_hand(built, "09:00", leave="08:35"))

    def test_leaving_outside_the_limits(self) -> None:
        built = build(a_tour([a_leg("loop")]), day=a_day("loop", latest_departure=time(8)))
        with pytest.raises(ValueError, match="leaving"):
            timetable(built, by_hand(built, "09:00"))

    def test_in_after_the_limit(self) -> None:
        day = a_day("out", latest_arrival=time(10))
        built = build(a_tour([a_leg("out", end="far")]), day=day)
        with pytest.raises(ValueError, match="after the limit"):
            timetable(built, by_hand(built, "09:00"))

    def test_no_road(self) -> None:
        built = build(
            a_tour([a_leg("out", start="far")]), connectors=roads({("base", "far"): float("nan")})
        )
        with pytest.raises(ValueError, match="no road"):
            timetable(built, by_hand(built, "09:00"))

    def test_outside_the_day(self) -> None:
        built = build(a_tour([a_leg("loop")]))
        plan = replace(by_hand(built, "09:00"), visits=(Visit(0, 0, 5000),))
        with pytest.raises(ValueError, match="outside the day"):
            timetable(built, plan)


class TestSpare:
    def test_until_the_light_of_the_exposed_leg(self) -> None:
        """As in the trade's example: in at 18:00, exposed leg over by sunset less 30: 65 min."""
        lights = (light(sunset=utc("19:35"), civil_dusk=utc("20:06")),) * 2
        built = build(a_tour([a_leg("saddle", minutes=165, last_light="sunset-30")]), lights=lights)
        found = spare(built, by_hand(built, "15:15"))
        assert (found.minutes, found.limit, found.leg) == (65.0, "light", "saddle")

    def test_until_dusk_and_until_the_reception_closes(self) -> None:
        tour = a_tour([a_leg("loop", minutes=60)])
        built = build(tour)
        found = spare(built, by_hand(built, "18:00"))
        assert (found.minutes, found.limit, found.leg) == (60.0, "dusk", None)
        built = build(tour, day=a_day("loop", latest_arrival=time(19, 20)))
        found = spare(built, by_hand(built, "18:00"))
        assert (found.minutes, found.limit) == (20.0, "latest arrival")

    def test_after_dusk_anyway_the_hard_limit_counts(self) -> None:
        built = build(a_tour([a_leg("loop", minutes=60)]))
        found = spare(built, by_hand(built, "20:00"))
        assert (found.minutes, found.limit) == (60.0, "darkness")

    def test_a_no_go_hour_ahead(self) -> None:
        built = build(
            a_tour([a_leg("loop"), a_leg("pass")]),
            severity={"pass": lambda hours: (hours >= 12) * 4.0},
        )
        found = spare(built, by_hand(built, "09:00", "10:30"))
        # The last start is 11:55; the pass is reached at 10:00 already.
        assert (found.minutes, found.limit, found.leg) == (115.0, "hazard", "pass")

    def test_waiting_after_the_loss_makes_up_for_it_not_before(self) -> None:
        gate = WeeklyWindow(
            name="gate", effect=WindowEffect.OPEN, opens=time(7), closes=time(12, 10)
        )
        legs = [a_leg("loop"), a_leg("range", windows=(gate,))]
        built = build(a_tour(legs))
        # An hour of waiting before the range: the loop may end an hour later.
        early = spare(built, by_hand(built, "09:00", "11:00"))
        assert (early.minutes, early.limit, early.name) == (70.0, "window", "gate")
        # The wait before the loop is of no use once the loop has begun.
        assert spare(built, by_hand(built, "10:00", "11:00", leave="08:00")).minutes == 10.0

    def test_a_missed_sailing(self) -> None:
        ferry = Ferry(
            sailings=(
                Sailing(
                    way=Way.FORWARD,
                    weekdays=frozenset(range(7)),
                    departures=(time(9, 45), time(12)),
                ),
            ),
            boarding_minutes=20,
        )
        legs = [
            a_leg("coast", minutes=40, end="quay"),
            a_leg("boat", minutes=25, kind=LegKind.CROSSING, start="quay", end="base", ferry=ferry),
        ]
        built = build(a_tour(legs))
        found = spare(built, by_hand(built, "08:30", "09:25"))
        assert (found.minutes, found.limit, found.leg) == (15.0, "sailing", "boat")

    def test_a_wait_that_is_slept_at_the_base_is_not_spare(self) -> None:
        """The plan in slots leaves early and waits at the quay; the rider is told to leave later.

        By hand: the boat of 10:30 takes who is there by 10:10. Told to leave at 09:22 for 09:50,
        the rider can lose 20 minutes, however long the plan in slots waits at the quay.
        """
        sailing = Sailing(way=Way.FORWARD, weekdays=frozenset(range(7)), departures=(time(10, 30),))
        ferry = Ferry(sailings=(sailing,), boarding_minutes=20)
        boat = a_leg(
            "boat", minutes=25, kind=LegKind.CROSSING, start="quay", end="base", ferry=ferry
        )
        built = build(a_tour([boat]), connectors=roads({("base", "quay"): 28.0}))
        for leave in ("08:45", "09:05", "09:20"):
            plan = by_hand(built, "09:50", leave=leave)
            assert timetable(built, plan).departure == utc("09:22")
            found = spare(built, plan)
            assert (found.minutes, found.limit, found.leg) == (20.0, "sailing", "boat")

    @pytest.mark.parametrize(("gained", "in_hand"), [(0.0, 23.0), (19.0, 23.0), (21.0, 3.0)])
    def test_a_quay_come_to_by_a_leg_has_its_minutes_in_hand(
        self, gained: float, in_hand: float
    ) -> None:
        """Twenty are wanted: up to as many minutes of worth are given for them, and no more.

        By hand: the boat of 10:00 takes who is there by 09:40. Begun at 08:20 the coast is over at
        09:17, begun at 08:40 at 09:37; before 08:40 it meets what costs the minutes gained then.
        """
        sailing = Sailing(way=Way.FORWARD, weekdays=frozenset(range(7)), departures=(time(10),))
        ferry = Ferry(sailings=(sailing,), boarding_minutes=20)
        legs = [
            a_leg("coast", minutes=57, end="quay", one_way=True),
            a_leg("boat", minutes=25, kind=LegKind.CROSSING, start="quay", end="base", ferry=ferry),
        ]
        wet = 1.0 + gained / 57.0 / 0.5  # of level 2 a minute costs half a minute
        wet_early = {"coast": lambda hours: np.where(hours < 8.66, wet, 0.0)}
        built = build(a_tour(legs), severity=wet_early)
        coast, boat = timetable(built, best(built)).legs
        assert boat.ready == coast.end
        assert boat.sailing == utc("10:00")
        assert utc("09:40") - boat.ready == timedelta(minutes=in_hand)

    def test_the_wait_of_who_named_the_minute_of_leaving_is_spare(self) -> None:
        tour = a_tour([a_leg("loop", start="far", end="far")])
        day = a_day("loop", latest_arrival=time(12, 0))
        built = build(tour, day=day, demands=Demands(departure=utc("08:00")))
        # There at 08:30, over at 11:00, in at 11:30; the wait until 10:00 takes up 90 minutes.
        assert spare(built, by_hand(built, "10:00", leave="08:00")).minutes == 30.0
        assert room_before(built, by_hand(built, "10:00", leave="08:00"), 0).slots == 24

    @settings(max_examples=25, deadline=None)
    @given(
        bad_from=st.floats(9, 20),
        minutes=st.tuples(st.integers(20, 200), st.integers(20, 200)),
    )
    def test_what_is_spare_can_be_lost_and_a_slot_more_cannot(
        self, bad_from: float, minutes: tuple[int, int]
    ) -> None:
        """Oracle: the plan made by hand with the loss at each place, timed anew."""
        tour = a_tour([a_leg("one", minutes=minutes[0]), a_leg("two", minutes=minutes[1])])
        built = build(tour, severity={"two": lambda hours: (hours >= bad_from) * 4.0})
        solution = DaySearch(built.problem).value_of_order([0, 1])
        if solution is None:
            return
        slots = int(spare(built, solution).minutes / 5)
        dusk = built.clock.civil_dusk
        assert dusk is not None
        keeps_dusk = timetable(built, solution).arrival <= dusk

        def works(lost: int, before: int) -> bool:
            first, second = solution.visits
            one = first.start_slot + lost * (before == 0)
            ready = one + -(-minutes[0] // 5) + lost * (before == 1)
            later = replace(
                solution,
                leave_slot=min(solution.leave_slot, one),
                visits=(
                    replace(first, start_slot=one),
                    replace(second, start_slot=max(second.start_slot, ready)),
                ),
            )
            try:
                arrival = timetable(built, later).arrival
            except ValueError:
                return False
            return arrival <= dusk or not keeps_dusk

        assert works(slots, 0)
        assert works(slots, 1)
        at_the_end = timetable(built, solution).arrival + timedelta(minutes=5 * (slots + 1))
        limit = dusk if keeps_dusk else built.clock.by
        assert not (works(slots + 1, 0) and works(slots + 1, 1) and at_the_end <= limit)


class TestTurnBack:
    def test_a_spur_from_its_far_end_without_the_halt_there(self) -> None:
        halt = Halt(place="far", fraction=0.5, minutes=20, kind=HaltKind.VISIT)
        spur = a_leg("spur", minutes=50, kind=LegKind.SPUR, halts=(halt,), start="far", end="far")
        built = build(a_tour([spur]))
        # In by dusk at 20:00, 30 min of connector and 25 back from the far end.
        plan = by_hand(built, "17:00", leave="16:30")
        assert turn_back(built, plan, 0) == utc("19:05")

    def test_a_pass_from_where_it_begins_to_be_exposed(self) -> None:
        saddle = a_leg(
            "saddle",
            minutes=100,
            kind=LegKind.PASS,
            last_light="sunset-30",
            sections=(
                Section(
                    name="saddle",
                    from_fraction=0.4,
                    to_fraction=0.5,
                    road=Road(exposure=Exposure.EXPOSED),
                ),
            ),
        )
        built = build(a_tour([saddle]))
        # Over by 19:00, 60 minutes on from the saddle's foot.
        assert turn_back(built, by_hand(built, "10:00"), 0) == utc("18:00")

    def test_before_the_hazard_comes(self) -> None:
        spur = a_leg("spur", minutes=60, kind=LegKind.SPUR)
        built = build(a_tour([spur]), severity={"spur": lambda hours: (hours >= 14.0 - 1e-6) * 4.0})
        # Last start 13:55, at the far end 14:25.
        assert turn_back(built, by_hand(built, "10:00"), 0) == utc("14:25")

    def test_no_turn_back_on_a_loop(self) -> None:
        built = build(a_tour([a_leg("loop")]))
        assert turn_back(built, by_hand(built, "10:00"), 0) is None

    def test_without_a_plain_road_home_the_plan_is_the_way_home(self) -> None:
        legs = [
            a_leg("spur", minutes=60, kind=LegKind.SPUR, start="far", end="far"),
            a_leg("home", minutes=45, start="far", end="base"),
        ]
        built = build(a_tour(legs), connectors=roads({("far", "base"): float("nan")}))
        plan = by_hand(built, "10:00", "11:00", leave="09:00")
        with pytest.raises(ValueError, match="no road"):
            turn_back(built, plan, 0)
        legs.insert(0, a_leg("there", minutes=45, start="base", end="far"))
        built = build(a_tour(legs), connectors=roads({("far", "base"): float("nan")}))
        plan = by_hand(built, "09:00", "10:00", "11:00")
        assert turn_back(built, plan, 1) == utc("18:45")  # 20:00 less 30 back less 45 home


class TestDecisionPoints:
    def day(self, **other: object) -> BuiltDay:
        joins = (Join(place="far", riding_minutes=95, distance_km=92),)
        saddle = a_leg(
            "saddle",
            minutes=160,
            via=("far", "quay"),
            stand_in=StandIn(leg="valley", joins=joins),
            sections=(
                Section(name="foot", from_fraction=0.25, to_fraction=0.3, road=Road(), place="far"),
            ),
            last_light="sunset-30",
        )
        legs = [saddle, a_leg("valley", minutes=125), a_leg("loop", minutes=60)]
        return build(a_tour(legs, [a_day("saddle", "loop")]), **other)

    def plan(self, built: BuiltDay, saddle: str, loop: str) -> DaySolution:
        plan = by_hand(built, saddle, saddle, loop)
        return replace(plan, visits=(plan.visits[0], plan.visits[2]))

    def test_place_latest_time_and_arrival_by_the_stand_in(self) -> None:
        built = self.day()
        (point,) = decision_points(built, self.plan(built, "10:00", "13:00"))
        assert (point.leg, point.instead, point.place) == ("saddle", "valley", "far")
        assert point.planned == utc("10:40")
        # The saddle may start at 16:20 (over by 19:00) and the loop still ends by dusk at 20:00.
        assert point.latest == utc("17:00")
        assert point.arrival_instead == utc("14:00")  # there 12:15, the loop as planned
        assert point.arrival_instead_latest == utc("19:35")

    def test_where_the_rest_of_the_day_does_not_work_with_the_stand_in(self) -> None:
        built = self.day(severity={"loop": lambda hours: (hours > 14.01) * 4.0})
        (point,) = decision_points(built, self.plan(built, "11:00", "14:00"))
        # The saddle must be over by 14:00, then the loop; by the valley it is reached at 13:15.
        assert point.latest == utc("12:00")
        assert point.arrival_instead == utc("15:00")
        slow = Join(place="far", riding_minutes=150, distance_km=92)
        legs = list(built.tour.legs.values())
        legs[0] = replace(legs[0], stand_in=StandIn(leg="valley", joins=(slow,)))
        built = build(
            a_tour(legs, [a_day("saddle", "loop")]),
            severity={"loop": lambda hours: (hours > 14.01) * 4.0},
        )
        (point,) = decision_points(built, self.plan(built, "11:00", "14:00"))
        assert (point.arrival_instead, point.arrival_instead_latest) == (None, None)

    def test_without_a_join_the_choice_is_made_before_the_leg(self) -> None:
        legs = [a_leg("saddle", stand_in=StandIn(leg="valley")), a_leg("valley", minutes=50)]
        built = build(a_tour(legs, [a_day("saddle")]))
        (point,) = decision_points(built, by_hand(built, "10:00"))
        assert (point.place, point.planned) == ("base", utc("10:00"))
        assert point.arrival_instead == utc("10:50")
        assert point.latest == utc("19:00")

    def test_ridden_in_reverse_the_join_is_met_from_the_other_end(self) -> None:
        built = self.day()
        plan = self.plan(built, "10:00", "13:00")
        backwards = next(k for k, way in enumerate(built.legs[0].ways) if way.way is Way.REVERSE)
        visits = (replace(plan.visits[0], way=backwards), plan.visits[1])
        (point,) = decision_points(built, replace(plan, visits=visits))
        assert point.planned == utc("11:52")

    def test_a_place_along_the_way_by_its_distance(self) -> None:
        """The invented places lie 0.1 degrees of latitude apart: far, quay, other, inn."""
        leg = a_leg("lane", start="far", end="inn", via=("quay", "other"))
        tour = a_tour([leg])
        assert place_fraction(tour, leg, "quay", Way.FORWARD) == pytest.approx(1 / 3, abs=1e-4)
        assert place_fraction(tour, leg, "quay", Way.REVERSE) == pytest.approx(2 / 3, abs=1e-4)
        assert place_fraction(tour, leg, "inn", Way.FORWARD) == 1.0
        assert place_fraction(tour, leg, "inn", Way.REVERSE) == 0.0
        assert place_fraction(tour, leg, "base", Way.FORWARD) == 0.0


@settings(max_examples=30, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(20, 170), st.integers(10, 90), st.sampled_from(["far", "quay"])),
        min_size=1,
        max_size=4,
    )
)
def test_every_plan_of_the_search_can_be_ridden_by_the_clock(
    given_legs: list[tuple[int, int, str]],
) -> None:
    legs = [
        a_leg(f"leg{n}", minutes=minutes, worth=worth, end=end)
        for n, (minutes, worth, end) in enumerate(given_legs)
    ]
    built = build(a_tour(legs), connectors=roads({("base", "far"): 13.0, ("far", "quay"): 7.3}))
    solution = best(built)
    times = timetable(built, solution)
    free = times.departure
    for leg in times.legs:
        assert free <= leg.ready <= leg.start < leg.end
        free = leg.end
    assert free <= times.arrival <= built.clock.by
