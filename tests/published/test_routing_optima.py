"""Published routing problems solved to their best known values.

Sources, all as kept in gleraromero/tdtsptw at 9c3856c (MIT), each value stated there and recomputed
by an exact dynamic programme of ours:

- Ascheuer, N. (1995), stacker crane problems with time windows (`rbg...`): least travel and
  processing together.
- Gendreau, M., Hertz, A., Laporte, G. and Stan, M. (1998), travelling salesmen with wide time
  windows (`n20w...`), distances cut to whole numbers and made to keep the triangle inequality:
  least travel.
- Cordeau, J.-F., Ghiani, G. and Guerriero, E. (2014), speeds that change with the hour: least
  makespan when leaving at 0 (the `objective` kept with them is not the makespan).

What a day problem can't express: times that are no whole slots. For the last kind arrivals are
rounded up, which leaves every tour rideable, and down, which bounds all; the tour found is then
timed to the fraction.

Only those are here that are proven in some seconds: of the larger `rbg` (16 to 20 customers, up to
10,000 slots) most had no proof and many no plan after seconds of the processor.
"""

from pathlib import Path

import numpy as np
import pytest

from replanner.planning import warm_up
from replanner.planning.day_search import SearchResult, solve
from replanner.planning.problem import DayProblem
from tests.published.routing import TimeDependent, ascheuer, gendreau

ROUTING = Path(__file__).parents[1] / "data" / "routing"

RBG = {"rbg010a": 671, "rbg016b": 1304, "rbg017": 893}
N20 = {"n20w120.001": 267}
MAKESPANS = {"15_70_A_A1": 588.203067, "15_80_B_A1": 606.824513}
SLOTS_THAT_FIND_IT = {"15_70_A_A1": 2.0, "15_80_B_A1": 5.0}
"""Slots so long that the best tour is the best in whole slots as well, found by trying."""

COARSE = 5.0


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


@pytest.mark.parametrize("name", RBG)
def test_crane_paths_with_time_windows(name: str) -> None:
    problem, processing = ascheuer(ROUTING / "ascheuer" / f"{name}.tw")
    assert proven(problem)[1] + processing == RBG[name]


@pytest.mark.parametrize("name", N20)
def test_time_window_tours(name: str) -> None:
    assert proven(gendreau(ROUTING / "gendreau_n20" / f"{name}.txt"))[1] == N20[name]


@pytest.mark.parametrize("name", MAKESPANS)
def test_tours_whose_speeds_change_with_the_hour(name: str) -> None:
    tour = TimeDependent(ROUTING / "cordeau15" / f"{name}.json")
    published, slot = MAKESPANS[name], SLOTS_THAT_FIND_IT[name]
    last = 1.06 * published
    found, up = proven(tour.day(slot, last, up=True))
    _, down = proven(tour.day(COARSE, last, up=False))
    assert down * COARSE <= published <= up * slot
    assert found.solution is not None
    order = tuple(leg + 1 for leg in found.solution.legs)
    assert tour.makespan(order) == pytest.approx(published, abs=1e-5)
