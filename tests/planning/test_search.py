"""The day search against enumeration that shares no code with it; every problem is INVENTED."""

from dataclasses import replace
from itertools import combinations
from random import Random
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from replanner.planning import day_solver, days_begun
from replanner.planning.blame import NO_WAY
from replanner.planning.day_arrays import day_arrays
from replanner.planning.day_search import DaySearch, SearchResult, solve
from replanner.planning.near_memory import nearest_legs
from replanner.planning.problem import DayProblem
from replanner.planning.problem_file import read_problem
from replanner.planning.relaxed_bound import RelaxedDay
from tests.benchmarks.day_problems import invented_day
from tests.planning.day_problems import (
    any_problem,
    best_by_enumeration,
    best_of_order,
    every_demand,
    every_plan,
    invented_problem,
    with_demands,
    worth_of,
)

pytestmark = pytest.mark.usefixtures("loops")

SMALL = settings(max_examples=60, deadline=None)
FEW = settings(max_examples=12, deadline=None)


def by_two_passes(problem: DayProblem) -> DaySearch:
    """A search that has no room for its table."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(day_solver, "MOST_TABLE_BYTES", 0)
        return DaySearch(problem)


def value(result: SearchResult) -> float | None:
    return None if result.solution is None else result.solution.value


def assert_sound(problem: DayProblem, result: SearchResult, best: float | None) -> None:
    """The value is the best, proven, and the plan told is really worth it."""
    assert value(result) == best
    assert result.proven
    if result.solution is not None:
        assert result.bound == best
        assert worth_of(problem, result.solution) == best
        assert result.blame == ()
    else:
        assert result.bound == -np.inf
        assert result.blame


@SMALL
@given(any_problem())
def test_table_finds_what_enumeration_finds(file: dict[str, Any]) -> None:
    problem = read_problem(file)
    assert_sound(problem, solve(problem), best_by_enumeration(problem))


@SMALL
@given(any_problem())
def test_two_passes_find_what_enumeration_finds(file: dict[str, Any]) -> None:
    problem = read_problem(file)
    assert_sound(problem, by_two_passes(problem).best(), best_by_enumeration(problem))


@FEW
@given(any_problem(most_legs=6, slots=12))
def test_both_find_what_enumeration_finds_with_six_legs(file: dict[str, Any]) -> None:
    problem = read_problem(file)
    best = best_by_enumeration(problem)
    assert_sound(problem, solve(problem), best)
    assert_sound(problem, by_two_passes(problem).best(), best)


@SMALL
@given(any_problem(), st.data())
def test_forbidding_and_forcing_are_as_solved_anew(
    file: dict[str, Any], data: st.DataObject
) -> None:
    problem = read_problem(file)
    legs = range(len(problem.legs))
    split = [data.draw(st.sampled_from(["free", "free", "without", "forced"])) for _ in legs]
    without = frozenset(j for j in legs if split[j] == "without")
    forced = frozenset(j for j in legs if split[j] == "forced")
    allowed = [
        worth
        for order, worth in every_plan(problem)
        if forced <= set(order) and not without & set(order)
    ]
    best = max(allowed, default=None)
    assert value(DaySearch(problem).best(without=without, forced=forced)) == best
    assert value(by_two_passes(problem).best(without=without, forced=forced)) == best


@SMALL
@given(any_problem(), st.data())
def test_leaving_in_one_slot_is_as_solved_anew(file: dict[str, Any], data: st.DataObject) -> None:
    """Enumeration is given a day that can be left in no other slot."""
    problem = read_problem(file)
    slot = data.draw(st.integers(problem.earliest, max(problem.earliest, problem.latest)))
    fixed = replace(problem, earliest=slot, latest=min(slot, problem.latest))
    best = best_by_enumeration(fixed)
    for search in (DaySearch(problem), by_two_passes(problem)):
        assert_sound(fixed, search.best(leave=slot), best)


@SMALL
@given(any_problem(), st.data())
def test_a_day_begun_with_a_leg_is_worth_what_enumeration_finds(
    file: dict[str, Any], data: st.DataObject
) -> None:
    """Enumeration is given a day in which the leg has these starts only, and tells its order."""
    problem = read_problem(file)
    slots = st.integers(problem.earliest, max(problem.earliest, problem.latest))
    for leg, one in enumerate(problem.legs):
        leave = data.draw(slots)
        starts = [data.draw(st.none() | st.integers(0, problem.slots - 1)) for _ in one.ways]
        ways = tuple(
            way.without(np.arange(problem.slots) != start)
            for way, start in zip(one.ways, starts, strict=True)
        )
        legs = (*problem.legs[:leg], replace(one, ways=ways), *problem.legs[leg + 1 :])
        fixed = replace(problem, legs=legs, earliest=leave, latest=min(leave, problem.latest))
        begun = [worth for order, worth in every_plan(fixed) if order[:1] == (leg,)]
        for search in (DaySearch(problem), by_two_passes(problem)):
            assert search.value_begun(leg, starts, leave) == max(begun, default=None)


@SMALL
@given(any_problem(), st.data())
def test_a_leg_kept_away_from_some_starts_is_as_enumeration_finds(
    file: dict[str, Any], data: st.DataObject
) -> None:
    """Enumeration is given a day in which the leg does not start then."""
    problem = read_problem(file)
    slots = st.lists(st.booleans(), min_size=problem.slots, max_size=problem.slots)
    for leg, one in enumerate(problem.legs):
        away = np.array(data.draw(slots))
        ways = tuple(way.without(away) for way in one.ways)
        legs = (*problem.legs[:leg], replace(one, ways=ways), *problem.legs[leg + 1 :])
        fixed = replace(problem, legs=legs)
        with_it = [worth for order, worth in every_plan(fixed) if leg in order]
        for search in (DaySearch(problem), by_two_passes(problem)):
            kept = search.kept_away(leg, away)
            assert_sound(fixed, kept.best(), best_by_enumeration(fixed))
            assert value(kept.best_with(frozenset({leg}))) == max(with_it, default=None)


@SMALL
@given(any_problem())
def test_ranked_plans_are_all_plans_in_falling_order(file: dict[str, Any]) -> None:
    problem = read_problem(file)
    plans = dict(every_plan(problem))
    ranked = DaySearch(problem).ranked(1000)
    assert {plan.legs: plan.value for plan in ranked} == plans
    assert [plan.value for plan in ranked] == sorted(plans.values(), reverse=True)
    assert len(ranked) == len(plans)


@pytest.mark.parametrize("seed", range(25))
def test_ranking_keeps_precedence_and_ends_first_among_many_ties(seed: int) -> None:
    """Few different worths, many pairs in `before`: most plans tie with some other."""
    random = Random(seed)
    file = invented_problem(seed, 4, 14)
    order = random.sample(range(4), 4)
    file["before"] = [[a, b] for a, b in combinations(order, 2) if random.random() < 0.4]
    for leg in file["legs"]:
        leg["must"] = False
        for way in leg["ways"]:
            way["worth"] = [None if x is None else random.choice([10, 20]) for x in way["worth"]]
    problem = read_problem(file | {"exactly_one": []})
    plans = dict(every_plan(problem))
    search = DaySearch(problem)
    ranked = search.ranked(1000)
    assert {plan.legs: plan.value for plan in ranked} == plans
    assert [plan.value for plan in ranked] == sorted(plans.values(), reverse=True)
    for best in (search.best().solution, by_two_passes(problem).best().solution):
        assert (best is None) == (not plans)
        if best is not None:
            equal = [plan.finish_slot for plan in ranked if plan.value == best.value]
            assert best.value == max(plans.values())
            assert best.finish_slot == min(equal)


@SMALL
@given(any_problem(most_legs=5), st.data())
def test_the_bound_is_never_below_the_best_plan(file: dict[str, Any], data: st.DataObject) -> None:
    """Whatever the places remember: a must forgotten on the way may not be asked for again."""
    for leg in file["legs"]:
        leg["must"] = data.draw(st.booleans())
    problem = read_problem(file)
    best = best_by_enumeration(problem)
    assume(best is not None)
    assert best is not None
    day = RelaxedDay(day_arrays(problem))
    price = st.integers(0, 40_000_000)
    multipliers = np.array([float(data.draw(price)) for _ in day.scarce])
    counted = multipliers * day.arrays.units.per_micro
    for bits in range(len(problem.legs) + 1):
        bound = day.bound(day.remembering(nearest_legs(day, bits)), counted)
        assert day.arrays.units.minutes(bound.of_day) >= best


def test_twenty_four_legs_at_two_memories_with_a_must_and_a_precedence() -> None:
    """A bound that forgot and asked again for the must once proved a plan of 963 to be best."""
    problem = replace(invented_day(0, 24, 5), order_cost=0.0)
    plan = DaySearch(problem).best().solution
    assert plan is not None
    assert worth_of(problem, plan) == plan.value == 1007


@FEW
@given(any_problem())
def test_the_ranking_is_the_same_without_room_for_days_begun(file: dict[str, Any]) -> None:
    """Orders of up to four legs: more days are begun than the fewest that are kept."""
    problem = read_problem(file)
    ranked = DaySearch(problem).ranked(60)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(days_begun, "MOST_KEPT_BYTES", 0)
        assert DaySearch(problem).ranked(60) == ranked


@FEW
@given(any_problem())
def test_two_passes_rank_the_best_plan_of_every_set(file: dict[str, Any]) -> None:
    problem = read_problem(file)
    best: dict[frozenset[int], float] = {}
    for order, worth in every_plan(problem):
        best[frozenset(order)] = max(best.get(frozenset(order), -np.inf), worth)
    ranked = by_two_passes(problem).ranked(1000)
    assert {frozenset(plan.legs): plan.value for plan in ranked} == best
    assert [plan.value for plan in ranked] == sorted(best.values(), reverse=True)


@SMALL
@given(any_problem(), st.randoms(use_true_random=False))
def test_an_order_is_timed_as_well_as_enumeration_does(file: dict[str, Any], random: Any) -> None:
    problem = read_problem(file)
    assume(problem.legs)
    order = tuple(random.sample(range(len(problem.legs)), random.randint(0, len(problem.legs))))
    timed = DaySearch(problem).value_of_order(order)
    free = replace(
        problem,
        legs=tuple(replace(leg, must=False) for leg in problem.legs),
        exactly_one=(),
        at_most_one=problem.at_most_one + problem.exactly_one,
    )
    plans = dict(every_plan(free))
    if timed is None:
        assert order not in plans
    else:
        assert timed.value == plans[order] == best_of_order(problem, order)
        assert worth_of(free, timed) == timed.value


@SMALL
@given(any_problem(), st.randoms(use_true_random=False))
def test_renumbering_the_legs_changes_nothing(file: dict[str, Any], random: Any) -> None:
    problem = read_problem(file)
    new = list(range(len(problem.legs)))
    random.shuffle(new)  # leg j becomes leg new[j]

    def of(legs: tuple[int, ...]) -> tuple[int, ...]:
        return tuple(new[j] for j in legs)

    renumbered = replace(
        problem,
        legs=tuple(problem.legs[new.index(j)] for j in range(len(new))),
        at_most_one=tuple(map(of, problem.at_most_one)),
        exactly_one=tuple(map(of, problem.exactly_one)),
        before=tuple((new[a], new[b]) for a, b in problem.before),
        own_order=of(problem.own_order),
    )
    assert value(solve(renumbered)) == value(solve(problem))


@SMALL
@given(any_problem())
def test_allowing_more_never_lowers_the_best(file: dict[str, Any]) -> None:
    problem = read_problem(file)
    best = value(solve(problem))
    assume(best is not None)
    assert best is not None
    for wider in (
        replace(problem, by=problem.slots - 1),
        replace(problem, latest=problem.slots - 1),
        replace(problem, earliest=0),
        replace(problem, no_wait=frozenset()),
        replace(problem, before=()),
        replace(problem, at_most_one=()),
        replace(problem, legs=tuple(replace(leg, must=False) for leg in problem.legs)),
    ):
        found = value(solve(wider))
        assert found is not None
        assert found >= best


@SMALL
@given(any_problem())
def test_the_same_problem_gives_the_same_plan(file: dict[str, Any]) -> None:
    problem = read_problem(file)
    assert solve(problem).solution == solve(read_problem(file)).solution
    two = by_two_passes(problem).best().solution
    assert two == by_two_passes(problem).best().solution


def test_what_is_to_blame_has_no_plan_and_nothing_to_spare() -> None:
    """Keep only the demands blamed: still no plan. Let go of any one of them: a plan."""
    blamed_days = 0
    for seed in range(150):
        problem = read_problem(invented_problem(seed, seed % 5, 14))
        blamed = solve(problem).blame
        if not blamed or blamed == (NO_WAY,):
            continue
        blamed_days += 1
        assert best_by_enumeration(with_demands(problem, blamed)) is None
        for one in blamed:
            fewer = tuple(other for other in blamed if other != one)
            assert best_by_enumeration(with_demands(problem, fewer)) is not None
    assert blamed_days > 10


def test_what_is_to_blame_is_the_fewest_demands_of_all() -> None:
    """Of any fewer demands of the day there is a plan that keeps them: the answer is short.

    Letting go of one demand after another is not enough for it: some of these were told too many.
    """
    fewer_were_tried = 0
    for seed in range(1000, 1040):
        file = invented_problem(seed, 2 + seed % 3, 12)
        for leg in file["legs"]:
            leg["must"] = leg["must"] or seed % 2 == 1
        problem = read_problem(file)
        result = solve(problem)
        blamed = result.blame
        if not blamed or blamed == (NO_WAY,):
            continue
        assert result.blame_fewest
        assert best_by_enumeration(with_demands(problem, blamed)) is None
        for size in range(len(blamed)):
            for fewer in combinations(every_demand(problem), size):
                fewer_were_tried += 1
                assert best_by_enumeration(with_demands(problem, fewer)) is not None
    assert fewer_were_tried > 100
