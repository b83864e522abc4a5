"""The day search against a table over all sets of legs, without bounds; problems are INVENTED."""

from dataclasses import replace

import numpy as np
import pytest

from replanner.planning.day_search import solve
from replanner.planning.problem import DayProblem
from replanner.planning.problem_file import read_problem
from tests.planning.day_problems import (
    best_by_enumeration,
    best_by_subsets,
    invented_problem,
    worth_of,
)
from tests.planning.test_search import by_two_passes

pytestmark = pytest.mark.usefixtures("loops")


def some_day(seed: int, legs: int, slots: int) -> DayProblem:
    return read_problem(invented_problem(seed, legs, slots))


@pytest.mark.parametrize("seed", range(12))
def test_the_judge_agrees_with_enumeration(seed: int) -> None:
    problem = some_day(seed, seed % 6, 12)
    assert best_by_subsets(problem) == best_by_enumeration(problem)


@pytest.mark.parametrize(("legs", "seed"), [(9, s) for s in (0, 2, 3, 7, 8, 11)] + [(10, 10)])
def test_nine_legs_and_more(legs: int, seed: int) -> None:
    problem = some_day(seed, legs, 16)
    best = best_by_subsets(problem)
    for result in (solve(problem), by_two_passes(problem).best()):
        assert result.proven
        assert (None if result.solution is None else result.solution.value) == best
        if result.solution is not None:
            assert worth_of(problem, result.solution) == best


@pytest.mark.parametrize("seed", range(8))
def test_a_hazard_never_raises_the_value_and_no_go_is_never_ridden(seed: int) -> None:
    """Some starts of every leg get dearer, some no-go; told plans start in none of these."""
    problem = some_day(seed, 7, 16)
    random = np.random.default_rng(seed)

    def worse(worth: np.ndarray) -> np.ndarray:
        lower = worth - 10.0 * (random.random(len(worth)) < 0.4)
        return np.where(random.random(len(worth)) < 0.2, -np.inf, lower)

    hit = replace(
        problem,
        legs=tuple(
            replace(leg, ways=tuple(replace(way, worth=worse(way.worth)) for way in leg.ways))
            for leg in problem.legs
        ),
    )
    for search in (solve, lambda day: by_two_passes(day).best(blamed=False)):
        before, after = search(problem).solution, search(hit).solution
        if after is None:
            continue
        assert before is not None
        assert after.value <= before.value
        for visit in after.visits:
            assert hit.legs[visit.leg].ways[visit.way].worth[visit.start_slot] > -np.inf
