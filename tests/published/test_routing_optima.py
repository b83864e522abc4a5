"""Published routing problems solved to their best known values (`routing_values`, with sources).

What a day problem can't express: times that are no whole slots. Where speeds change with the hour
arrivals are rounded up, which leaves every tour rideable, and down, which bounds all; the tour
found is then timed to the fraction. So its makespan is the published one, and the proof is that of
the rounded days: no tour is shorter than the lower of the two.

All instances of `tests/data/routing` are here; eleven of the larger `rbg` take some seconds each
without compiled loops and are left out there. `tests/benchmarks/routing_optima.py` times them.
"""

import numpy as np
import pytest

from replanner.planning import fast, warm_up
from replanner.planning.day_search import SearchResult, solve
from replanner.planning.problem import DayProblem
from tests.published.routing import ROUTING, SLOTS_THAT_FIND_IT, TimeDependent, ascheuer, gendreau
from tests.published.routing_values import MAKESPANS, N20, RBG, RBG_FROM_MEMORY

CRANES = {**RBG, **RBG_FROM_MEMORY}
SLOW_CRANES = ("rbg019b", "rbg027a", *(name for name in CRANES if name.startswith("rbg021")))


def crane(name: str) -> object:
    """Name of a crane path, left out where it takes too long without compiled loops."""
    slow = name in SLOW_CRANES and not fast.installed()
    mark = pytest.mark.skipif(slow, reason="takes long without compiled loops")
    return pytest.param(name, marks=mark)


@pytest.fixture(scope="module", autouse=True)
def _ready() -> None:
    """Wait for the compiled loops where they can be had: vectorised it takes five times as long."""
    warm_up.begin(most_wait_s=300)


def proven(problem: DayProblem) -> tuple[SearchResult, float]:
    """The result and what its plan costs."""
    result = solve(problem)
    assert result.proven
    assert result.solution is not None
    assert len(result.solution.legs) == len(problem.legs)
    for visit in result.solution.visits:
        assert np.isfinite(problem.legs[visit.leg].ways[0].worth[visit.start_slot])
    return result, -result.solution.value


@pytest.mark.parametrize("name", [crane(name) for name in CRANES])
def test_crane_paths_with_time_windows(name: str) -> None:
    problem, processing = ascheuer(ROUTING / "ascheuer" / f"{name}.tw")
    assert proven(problem)[1] + processing == CRANES[name]


@pytest.mark.parametrize("name", N20)
def test_time_window_tours(name: str) -> None:
    assert proven(gendreau(ROUTING / "gendreau_n20" / f"{name}.txt"))[1] == N20[name]


@pytest.mark.parametrize("name", MAKESPANS)
def test_tours_whose_speeds_change_with_the_hour(name: str) -> None:
    tour = TimeDependent(ROUTING / "cordeau15" / f"{name}.json")
    published, slot = MAKESPANS[name], SLOTS_THAT_FIND_IT.get(name, 2.0)
    last = 1.06 * published
    found, up = proven(tour.day(slot, last, up=True))
    _, down = proven(tour.day(slot, last, up=False))
    assert down * slot <= published <= up * slot
    assert found.solution is not None
    order = tuple(leg + 1 for leg in found.solution.legs)
    assert tour.makespan(order) == pytest.approx(published, abs=1e-5)
