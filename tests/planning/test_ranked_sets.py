"""The best sets of legs by two passes, beside those of the full table; days are INVENTED."""

import numpy as np
import pytest

from replanner.planning.day_arrays import IMPOSSIBLE, day_arrays
from replanner.planning.day_search import DaySearch
from replanner.planning.sweep import sweep
from tests.benchmarks.day_problems import benchmark_day
from tests.planning.test_search import by_two_passes

NEAR = 12


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("forced", [frozenset[int](), frozenset({1, 6}), frozenset({0, 4, 5, 8})])
def test_the_best_sets_are_those_of_the_table(seed: int, forced: frozenset[int]) -> None:
    """With the last four there are five musts, which imply an order."""
    problem = benchmark_day(seed, 11)
    arrays = day_arrays(problem)
    table = sweep(arrays, lambda: False)
    assert table is not None
    musts = arrays.musts | sum(1 << leg for leg in forced)
    whole = table.whole(arrays.start_worth)
    kept = (table.masks & musts == musts) & (whole > IMPOSSIBLE)
    order = np.lexsort((table.masks[kept], np.bitwise_count(table.masks[kept]), -whole[kept]))
    sets = [(int(table.masks[kept][i]), whole[kept][i]) for i in order[:NEAR]]

    plans = by_two_passes(problem).ranked(NEAR, forced=forced)

    assert [sum(1 << leg for leg in plan.legs) for plan in plans] == [mask for mask, _ in sets]
    assert [plan.value for plan in plans] == [arrays.units.minutes(worth) for _, worth in sets]
    for plan in plans:
        timed = by_two_passes(problem).value_of_order(plan.legs)
        assert timed is not None
        assert timed.value == plan.value


def test_the_best_days_of_24_legs_are_ranked_in_time_for_a_rider() -> None:
    """A search for each set took minutes; a second is usual now, and 20 the most it may take."""
    search = DaySearch(benchmark_day(0, 24), time_limit_s=20)
    best = search.best().solution
    assert best is not None
    left = next(leg for leg in range(24) if leg not in best.legs)
    plans = search.ranked(20, forced=frozenset({left}))
    values = [plan.value for plan in plans]
    assert len({frozenset(plan.legs) for plan in plans}) == len(plans) == 20
    assert values == sorted(values, reverse=True)
    assert values[0] == search.best(forced=frozenset({left})).bound
    assert all(left in plan.legs for plan in plans)
