"""Time the day search on invented days of all sizes, beside CP-SAT; a script, not a test.

    python tests/benchmarks/day_search.py [--rough] [--days N] [legs ...]

For each size, at 5-minute slots and over seeded days (`day_problems`): median, 95th percentile and
most of the milliseconds to build and answer once, to the proof, by the wall clock and by the
processor (the machine may have other work); the most memory numpy and Python held (told by
tracemalloc in a run of its own, since it slows what it watches). Once by the vectorised loops and,
where numba is installed, once by the compiled ones, which are made ready before. CP-SAT, where
OR-Tools is installed (`pip install ortools`; no extra brings it), solves the first three days of
each size with two workers and a limit of 20 seconds (`day_cp_sat`); its answer has to be the same
where it proves one.
"""

import statistics
import sys
import time
import tracemalloc
from argparse import ArgumentParser
from importlib.util import find_spec
from unittest import mock

from replanner.planning import fast, warm_up
from replanner.planning.day_search import solve
from replanner.planning.problem import DayProblem
from tests.benchmarks.day_problems import SLOTS, benchmark_day

SIZES = (8, 12, 16, 20, 24)
CP_SAT_DAYS = 3
CP_SAT_LIMIT_S = 20.0


def milliseconds(problem: DayProblem) -> tuple[float, float]:
    """Time one search to its proof, by the wall clock and by the processor."""
    wall, processor = time.perf_counter(), time.process_time()
    result = solve(problem)
    took = 1e3 * (time.perf_counter() - wall), 1e3 * (time.process_time() - processor)
    if not result.proven:
        raise AssertionError("a search without time limit should be proven")
    return took


def most_megabytes(problem: DayProblem) -> float:
    """Most memory held at once."""
    tracemalloc.start()
    solve(problem)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def percentile_95(values: list[float]) -> float:
    """Value that 19 of 20 do not exceed."""
    return sorted(values)[-(-len(values) * 19 // 20) - 1]


def row(problems: list[DayProblem]) -> tuple[str, float]:
    """Figures of some days, and the median by the wall clock."""
    wall, processor = zip(*map(milliseconds, problems), strict=True)
    median = statistics.median(wall)
    memory = max(map(most_megabytes, problems[:3]))
    return (
        f"{median:8.1f} {percentile_95(list(wall)):8.1f} "
        f"{statistics.median(processor):8.1f} {percentile_95(list(processor)):8.1f} {memory:7.0f}",
        median,
    )


def cp_sat_seconds(problems: list[DayProblem]) -> list[tuple[float, bool]]:
    """Seconds CP-SAT takes, and whether it proves its answer."""
    from tests.benchmarks.day_cp_sat import solve_by_cp_sat  # noqa: PLC0415 - OR-Tools may lack

    took = []
    for problem in problems:
        seconds, value, proven = solve_by_cp_sat(problem, CP_SAT_LIMIT_S)
        if proven:
            ours = solve(problem).solution
            if (None if ours is None else ours.value) != value:
                raise AssertionError("CP-SAT proves another answer")
        took.append((seconds, proven))
    return took


def main() -> None:
    """Print the table."""
    parser = ArgumentParser()
    parser.add_argument("legs", nargs="*", type=int)
    parser.add_argument("--rough", action="store_true", help="own orders at random")
    parser.add_argument("--days", type=int, default=20)
    asked = parser.parse_args()
    ways = ["vectorised"]
    if fast.installed():
        warm_up.begin(most_wait_s=300)
        ways.append("compiled")
    sys.stdout.write(f"{asked.days} days each, {SLOTS} slots of 5 min\n")
    sys.stdout.write(
        "legs loops       wall: ms      p95  cpu: ms      p95      MB  CP-SAT s, ratio\n"
    )
    for legs in asked.legs or SIZES:
        problems = [benchmark_day(seed, legs, rough=asked.rough) for seed in range(asked.days)]
        beside = cp_sat_seconds(problems[:CP_SAT_DAYS]) if find_spec("ortools") else []
        for way in ways:
            with (
                mock.patch.object(fast, "available", return_value=way == "compiled"),
                mock.patch.object(warm_up, "begin"),
            ):
                figures, median = row(problems)
            told = ""
            if beside:
                seconds = statistics.median(took for took, _ in beside)
                proven = sum(proof for _, proof in beside)
                told = (
                    f"{seconds:6.1f} ({proven}/{len(beside)} proven) {1e3 * seconds / median:6.0f}x"
                )
            sys.stdout.write(f"{legs:4} {way:10} {figures}  {told}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
