"""The search against OR-Tools CP-SAT (where installed), which shares no code with it.

The model (`tests/benchmarks/day_cp_sat.py`) is solved in a process of its own, since OR-Tools 9.15
crashes now and then.
"""

import os
import signal
from importlib.util import find_spec

import pytest

from replanner.planning.day_search import solve
from replanner.planning.problem import DayProblem
from replanner.planning.problem_file import read_problem
from tests.benchmarks.apart import solve_apart
from tests.benchmarks.day_problems import benchmark_day, invented_day
from tests.benchmarks.peer_answer import Answer, agree
from tests.planning.day_problems import invented_problem

LIMIT_S = 20.0

DAYS = {
    # Every key of the format; one day is without a plan.
    **{f"every key {seed}": read_problem(invented_problem(seed, 4, 14)) for seed in (1, 3, 6, 7)},
    "every key, 6 legs": read_problem(invented_problem(5, 6, 20)),
    "5-minute slots": benchmark_day(200, 7),
    "own order at random": benchmark_day(201, 6, rough=True),
    "15-minute slots": invented_day(202, 7, 15),
}


@pytest.mark.skipif(find_spec("ortools") is None, reason="OR-Tools is not installed")
@pytest.mark.parametrize("problem", DAYS.values(), ids=DAYS.keys())
def test_the_value_is_the_one_that_cp_sat_proves(problem: DayProblem) -> None:
    from tests.benchmarks.day_cp_sat import solve_by_cp_sat  # noqa: PLC0415 - OR-Tools may lack

    peer = solve_apart(solve_by_cp_sat, problem, LIMIT_S).answer
    if peer is None:
        pytest.skip("OR-Tools crashed twice")
    assert peer.proven
    ours = solve(problem)
    assert ours.proven
    agree(None if ours.solution is None else ours.solution.value, peer)


def test_some_of_the_days_have_a_plan_and_some_have_none() -> None:
    found = [solve(problem).solution is not None for problem in DAYS.values()]
    assert {True, False} == set(found)


@pytest.mark.parametrize(
    ("ours", "value", "bound", "proven"),
    [
        (40.0, 39.0, 39.0, True),
        (40.0, 41.0, 41.0, True),
        (40.0, None, 0.0, True),
        (None, 40.0, 40.0, True),
        (None, 40.0, 50.0, False),
        (40.0, 41.0, 50.0, False),
        (40.0, 30.0, 39.0, False),
    ],
)
def test_another_answer_of_the_peer_fails(
    ours: float | None, value: float | None, bound: float, proven: bool
) -> None:
    with pytest.raises(AssertionError, match="the peer"):
        agree(ours, Answer(1.0, 1.0, value, bound, proven))


def test_an_answer_that_is_not_proven_may_be_worse() -> None:
    agree(40.0, Answer(1.0, 1.0, 30.0, 50.0, proven=False))
    agree(40.0, Answer(1.0, 1.0, None, 50.0, proven=False))
    agree(40.0, Answer(1.0, 1.0, 40.0, 40.0, proven=True))
    agree(None, Answer(1.0, 1.0, None, 0.0, proven=True))


def test_a_solver_that_crashes_gives_no_answer() -> None:
    assert solve_apart(_crashes, DAYS["every key 1"], LIMIT_S) == (None, 2)


def _crashes(_problem: DayProblem, _limit_s: float) -> Answer:
    os.kill(os.getpid(), signal.SIGKILL)
    return Answer(0.0, 0.0, None, 0.0, proven=True)


def test_an_error_of_the_model_is_no_crash() -> None:
    with pytest.raises(ValueError, match="no such day"):
        solve_apart(_refuses, DAYS["every key 1"], LIMIT_S)


def _refuses(_problem: DayProblem, _limit_s: float) -> Answer:
    raise ValueError("no such day")
