"""A search stopped at any moment tells a plan worth what it says, and a bound that holds.

Every problem is INVENTED.
"""

from collections.abc import Callable
from itertools import count

import pytest

from replanner.planning import two_pass
from replanner.planning.day_arrays import IMPOSSIBLE, day_arrays
from replanner.planning.day_search import solve
from replanner.planning.order_timing import time_order
from replanner.planning.two_pass import two_passes
from tests.benchmarks.day_problems import benchmark_day

pytestmark = pytest.mark.usefixtures("loops")


def stopped_after(asked: int) -> Callable[[], bool]:
    times = count()
    return lambda: next(times) >= asked


@pytest.mark.parametrize("room", [0, two_pass.MOST_KEPT_BYTES], ids=["no room", "room"])
@pytest.mark.parametrize("seed", range(2))
def test_stopped_anywhere(seed: int, room: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without room for its layers too, where the way to the best plan is searched again."""
    monkeypatch.setattr(two_pass, "MOST_KEPT_BYTES", room)
    problem = benchmark_day(seed, 10)
    arrays = day_arrays(problem)
    best = solve(problem).solution
    assert best is not None
    ended_early = 0
    for asked in (*range(0, 40, 3), 60):
        found = two_passes(arrays, stopped_after(asked))
        assert arrays.units.minutes(found.bound) >= best.value
        ended_early += found.bound > found.value
        if found.value == IMPOSSIBLE:
            continue
        timed = time_order(arrays, found.order)
        assert timed is not None
        assert timed.value == found.value <= found.bound
        assert arrays.units.minutes(found.value) <= best.value
    assert ended_early
