"""The vectorised and the compiled loops give the same numbers to the last bit.

All problems are INVENTED. Whole answers are compared, and every table on the way.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from random import Random

import numpy as np
import pytest

from replanner.planning import (
    fast,
    forward_loops,
    order_loops,
    relaxed_loops,
    sweep_loops,
    warm_up,
)
from replanner.planning.day_arrays import day_arrays
from replanner.planning.day_search import DaySearch, solve
from replanner.planning.multipliers import relaxed_day
from replanner.planning.near_memory import nearest_legs
from replanner.planning.order_timing import time_order
from replanner.planning.problem_file import read_problem
from replanner.planning.relaxed_bound import RelaxedDay
from replanner.planning.sweep import sweep
from tests.benchmarks.day_problems import invented_day
from tests.planning.day_problems import invented_problem
from tests.planning.test_search import by_two_passes

pytestmark = pytest.mark.skipif(not fast.installed(), reason="numba is not installed")


@pytest.fixture(scope="module", autouse=True)
def _ready() -> None:
    warm_up.begin(most_wait_s=300)


@contextmanager
def loops(*, compiled: bool) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(fast, "available", lambda: compiled)
        yield


def test_answers_are_the_same_on_hundreds_of_days() -> None:
    plans = 0
    for seed in range(250):
        problem = read_problem(invented_problem(seed, seed % 7, 14))
        answers = []
        for compiled in (False, True):
            with loops(compiled=compiled):
                table, passes = DaySearch(problem), by_two_passes(problem)
                answers.append(
                    (table.best().solution, passes.best(blamed=False).solution, table.ranked(5))
                )
        assert answers[0] == answers[1]
        plans += answers[0][0] is not None
    assert plans > 100


@pytest.mark.parametrize("legs", [8, 10, 14])
def test_answers_are_the_same_on_larger_days(legs: int) -> None:
    problem = invented_day(legs, legs, 15)
    answers = []
    for compiled in (False, True):
        with loops(compiled=compiled):
            answers.append((solve(problem).solution, by_two_passes(problem).best().solution))
    assert answers[0] == answers[1]


def test_tables_are_the_same() -> None:
    random = np.random.default_rng(5)
    compared = 0
    for seed in range(100):
        arrays = day_arrays(read_problem(invented_problem(seed, seed % 7, 16)))
        if not arrays.possible:
            continue
        day = RelaxedDay(arrays)
        bits = int(random.integers(0, 5))
        prices = np.maximum(day.lowest, random.integers(0, 10, len(day.scarce)) * 1e6)
        tables = []
        for compiled in (False, True):
            with loops(compiled=compiled):
                memory = day.remembering(nearest_legs(day, bits))
                bound = day.bound(memory, prices)
                exact = sweep(arrays, lambda: False)
                assert exact is not None
                tables.append(
                    [
                        bound.to_go,
                        bound.at_entry,
                        *relaxed_day(day, memory, prices),
                        exact.masks,
                        exact.whole(arrays.start_worth),
                        *(layer.rows for layer in exact.layers),
                        *(layer.values for layer in exact.layers),
                    ]
                )
        for one, other in zip(*tables, strict=True):
            assert np.array_equal(one, other)
            compared += 1
    assert compared > 300


def test_orders_are_timed_the_same() -> None:
    """Random orders, some that can't be ridden: the value, every way and every slot."""
    random = Random(3)
    timed = 0
    for seed in range(200):
        arrays = day_arrays(read_problem(invented_problem(seed, seed % 7, 16)))
        order = random.sample(range(arrays.legs), random.randint(0, min(arrays.legs, 4)))
        told = []
        for compiled in (False, True):
            with loops(compiled=compiled):
                told.append(time_order(arrays, order))
        assert told[0] == told[1]
        timed += told[0] is not None and len(order) > 1
    assert timed > 20


def test_no_search_waits_for_a_compiler_once_the_loops_are_ready() -> None:
    """An array laid out otherwise than in the day made ready with would be compiled for anew."""
    modules = forward_loops, order_loops, relaxed_loops, sweep_loops
    kernels = [x for module in modules for x in vars(module).values() if isinstance(x, fast.Kernel)]

    def compiled() -> list[int]:
        return [len(getattr(kernel.compiled, "signatures", ())) for kernel in kernels]

    before = compiled()
    assert sum(before) > 5
    with loops(compiled=True):
        for seed in range(40):
            problem = read_problem(invented_problem(seed, seed % 7, 14))
            for search in (DaySearch(problem), by_two_passes(problem)):
                search.best()
                search.ranked(3)
        solve(invented_day(1, 14, 5))
    assert compiled() == before
