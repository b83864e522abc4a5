"""The tank in the search, against every order, way and timing. All days are INVENTED."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import permutations, product
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.planning.day_search import DaySearch, SearchResult, solve
from replanner.planning.problem import NEVER, DayProblem, DaySolution
from replanner.planning.problem_file import read_problem
from replanner.planning.tank import (
    Levels,
    Ride,
    Split,
    Tank,
    finer,
    first_dry,
    joined,
    ridden_levels,
    split,
    until_none_runs_dry,
)
from tests.planning.day_problems import best_of_order, invented_problem, keeps_demands, worth_of

Choice = tuple[tuple[int, int], ...]
"""Legs in order, each with its way."""


def solved(problem: DayProblem, tank: Tank) -> tuple[SearchResult, DaySolution | None, Levels]:
    """Solve a day under its tank; also the plan in the numbers of the problem."""

    def answer(day: Split) -> tuple[tuple[Split, SearchResult], list[DaySolution | None]]:
        found = solve(day.problem)
        return (day, found), [found.solution]

    answered, levels = until_none_runs_dry(problem, tank, answer, {})
    assert answered is not None
    day, found = answered
    plan = None if found.solution is None else day.whole(found.solution)
    return found, plan, levels


def pumps(problem: DayProblem, tank: Tank, choice: Choice) -> Iterator[float]:
    """Tell the kilometres from pump to pump of a day: the judge's own count, no level in it."""
    legs = [(problem.legs[leg].ways[way], tank.rides[leg][way]) for leg, way in choice]
    place, since = problem.start_place, tank.begun_km
    for way, ride in legs:
        since += float(tank.road_km[place, way.start]) + ride.before
        if ride.after is not None:
            yield since
            yield ride.between
            since = ride.after
        place = way.end
    yield since + float(tank.road_km[place, problem.end_place])


def best_by_enumeration(problem: DayProblem, tank: Tank) -> float | None:
    """Try every order of legs in every way that no stretch of is longer than the tank reaches."""
    values = []
    for count in range(len(problem.legs) + 1):
        for order in permutations(range(len(problem.legs)), count):
            if not keeps_demands(problem, order):
                continue
            for ways in product(*(range(len(problem.legs[leg].ways)) for leg in order)):
                choice = tuple(zip(order, ways, strict=True))
                if max(pumps(problem, tank, choice)) <= tank.usable_km:
                    values.append(best_of_order(_only(problem, choice), order))
    return max((value for value in values if value is not None), default=None)


def _only(problem: DayProblem, choice: Choice) -> DayProblem:
    legs = list(problem.legs)
    for leg, way in choice:
        legs[leg] = replace(legs[leg], ways=(legs[leg].ways[way],))
    return replace(problem, legs=tuple(legs))


def invented_tank(problem: DayProblem, seed: int) -> Tank:
    """Make kilometres up: whole ones, a third of the ways with a pump on them."""
    random = Random(seed)

    def ride() -> Ride:
        if random.random() < 0.65:
            return Ride(before=random.randint(0, 12))
        return Ride(
            before=random.randint(0, 9),
            between=random.choice([0, 0, 9]),
            after=random.randint(0, 9),
        )

    km = np.array(
        [[random.randint(0, 6) for _ in range(problem.places)] for _ in range(problem.places)],
        dtype=np.float64,
    )
    np.fill_diagonal(km, 0.0)
    rides = tuple(tuple(ride() for _ in leg.ways) for leg in problem.legs)
    begun = random.choice([0, 0, random.randint(1, 12)])  # a day under way
    return Tank(usable_km=random.randint(6, 30), rides=rides, road_km=km, begun_km=begun)


def invented_day(seed: int, legs: int, slots: int = 12) -> tuple[DayProblem, Tank]:
    problem = read_problem(invented_problem(seed, legs, slots))
    return problem, invented_tank(problem, seed + 1)


@given(st.integers(0, 2**32 - 1), st.integers(0, 4))
@settings(max_examples=150, deadline=None)
def test_the_best_day_on_its_tank_is_that_of_all_orders_and_pumps(seed: int, legs: int) -> None:
    problem, tank = invented_day(seed, legs, 14)
    found, plan, _ = solved(problem, tank)
    assert found.proven
    best = best_by_enumeration(problem, tank)
    if plan is None:
        assert best is None
        return
    assert plan.value == pytest.approx(best)
    assert plan.value == pytest.approx(plan.bound)
    assert plan.value == pytest.approx(worth_of(problem, plan))  # as told, in the whole problem
    assert first_dry(problem, tank, plan) is None


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=12, deadline=None)
def test_five_legs_on_a_small_tank(seed: int) -> None:
    problem, tank = invented_day(seed, 5)
    _, plan, _ = solved(problem, tank)
    best = best_by_enumeration(problem, tank)
    assert (None if plan is None else pytest.approx(plan.value)) == best


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=60, deadline=None)
def test_split_to_be_safe_no_plan_runs_dry_and_the_best_is_kept(seed: int) -> None:
    problem, tank = invented_day(seed, 4)
    _, plan, levels = solved(problem, tank)
    if plan is not None:
        levels = joined(levels, ridden_levels(problem, tank, plan))
    day = split(problem, tank, levels, safe=True)
    search = DaySearch(day.problem)
    found = search.best().solution
    assert (None if found is None else pytest.approx(found.value)) == (
        None if plan is None else plan.value
    )
    for leg in range(len(problem.legs)):
        one = frozenset({leg})
        for beside in (search.best(forced=one).solution, search.best(without=one).solution):
            if beside is not None:
                assert first_dry(problem, tank, day.whole(beside)) is None


@given(st.integers(0, 2**32 - 1), st.booleans())
@settings(max_examples=60, deadline=None)
def test_a_split_day_can_come_to_every_place_it_has(seed: int, safe: bool) -> None:
    """Walked on the split problem itself, whatever the slots: legs are begun after a road."""
    problem, tank = invented_day(seed, 4)
    day = split(problem, tank, solved(problem, tank)[2], safe=safe).problem
    met = (day.travel_slots != NEVER).any(axis=2)
    ways = [way for leg in day.legs for way in leg.ways]
    left, entered, before = {day.start_place}, set[int](), -1
    while len(left) + len(entered) > before:
        before = len(left) + len(entered)
        entered |= {way.start for way in ways for place in left if met[place, way.start]}
        left |= {way.end for way in ways if way.start in entered}
    assert left | entered | {day.end_place} == set(range(day.places))


def test_places_that_are_one_are_told_apart_alike() -> None:
    """A place told apart by something else: no road between its two, another a kilometre off."""
    km = np.array([[0.0, 0.0, 1.0], [0.0, 0.0, 1.0], [1.0, 1.0, 0.0]])
    tank = Tank(usable_km=10.0, rides=(), road_km=km)
    assert finer(tank, {2: frozenset({3.0})}, [(1, 7.0)]) == {
        0: frozenset({7.0}),
        1: frozenset({7.0}),
        2: frozenset({3.0}),
    }


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=60, deadline=None)
def test_a_larger_tank_never_makes_a_day_worse(seed: int) -> None:
    problem, tank = invented_day(seed, 4)
    _, small, _ = solved(problem, tank)
    _, large, _ = solved(problem, replace(tank, usable_km=tank.usable_km + 7))
    _, any_size, levels = solved(problem, replace(tank, usable_km=10_000.0))
    without = solve(problem).solution
    assert levels == {}
    assert (None if any_size is None else any_size.value) == (
        None if without is None else pytest.approx(without.value)
    )
    if small is not None:
        assert large is not None
        assert large.value >= small.value - 1e-6
