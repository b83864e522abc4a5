"""Time the tour search on invented tours, beside CP-SAT; a script, not a test.

    python -m tests.benchmarks.tour_search [--tours N] [--cp-sat SECONDS] [DAYSxLEGSxSHARED ...]

For each size, at 5-minute slots and over seeded tours (`tour_problems`): median, 95th percentile
and most of the processor's milliseconds from the problems to the proof; the part of it that went
into the rider's own days, every leg at home; how many parts of the tour were looked at and days
searched, medians. LEGS are those of each day, the shared ones it may ride among them. Once by the
vectorised loops and, where numba is installed, once by the compiled ones, which are made ready
before. With `--cp-sat` OR-Tools (`pip install ortools`; no extra brings it) solves the first two
tours of each size with two workers and that limit, each in a process of its own (`apart`), timed by
the processor too. What it finds and proves has to agree with the search, or the script fails.
"""

import statistics
import sys
import time
from argparse import ArgumentParser
from unittest import mock

from replanner.planning import fast, warm_up
from replanner.planning.dealing import Dealing, Dealt
from replanner.planning.dealing_problem import TourProblem
from tests.benchmarks.apart import solve_apart
from tests.benchmarks.day_search import percentile_95
from tests.benchmarks.peer_answer import agree
from tests.benchmarks.tour_problems import benchmark_tour

SIZES = ("3x8x4", "5x8x8", "5x12x8", "5x16x8", "5x20x8", "3x12x12")
CP_SAT_TOURS = 2


def timed(tour: TourProblem) -> tuple[float, float, Dealt]:
    """Time the dealing that leaves every leg where the rider has it, then the best one. [ms]."""
    home = [
        next(n for n, day in enumerate(tour.days) if day.rides[leg] and day.extra[leg] == 0)
        for leg in range(len(tour.days[0].rides))
    ]
    begun = time.process_time()
    dealing = Dealing(tour)
    own = dealing.best(only=home)
    between = time.process_time()
    best = dealing.best(standing=own)
    if not best.proven:
        raise AssertionError("a search without time limit should be proven")
    return 1e3 * (between - begun), 1e3 * (time.process_time() - begun), best


def cp_sat_told(tours: list[TourProblem], limit_s: float, median_ms: float) -> str:
    """Tell how long CP-SAT takes for the first tours, and how many it proves."""
    from tests.benchmarks.tour_cp_sat import (  # noqa: PLC0415 - OR-Tools may lack
        solve_tour_by_cp_sat,
    )

    took, proofs = [], 0
    for tour in tours[:CP_SAT_TOURS]:
        answer = solve_apart(solve_tour_by_cp_sat, tour, limit_s).answer
        if answer is None:
            continue
        ours = Dealing(tour).best()
        agree(None if ours.no_plan else ours.value, answer)
        took.append(answer.processor_s)
        proofs += answer.proven
    if not took:
        return "crashed"
    seconds = statistics.median(took)
    least = "" if proofs == len(took) else "at least "
    ratio = 1e3 * seconds / median_ms
    return f"{seconds:7.1f} s ({proofs}/{len(took)} proven) {least}{ratio:.0f}x"


def main() -> None:
    """Print the table."""
    parser = ArgumentParser()
    parser.add_argument("sizes", nargs="*", default=SIZES)
    parser.add_argument("--tours", type=int, default=10)
    parser.add_argument("--cp-sat", type=float, default=0.0)
    asked = parser.parse_args()
    ways = ["vectorised"]
    if fast.installed():
        warm_up.begin(most_wait_s=300)
        ways.append("compiled")
    sys.stdout.write(f"{asked.tours} tours each; milliseconds of the processor\n")
    sys.stdout.write(
        "days legs shared loops      own days   median      p95     most  nodes  searches  CP-SAT\n"
    )
    for size in asked.sizes:
        days, legs, shared = map(int, size.split("x"))
        tours = [benchmark_tour(seed, days, legs, shared) for seed in range(asked.tours)]
        for way in ways:
            with (
                mock.patch.object(fast, "available", return_value=way == "compiled"),
                mock.patch.object(warm_up, "begin"),
            ):
                own, took, found = zip(*map(timed, tours), strict=True)
                median = statistics.median(took)
                beside = cp_sat_told(tours, asked.cp_sat, median) if asked.cp_sat else ""
            nodes = statistics.median(one.nodes for one in found)
            searches = statistics.median(one.searches for one in found)
            sys.stdout.write(
                f"{days:4} {legs:4} {shared:6} {way:10} {statistics.median(own):8.0f} "
                f"{median:8.0f} {percentile_95(list(took)):8.0f} {max(took):8.0f} "
                f"{nodes:6.0f} {searches:9.0f}  {beside}\n"
            )
            sys.stdout.flush()


if __name__ == "__main__":
    main()
