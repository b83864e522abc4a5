"""Every reason is worked out: undoing the change alone really costs what is said.

Days, legs and severities are INVENTED; brute force over all orders is the oracle.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import time
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.advice.briefing import Change, ChangeKind, Hurdle, HurdleKind
from replanner.advice.case import Case
from replanner.advice.legs_left_out import left_out
from replanner.advice.reasons import changes, dearest_first, longest_run
from replanner.advice.second_plan import second_plan
from replanner.planning.build import BuiltDay
from replanner.planning.day_search import DaySearch
from replanner.planning.own_run import own_leave_slot, own_run
from replanner.planning.problem import DaySolution
from replanner.planning.rules import Rules
from replanner.trip.edits import Demands
from replanner.trip.model import StandIn
from tests.planning.invented import a_day, a_leg, a_tour, build, ridden

RULES = Rules(slot_minutes=15)


def case_of(built: BuiltDay, demands: Demands | None = None) -> Case:
    search = DaySearch(built.problem)
    solution = search.best().solution
    assert solution is not None
    return Case(
        built=built,
        search=search,
        solution=solution,
        own=own_run(built),
        demands=demands or Demands(),
    )


def worth_of(case: Case, kind: ChangeKind) -> dict[str | None, float | None]:
    return {change.leg: change.worth_minutes for change in changes(case) if change.kind is kind}


def all_orders(case: Case) -> Iterator[tuple[tuple[int, ...], float]]:
    """Give every order of every set of legs that keeps the day's demands, with its value."""
    problem = case.built.problem
    legs = range(len(problem.legs))
    for count in range(len(problem.legs) + 1):
        for order in permutations(legs, count):
            if any(leg.must and n not in order for n, leg in enumerate(problem.legs)):
                continue
            if any(sum(leg in order for leg in group) != 1 for group in problem.exactly_one):
                continue
            timed = case.search.value_of_order(order)
            if timed is not None:
                yield order, timed.value


def best_where(case: Case, holds: Callable[[tuple[int, ...]], bool]) -> float | None:
    return max((value for order, value in all_orders(case) if holds(order)), default=None)


def wet_until(hour: float, level: float = 3.0) -> Callable[[np.ndarray], np.ndarray]:
    return lambda hours: np.where(hours < hour, level, 0.0)


def test_a_leg_behind_another_is_worth_what_its_own_place_would_lose() -> None:
    tour = a_tour([a_leg("saddle", minutes=60), a_leg("coast", minutes=60)])
    dry_early = {"coast": lambda hours: np.where(hours < 12, 0.0, 3.0)}
    built = build(tour, severity={"saddle": wet_until(12), **dry_early}, rules=RULES)
    case = case_of(built)
    assert ridden(built, case.solution) == ["coast", "saddle"]
    (change,) = [change for change in changes(case) if change.kind is ChangeKind.MOVED]
    assert change.leg is not None
    moved = built.index(change.leg)
    # Undone alone: the leg is ridden in its own place, whether or not the other still is.
    undone = best_where(case, lambda order: moved in order and order != (1, 0))
    assert undone is not None
    assert change.worth_minutes == pytest.approx(case.solution.value - undone)
    assert change.worth_minutes > 0
    assert change.new_start is not None
    assert change.own_start is not None


def test_a_leg_left_out_has_the_price_of_forcing_it() -> None:
    tour = a_tour([a_leg("saddle", worth=60), a_leg("coast")])
    built = build(tour, severity={"saddle": 3.5}, rules=RULES)
    case = case_of(built)
    (out,) = left_out(case, {})
    forced = best_where(case, lambda order: 0 in order)
    assert out.id == "saddle"
    assert forced is not None
    assert out.price_minutes == pytest.approx(case.solution.value - forced)
    assert out.price_minutes > 0


def test_a_leg_no_go_all_day_cannot_be_bought() -> None:
    tour = a_tour([a_leg("saddle"), a_leg("coast")])
    case = case_of(build(tour, severity={"saddle": 4.0}, rules=RULES))
    (out,) = left_out(case, {})
    assert out.price_minutes is None
    assert out.cause == "hazard"
    assert out.to_ride_it == Hurdle(kind=HurdleKind.HAZARD, leg=out.id)


def test_a_stand_in_is_worth_what_its_leg_would_lose() -> None:
    saddle = a_leg("saddle", worth=90, stand_in=StandIn(leg="valley"), must=True)
    tour = a_tour([saddle, a_leg("valley", worth=20)], days=[a_day("saddle")])
    built = build(tour, severity={"saddle": 3.5}, rules=RULES)
    case = case_of(built)
    assert ridden(built, case.solution) == ["valley"]
    forced = best_where(case, lambda order: 0 in order)
    assert forced is not None
    assert worth_of(case, ChangeKind.STAND_IN) == {
        "saddle": pytest.approx(case.solution.value - forced)
    }


def test_an_added_leg_is_worth_what_the_day_without_it_loses() -> None:
    tour = a_tour([a_leg("saddle"), a_leg("coast")], days=[a_day("saddle", optional=("coast",))])
    case = case_of(build(tour, rules=RULES))
    without = best_where(case, lambda order: 1 not in order)
    assert without is not None
    assert worth_of(case, ChangeKind.ADDED) == {
        "coast": pytest.approx(case.solution.value - without)
    }


def test_what_the_rider_asked_for_needs_no_reason() -> None:
    tour = a_tour([a_leg("saddle"), a_leg("coast")], days=[a_day("saddle", optional=("coast",))])
    demands = Demands(forced=frozenset({"coast"}))
    case = case_of(build(tour, rules=RULES, demands=demands), demands)
    assert worth_of(case, ChangeKind.ADDED) == {}


def test_leaving_at_another_hour_is_told_as_that() -> None:
    tour = a_tour([a_leg("saddle")])
    built = build(tour, severity={"saddle": wet_until(11)}, rules=RULES)
    (change,) = changes(case_of(built))
    assert change.kind is ChangeKind.DEPARTURE
    assert change.worth_minutes is not None
    assert change.worth_minutes > 0
    assert change.new_start is not None
    assert change.own_start is not None
    assert change.new_start > change.own_start


@settings(max_examples=20, deadline=None)
@given(st.lists(st.lists(st.sampled_from([0.0, 2.0, 3.0, 4.0]), min_size=6, max_size=6),
                min_size=1, max_size=3))  # fmt: skip
def test_another_hour_is_worth_what_leaving_as_ever_would_lose(days: list[list[float]]) -> None:
    """Undone: left at nine, and whatever leg comes first is begun then."""
    names = [f"leg{n}" for n in range(len(days))]
    tour = a_tour([a_leg(name) for name in names], days=[a_day(*names, own_departure=time(9))])
    by_hours = {
        name: (lambda hours, q=levels: np.array(q)[np.clip((hours - 8) // 2, 0, 5).astype(int)])
        for name, levels in zip(names, days, strict=True)
    }
    case = case_of(build(tour, severity=by_hours, rules=RULES))
    nine = own_leave_slot(case.built)
    left = DaySearch(replace(case.built.problem, earliest=nine, latest=nine))
    assert left.best().solution is not None
    for change in changes(case):
        if change.kind is not ChangeKind.DEPARTURE:
            continue
        found = [
            timed.value
            for count in range(1, len(names) + 1)
            for order in permutations(range(len(names)), count)
            if (timed := _begun_at(case, order, nine)) is not None
        ]
        undone = max(found, default=None)
        expected = None if undone is None else max(case.solution.value - undone, 0.0)
        assert change.worth_minutes == (expected and pytest.approx(expected, abs=1e-4))


def _begun_at(case: Case, order: tuple[int, ...], slot: int) -> DaySolution | None:
    problem = replace(case.built.problem, earliest=slot, latest=slot)
    later = np.arange(problem.slots) != slot
    return DaySearch(problem).kept_away(order[0], later).value_of_order(order)


def test_with_one_leg_left_out_the_other_has_changed_places_with_nobody() -> None:
    """The lane is no-go all day; the loop behind it is ridden before its wind rises."""
    tour = a_tour(
        [a_leg("lane", minutes=90), a_leg("loop", minutes=90)],
        days=[a_day("lane", "loop", own_departure=time(9, 0))],
    )
    windy = {"lane": 4.0, "loop": lambda hours: np.where(hours < 9, 0.0, 4.0)}
    case = case_of(build(tour, severity=windy, rules=RULES))
    assert ridden(case.built, case.solution) == ["loop"]
    kinds = {change.kind: change.leg for change in changes(case)}
    assert kinds == {ChangeKind.LEFT_OUT: "lane", ChangeKind.DEPARTURE: None}


def test_a_fair_day_has_no_changes() -> None:
    case = case_of(build(a_tour([a_leg("saddle"), a_leg("coast")]), rules=RULES))
    assert [change for change in changes(case) if change.kind is not ChangeKind.DEPARTURE] == []


levels = st.lists(st.sampled_from([0.0, 2.0, 3.0, 4.0]), min_size=4, max_size=4)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(levels, st.integers(10, 90)), min_size=2, max_size=4))
def test_undoing_any_change_costs_what_is_said(legs: list[tuple[list[float], int]]) -> None:
    """Left out, added and moved legs, against brute force over all orders."""
    names = [f"leg{n}" for n in range(len(legs))]
    tour = a_tour(
        [a_leg(name, worth=worth) for name, (_, worth) in zip(names, legs, strict=True)],
        days=[a_day(*names[:-1], optional=names[-1:])],
    )
    by_quarter = {
        name: (lambda hours, q=quarters: np.array(q)[np.clip((hours - 8) // 3, 0, 3).astype(int)])
        for name, (quarters, _) in zip(names, legs, strict=True)
    }
    case = case_of(build(tour, severity=by_quarter, rules=RULES))
    for change in changes(case):
        if change.leg is None or change.kind is ChangeKind.MOVED:
            continue
        number = names.index(change.leg)
        if change.kind is ChangeKind.LEFT_OUT:
            undone = best_where(case, lambda order, n=number: n in order)
        else:
            undone = best_where(case, lambda order, n=number: n not in order)
        if undone is None:
            assert change.worth_minutes is None
        else:
            assert change.worth_minutes == pytest.approx(case.solution.value - undone, abs=1e-4)
        assert change.worth_minutes is None or change.worth_minutes >= -1e-6


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(levels, st.integers(10, 90)), min_size=2, max_size=4))
def test_plan_b_is_the_best_with_other_legs_or_worse_than_none_of_them(
    legs: list[tuple[list[float], int]],
) -> None:
    names = [f"leg{n}" for n in range(len(legs))]
    tour = a_tour([a_leg(name, worth=worth) for name, (_, worth) in zip(names, legs, strict=True)])
    by_quarter = {
        name: (lambda hours, q=quarters: np.array(q)[np.clip((hours - 8) // 3, 0, 3).astype(int)])
        for name, (quarters, _) in zip(names, legs, strict=True)
    }
    case = case_of(build(tour, severity=by_quarter, rules=RULES))
    second, first = second_plan(case), frozenset(case.solution.legs)
    other = best_where(case, lambda order: frozenset(order) != first)
    assert (second is None) == (other is None)
    if second is not None and other is not None:
        assert frozenset(second.legs) != first
        assert second.value == pytest.approx(other, abs=1e-4)


@given(st.permutations(range(6)))
def test_the_longest_run_rises_and_no_longer_one_does(order: list[int]) -> None:
    run = longest_run(order)
    in_order = [rank for rank in order if rank in run]
    assert in_order == sorted(in_order)
    longest = max(
        sum(1 for n in range(6) if mask >> n & 1)
        for mask in range(64)
        if (chosen := [rank for n, rank in enumerate(order) if mask >> n & 1]) == sorted(chosen)
    )
    assert len(run) == longest


def test_the_dearest_change_comes_first_and_what_cannot_be_undone_before_all() -> None:
    def change(worth: float | None) -> Change:
        return Change(kind=ChangeKind.ADDED, leg=None, worth_minutes=worth, reason=None)

    told = dearest_first([change(3.0), change(None), change(50.0)])
    assert [one.worth_minutes for one in told] == [None, 50.0, 3.0]
