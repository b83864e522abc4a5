"""Time the published routing problems; a script, not a test.

    python -m tests.benchmarks.routing_optima [--seconds S] [name ...]

For each instance of `tests/data/routing`: the best known value, value and bound found within the
time limit, whether it is proven, and the seconds of the processor. Of tours whose speeds change
with the hour the makespan of the tour found, and the bound of the day rounded down; what is proven
there is the rounded day.
"""

import sys
import time
from argparse import ArgumentParser
from math import inf

from replanner.planning import warm_up
from replanner.planning.day_search import SearchResult, solve
from replanner.planning.problem import DayProblem
from tests.published.routing import (
    ROUTING,
    SLOTS_THAT_FIND_IT,
    TimeDependent,
    ascheuer,
    gendreau,
)
from tests.published.routing_values import MAKESPANS, N20, RBG, RBG_FROM_MEMORY

LIMIT_S = 30.0


def timed(problem: DayProblem, limit_s: float) -> tuple[SearchResult, float]:
    """Solve a day; the result and the seconds of the processor."""
    begun = time.process_time()
    result = solve(problem, time_limit_s=limit_s)
    return result, time.process_time() - begun


def windows(name: str, limit_s: float) -> tuple[float, float, bool, float]:
    """Solve one with time windows: value, bound, whether it is proven, and seconds."""
    if name in N20:
        problem, more = gendreau(ROUTING / "gendreau_n20" / f"{name}.txt"), 0
    else:
        problem, more = ascheuer(ROUTING / "ascheuer" / f"{name}.tw")
    result, took = timed(problem, limit_s)
    value = inf if result.solution is None else more - result.solution.value
    return value, more - result.bound, result.proven, took


def makespan(name: str, limit_s: float) -> tuple[float, float, bool, float]:
    """Solve a tour whose speeds change with the hour, likewise."""
    tour = TimeDependent(ROUTING / "cordeau15" / f"{name}.json")
    slot, last = SLOTS_THAT_FIND_IT.get(name, 2.0), 1.06 * MAKESPANS[name]
    up, took = timed(tour.day(slot, last, up=True), limit_s)
    down, took_more = timed(tour.day(slot, last, up=False), limit_s)
    order = () if up.solution is None else tuple(leg + 1 for leg in up.solution.legs)
    value = tour.makespan(order) if order else inf
    return value, -slot * down.bound, up.proven and down.proven, took + took_more


def main() -> None:
    """Print the table."""
    parser = ArgumentParser()
    parser.add_argument("names", nargs="*")
    parser.add_argument("--seconds", type=float, default=LIMIT_S)
    asked = parser.parse_args()
    warm_up.begin(most_wait_s=300)
    best = {**RBG, **RBG_FROM_MEMORY, **N20, **MAKESPANS}
    sys.stdout.write("instance     best known      found      bound  proven  cpu s\n")
    for name in asked.names or best:
        solved = makespan if name in MAKESPANS else windows
        value, bound, proven, took = solved(name, asked.seconds)
        told = "yes" if proven else "no"
        sys.stdout.write(
            f"{name:12} {best[name]:10.3f} {value:10.3f} {bound:10.3f}  {told:6} {took:6.1f}\n"
        )
        sys.stdout.flush()


if __name__ == "__main__":
    main()
