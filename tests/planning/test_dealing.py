"""Shared legs dealt over the days of a tour: exact, against every dealing tried. INVENTED tours."""

from collections.abc import Iterator
from dataclasses import replace
from math import inf

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.planning import dealt_day
from replanner.planning.dealing import Dealing, Dealt
from replanner.planning.dealing_parts import SLACK, Aim
from replanner.planning.dealing_problem import DayToDeal, TourProblem
from replanner.planning.problem_file import read_problem
from tests.benchmarks.tour_problems import benchmark_tour
from tests.planning.day_problems import worth_of
from tests.planning.invented_tours import (
    best_by_every_dealing,
    invented_tour,
    part_of,
    worth_of_parts,
)

TOURS = st.builds(
    invented_tour, st.integers(0, 2**32 - 1), st.integers(1, 3), st.just(4), st.integers(0, 3)
)


@pytest.fixture(params=["tables", "searches"])
def ways(request: pytest.FixtureRequest) -> Iterator[None]:
    """Once with the days' tables, as small days are answered, once as large days are."""
    with pytest.MonkeyPatch.context() as patch:
        if request.param == "searches":
            patch.setattr(dealt_day, "FEW_LEGS", -1)
        yield


def one_leg_a_day(*worths: float, must: bool = False, extra: float = 0.0) -> TourProblem:
    """Make a tour of days that could ride one shared leg, at home on the first."""

    def day(number: int, worth: float) -> DayToDeal:
        problem = read_problem(
            {
                "format": "replanner-problem-1",
                "slot_minutes": 15,
                "first_slot": "2027-01-14T06:00:00Z",
                "slots": 8,
                "travel_slots": [[0]],
                "travel_cost_per_slot": 0,
                "start": {"place": 0, "earliest": 0, "latest": 7},
                "end": {"place": 0, "by": 7, "dusk": 7, "late_cost_per_slot": 0},
                "legs": [
                    {
                        "id": "shared",
                        "must": False,
                        "ways": [{"from": 0, "to": 0, "ride_slots": 2, "worth": [worth] * 8}],
                    }
                ],
            }
        )
        return DayToDeal(problem=problem, rides=((0,),), extra=(extra if number else 0.0,))

    days = tuple(day(number, worth) for number, worth in enumerate(worths))
    return TourProblem(days=days, musts=frozenset({0} if must else ()))


def score(tour: TourProblem, dealt: Dealt) -> tuple[int, int, float]:
    unridden = sum(
        len(legs & tour.musts)
        for legs, plan in zip(dealt.ridden, dealt.plans, strict=True)
        if plan is None
    )
    return -dealt.no_plan, -unridden, dealt.value


def priced_anew(tour: TourProblem, dealt: Dealt) -> float:
    """Price the plans told, slot by slot, and see that they ride what is told and no leg twice."""
    total = 0.0
    for day, plan, legs in zip(tour.days, dealt.plans, dealt.ridden, strict=True):
        if plan is None:
            continue
        worth = worth_of(day.problem, plan)
        assert worth == pytest.approx(plan.value, abs=1e-5)
        assert part_of(day, plan.legs) == legs
        total += worth + sum(day.extra[leg] for leg in legs)
    everything = [leg for legs in dealt.ridden for leg in legs]
    assert len(everything) == len(set(everything))
    assert tour.musts <= set(everything)
    return total


@settings(max_examples=40, deadline=None, derandomize=True)
@given(tour=TOURS, few=st.sampled_from([12, -1]))
def test_exact_over_every_dealing(tour: TourProblem, few: int) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(dealt_day, "FEW_LEGS", few)
        dealt = Dealing(tour).best()
    assert score(tour, dealt) == pytest.approx(best_by_every_dealing(tour), abs=1e-5)
    assert priced_anew(tour, dealt) == pytest.approx(dealt.value, abs=1e-5)
    assert dealt.proven
    assert dealt.bound == dealt.value


@settings(max_examples=25, deadline=None, derandomize=True)
@given(tour=TOURS, few=st.sampled_from([12, -1]))
def test_bounds_of_a_day_hold_whatever_was_asked(tour: TourProblem, few: int) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(dealt_day, "FEW_LEGS", few)
        day = dealt_day.DealtDay(tour.days[0], tour.musts, lambda: None)
        prices = dealt_day.as_micros(7.0 * (bit - 1) for bit in range(len(day.shared)))
        whole = (1 << len(day.shared)) - 1
        day.ask(dealt_day.Scope(whole), prices)
        day.ask(dealt_day.Scope(whole, whole & 1), prices)
        day.ask(dealt_day.Scope(whole & ~1), 0 * prices)
    true = worth_of_parts(tour.days[0])
    for part in range(whole + 1):
        worth = true.get(day.legs(part), -inf)
        assert day.at_most[part] >= worth * 1e6 - 1e-3
        if day.has_plan[part]:
            assert day.at_least[part] <= worth * 1e6 + 1e-3


@settings(max_examples=25, deadline=None, derandomize=True)
@given(tour=TOURS)
def test_one_search_tells_every_part_that_comes_near_the_best(tour: TourProblem) -> None:
    day = dealt_day.DealtDay(tour.days[0], frozenset(), lambda: None)
    prices = dealt_day.as_micros(3.0 * (bit - 1) for bit in range(len(day.shared)))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(dealt_day, "FEW_LEGS", -1)
        day.ask(dealt_day.Scope((1 << len(day.shared)) - 1), prices, Aim(slack=SLACK))
    true = worth_of_parts(tour.days[0])
    charged = dealt_day.prices_of_parts(prices)
    priced = {
        part: true.get(day.legs(part), -inf) * 1e6 - charged[part] for part in day.parts.tolist()
    }
    near = max(priced.values()) - SLACK
    for part, worth in priced.items():
        if worth > near + 1:
            assert day.known(part)
            plan = day.plan(part)
            assert plan is not None
            assert part_of(day.day, plan.legs) == day.legs(part)
            extra = sum(day.day.extra[leg] for leg in day.legs(part))
            assert worth_of(day.day.problem, plan) + extra == pytest.approx(
                true[day.legs(part)], abs=1e-5
            )


@pytest.mark.usefixtures("ways")
class TestOneLeg:
    def test_on_the_day_it_is_worth_most(self) -> None:
        dealt = Dealing(one_leg_a_day(20, 50, 40)).best()
        assert dealt.ridden == (frozenset(), frozenset({0}), frozenset())
        assert dealt.value == 50

    def test_moving_it_has_to_earn_its_price(self) -> None:
        assert Dealing(one_leg_a_day(20, 29, extra=-10.0)).best().ridden[0] == {0}
        assert Dealing(one_leg_a_day(20, 31, extra=-10.0)).best().ridden[1] == {0}

    def test_a_must_is_ridden_where_it_costs_least(self) -> None:
        dealt = Dealing(one_leg_a_day(-50, -20, -30, must=True)).best()
        assert dealt.ridden[1] == {0}
        assert dealt.value == -20

    def test_what_stands_stands_where_others_are_as_good(self) -> None:
        tour = one_leg_a_day(30, 30, 30)
        for day in range(3):
            dealing = Dealing(tour)
            own = dealing.best(only=[day])
            assert own.ridden[day] == {0}
            assert dealing.best(standing=own).ridden == own.ridden

    def test_only_one_day_may(self) -> None:
        dealt = Dealing(one_leg_a_day(20, 50)).best(only=[0])
        assert (dealt.ridden[0], dealt.value, dealt.proven) == ({0}, 20, True)


def test_a_must_that_is_for_no_day() -> None:
    tour = one_leg_a_day(20, must=True)
    tour = replace(tour, days=(replace(tour.days[0], rides=((),)),))
    with pytest.raises(ValueError, match="for no day"):
        Dealing(tour).best()


class TestLargerTours:
    """Days of the benchmark's kind, too large to try every dealing."""

    def test_tables_and_searches_agree(self) -> None:
        tour = benchmark_tour(1, days=3, legs=10, shared=5)
        from_tables = Dealing(tour).best()
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(dealt_day, "FEW_LEGS", -1)
            searched = Dealing(tour).best()
        assert searched.value == from_tables.value == pytest.approx(priced_anew(tour, searched))
        assert searched.proven
        assert from_tables.proven

    def test_stopped_it_tells_the_best_dealing_and_what_is_lacking_to_the_proof(self) -> None:
        tour = benchmark_tour(1, days=3, legs=14, shared=5)
        best = Dealing(tour).best()
        stopped = Dealing(tour, time_limit_s=0.0).best()
        assert not stopped.proven
        assert stopped.no_plan == 0
        assert stopped.value <= best.value <= stopped.bound
        assert priced_anew(tour, stopped) == pytest.approx(stopped.value, abs=1e-5)

    def test_dealt_alike_every_time(self) -> None:
        tour = benchmark_tour(2, days=3, legs=8, shared=6)
        first, second = Dealing(tour).best(), Dealing(tour).best()
        assert (first.plans, first.ridden, first.nodes) == (
            second.plans,
            second.ridden,
            second.nodes,
        )
