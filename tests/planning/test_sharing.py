"""Legs shared between the days left. All tours here are INVENTED.

The trade's facts checked here are marked: common practice, no source.
"""

from dataclasses import replace
from datetime import date, time, timedelta
from itertools import product

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from replanner.planning.build import BuiltDay
from replanner.planning.day_search import solve
from replanner.planning.demand import DemandKind
from replanner.planning.rules import Rules
from replanner.planning.sharing import clash_of, share_legs, shared_legs
from replanner.trip.edits import Demands
from replanner.trip.model import Day, Leg, LegKind, StandIn, Tour
from tests.planning.invented import FRIDAY, a_day, a_leg, a_tour, build, local_hours, ridden, value

THURSDAY, SATURDAY = FRIDAY - timedelta(days=1), FRIDAY + timedelta(days=1)


def built_days(
    tour: Tour, severity: dict[date, dict] | None = None, rules: Rules | None = None
) -> list[BuiltDay]:
    return [
        build(tour, day=day, severity=(severity or {}).get(day.date), rules=rules)
        for day in tour.days
    ]


def plans(days: list[BuiltDay], solutions: tuple) -> list[list[str]]:
    return [ridden(built, plan) for built, plan in zip(days, solutions, strict=True)]


class TestArrivalEvening:
    """A small peninsula loop is about an hour, and is put before check-in on the arrival evening
    when tomorrow gains by it. Common practice, no source.
    """

    def tour(self) -> Tour:
        legs = [
            a_leg("transfer", minutes=420, worth=10, must=True, kind=LegKind.TRANSIT),
            a_leg("peninsula", minutes=60, worth=40),
            a_leg("range", minutes=240, worth=120, must=True),
            a_leg("bay", minutes=200, worth=90),
        ]
        arrival = a_day("transfer", date=THURSDAY, optional=("peninsula",))
        tomorrow = a_day("peninsula", "range", "bay")
        return a_tour(legs, [arrival, tomorrow])

    def test_tonight_when_tomorrow_gains(self) -> None:
        # A front tomorrow: of the two only one can be begun before half past eight.
        rain = {FRIDAY: {leg: lambda h: (h > 8.4) * 4.0 for leg in ("peninsula", "bay")}}
        days = built_days(self.tour(), rain)
        shared = share_legs(days)
        assert plans(days, shared.solutions)[0] == ["transfer", "peninsula"]
        assert shared.moved == (("peninsula", FRIDAY, THURSDAY),)
        assert shared.gain > 0
        assert sorted(plans(days, shared.solutions)[1]) == ["bay", "range"]

    def test_tomorrow_as_the_rider_put_it_when_nothing_is_gained(self) -> None:
        days = built_days(self.tour())
        shared = share_legs(days)
        assert plans(days, shared.solutions) == [["transfer"], ["peninsula", "range", "bay"]]
        assert (shared.moved, shared.gain) == ((), 0.0)

    def test_not_tonight_in_the_dark(self) -> None:
        tour = self.tour()
        late = replace(tour.days[0], earliest_departure=time(11, 30))
        legs = dict(tour.legs)
        legs["peninsula"] = replace(legs["peninsula"], last_light="sunset-30")
        tour = replace(tour, days=(late, tour.days[1]), legs=legs)
        days = built_days(tour, {FRIDAY: {"peninsula": 4.0}})
        shared = share_legs(days)
        assert plans(days, shared.solutions)[0] == ["transfer"]
        assert "peninsula" not in plans(days, shared.solutions)[1]

    def test_a_small_gain_moves_nothing(self) -> None:
        caution = {FRIDAY: {"peninsula": 2.0}}  # 30 of its minutes
        for price, moved in ((29.0, 1), (31.0, 0)):
            rules = Rules(other_day_cost=price, order_cost=0.0)
            assert len(share_legs(built_days(self.tour(), caution, rules)).moved) == moved


class TestParallelRoads:
    """A steep narrow pass in any wet is left out when its parallel valley road is as good.
    Common practice, no source. Wet on such a pass is avoid at least (`hazards`), priced so here.
    """

    def test_the_valley_road_in_the_wet(self) -> None:
        legs = [
            a_leg(
                "pass", kind=LegKind.PASS, worth=60, must=True, stand_in=StandIn(leg="valley road")
            ),
            a_leg("valley road", worth=60, kind=LegKind.TRANSIT),
        ]
        tour = a_tour(legs, [a_day("pass")])
        wet, dry = build(tour, severity={"pass": 3.0}), build(tour)
        assert ridden(wet, solve(wet.problem).solution) == ["valley road"]
        # As good in the dry: the rider's own road, and taking the other costs as any change does.
        assert ridden(dry, solve(dry.problem).solution) == ["pass"]
        assert (value(dry), value(wet)) == (60, 60 - Rules().order_cost)

    def test_on_another_day_when_that_is_dry(self) -> None:
        legs = [
            a_leg("pass", kind=LegKind.PASS, worth=90, must=True, stand_in=StandIn(leg="valley")),
            a_leg("valley", worth=40, kind=LegKind.TRANSIT),
            a_leg("bay", worth=30),
        ]
        tour = a_tour(legs, [a_day("pass"), a_day("bay", date=SATURDAY, optional=("pass",))])
        days = built_days(tour, {FRIDAY: {"pass": 3.0}})
        shared = share_legs(days)
        assert "pass" in plans(days, shared.solutions)[1]
        assert shared.moved == (("pass", FRIDAY, SATURDAY),)
        assert "valley" not in plans(days, shared.solutions)[0]


def test_a_loop_dressed_with_gravel_is_taken_dry_and_by_day() -> None:
    """Common practice, no source: dry and by day, or told with a caution."""
    dressed = a_leg("dressed", minutes=110, worth=60)

    def wet_morning_dark_evening(hours: np.ndarray) -> np.ndarray:
        return np.where((hours < 12) | (hours > 17), 3.0, 1.5)

    tour = a_tour([dressed, a_leg("ring", minutes=120, worth=50)], [a_day("dressed", "ring")])
    built = build(tour, severity={"dressed": wet_morning_dark_evening})
    solution = solve(built.problem).solution
    assert solution is not None
    assert sorted(ridden(built, solution)) == ["dressed", "ring"]
    (visit,) = [visit for visit in solution.visits if visit.leg == built.index("dressed")]
    assert 12 <= local_hours(built.clock.instants)[visit.start_slot] <= 17
    assert built.way(visit.leg, visit.way).assessed.severity[visit.start_slot] < 2


class TestDealing:
    def test_a_must_is_ridden_on_one_of_the_days(self) -> None:
        legs = [a_leg("must", worth=-20, must=True), a_leg("loop")]
        tour = a_tour(legs, [a_day("must"), a_day("loop", date=SATURDAY, optional=("must",))])
        days = built_days(tour)
        assert plans(days, share_legs(days).solutions) == [["must"], ["loop"]]
        days = built_days(tour, {FRIDAY: {"must": 4.0}})
        shared = share_legs(days)
        assert sorted(plans(days, shared.solutions)[1]) == ["loop", "must"]
        assert shared.gain == np.inf

    def test_a_day_without_any_plan_is_told_as_none(self) -> None:
        tour = a_tour([a_leg("must", must=True)], [a_day("must"), a_day(date=SATURDAY)])
        days = built_days(tour, {FRIDAY: {"must": 4.0}})
        shared = share_legs(days)
        assert shared.solutions[0] is None
        assert shared.solutions[1] is not None
        assert shared_legs(days) == ()

    def test_a_leg_asked_for_on_a_day_is_ridden_there(self) -> None:
        legs = [a_leg("one"), a_leg("loop")]
        tour = a_tour(legs, [a_day("one"), a_day("loop", date=SATURDAY, optional=("one",))])
        asked = Demands(forced=frozenset({"one"}))
        days = [build(tour), build(tour, day=tour.days[1], demands=asked)]
        shared = share_legs(days)
        assert plans(days, shared.solutions) == [[], ["loop", "one"]]
        # Asked for without naming a day: on the first that has it.
        days = [build(tour, day=day, demands=asked) for day in tour.days]
        assert plans(days, share_legs(days).solutions) == [["one"], ["loop"]]

    def test_musts_that_exclude_each_other_over_the_days_are_told(self) -> None:
        legs = [a_leg(name, must=True, minutes=90) for name in ("one", "two", "three")]
        every = ("one", "two", "three")
        tour = a_tour(legs, [a_day(*every), a_day(date=SATURDAY, optional=every)])
        # Two of them are fair on Friday before nine alone, which is enough for one.
        before_nine = dict.fromkeys(every[:2], lambda hours: (hours >= 9) * 4.0)
        days = built_days(tour, {FRIDAY: before_nine, SATURDAY: dict.fromkeys(every[:2], 4.0)})
        assert None in share_legs(days).solutions
        assert {(day, demand.kind, demand.legs) for day, demand in clash_of(days).demands} == {
            (None, DemandKind.RIDE, ("one",)),
            (None, DemandKind.RIDE, ("two",)),
        }
        assert clash_of(built_days(tour)).demands == ()

    def test_no_days(self) -> None:
        with pytest.raises(ValueError, match="no days"):
            share_legs([])

    @settings(max_examples=8, deadline=None)
    @given(
        worth=st.lists(st.integers(10, 90), min_size=4, max_size=4),
        levels=st.lists(st.sampled_from([0.0, 2.0, 2.5, 4.0]), min_size=6, max_size=6),
        minutes=st.lists(st.integers(100, 300), min_size=4, max_size=4),
        must=st.booleans(),
    )
    @example(  # no day can ride the must: whoever gets it has no plan, and it is left out
        worth=[10, 10, 10, 10], levels=[4.0, 0.0] * 3, minutes=[100] * 4, must=True
    )
    def test_exact_over_all_dealings(
        self, worth: list[int], levels: list[float], minutes: list[int], must: bool
    ) -> None:
        """Oracle: every dealing of two shared legs over three days, each day solved anew."""
        names = ["one", "two", "three", "four"]
        legs: list[Leg] = [
            a_leg(name, worth=w, minutes=m, must=must and name == "one")
            for name, w, m in zip(names, worth, minutes, strict=True)
        ]
        both = ("one", "two")
        own: list[Day] = [
            a_day("one", "three", optional=("two",)),
            a_day("two", "four", date=SATURDAY, optional=("one",)),
            a_day(date=SATURDAY + timedelta(days=1), optional=both),
        ]
        tour = a_tour(legs, own)
        severity = {
            day.date: dict(zip(both, levels[2 * n : 2 * n + 2], strict=True))
            for n, day in enumerate(own)
        }
        rules = Rules(other_day_cost=7.0, order_cost=0.0)
        days = built_days(tour, severity, rules)
        home = {"one": 0, "two": 1}
        best = (9, np.inf)
        for where in product(range(3), repeat=2):
            missing, total = 0, 0.0
            for n, built in enumerate(days):
                given_away = frozenset(
                    leg for leg, day in zip(both, where, strict=True) if day != n
                )
                here = [leg for leg, day in zip(both, where, strict=True) if day == n]
                forced = frozenset(here) & ({"one"} if must else set())
                anew = build(
                    tour,
                    day=built.day,
                    severity=severity[built.day.date],
                    rules=rules,
                    demands=Demands(left_out=given_away, forced=forced),
                )
                found = solve(anew.problem).solution
                missing += found is None
                rides = ridden(anew, found) if found is not None else []
                moved = [leg for leg in here if home[leg] != n and leg in rides]
                away = [leg for leg in here if home[leg] != n and leg not in moved]
                if found is not None:
                    total += found.value - 7.0 * len(moved)
                total -= rules.left_out_cost * len(away)  # dealt here and not ridden
            best = min(best, (missing, -total))
        shared = share_legs(days)
        assert sum(plan is None for plan in shared.solutions) == best[0]
        total = sum(plan.value for plan in shared.solutions if plan is not None)
        total += (rules.left_out_cost - 7.0) * len(shared.moved)  # moved is not left out
        assert total == pytest.approx(-best[1], abs=1e-3)
        everything = [leg for plan in plans(days, shared.solutions) for leg in plan]
        assert len(everything) == len(set(everything))
