"""Time the day search on invented days of all sizes, beside CP-SAT; a script, not a test.

    python -m tests.benchmarks.day_search [--rough] [--days N] [--first SEED]
                                          [--peer-days N] [--limit SECONDS] [legs ...]

For each size, at 5-minute slots and over seeded days (`day_problems`): median, 95th percentile and
most of the milliseconds to build and answer once, to the proof, by the wall clock and by the
processor (the machine may have other work); the most memory numpy and Python held (told by
tracemalloc in a run of its own, since it slows what it watches). Once by the vectorised loops and,
where numba is installed, once by the compiled ones, which are made ready before. CP-SAT, where
OR-Tools is installed (`pip install ortools`; no extra brings it), solves the first days of each
size (`--peer-days`, `--limit`) with two workers, each in a process of its own (`apart`), timed from
the finished model on. What it finds and proves has to agree with the search, or the script fails.
Told are the median of its wall seconds, how many days it proved, the median over the days of its
wall time by the search's on the same day (the middle of three), and the same of the processor's
time, of which two workers take up to twice as much. A day not proven counts as what it took: then
the ratio is told as "at least". A day on which it crashed twice is left out, and told. What the
machine is worth just then is told last in each row: the time of a fixed piece of numpy work.
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
from tests.benchmarks.apart import Told, solve_apart
from tests.benchmarks.day_problems import SLOTS, benchmark_day
from tests.benchmarks.fixed_work import turn_seconds
from tests.benchmarks.peer_answer import Answer, agree

SIZES = (8, 12, 16, 20, 24)
PEER_DAYS = 3
PEER_LIMIT_S = 20.0


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


def row(problems: list[DayProblem]) -> str:
    """Figures of some days."""
    wall, processor = zip(*map(milliseconds, problems), strict=True)
    memory = max(map(most_megabytes, problems[:3]))
    return (
        f"{statistics.median(wall):8.1f} {percentile_95(list(wall)):8.1f} "
        f"{statistics.median(processor):8.1f} {percentile_95(list(processor)):8.1f} {memory:7.0f}"
    )


def peer_answers(problems: list[DayProblem], limit_s: float) -> list[Told[Answer]]:
    """Let CP-SAT solve the days, if any; its answers have to agree with the search's."""
    if not problems:
        return []
    from tests.benchmarks.day_cp_sat import solve_by_cp_sat  # noqa: PLC0415 - OR-Tools may lack

    told = []
    for problem in problems:
        told.append(solve_apart(solve_by_cp_sat, problem, limit_s))
        answer = told[-1].answer
        if answer is not None:
            ours = solve(problem).solution
            agree(None if ours is None else ours.value, answer)
    return told


def beside(problems: list[DayProblem], told: list[Told[Answer]]) -> str:
    """Tell CP-SAT's time beside that of the search on the same days."""
    both = [
        (answer, middle_milliseconds(problem))
        for problem, (answer, _) in zip(problems, told, strict=True)
        if answer is not None
    ]
    crashes = sum(crashed for _, crashed in told)
    crashed = f", {crashes} crashes, {len(told) - len(both)} days out" if crashes else ""
    if not both:
        return f"none{crashed}"
    proven = sum(answer.proven for answer, _ in both)
    took = statistics.median(answer.wall_s for answer, _ in both)
    by_wall = statistics.median(1e3 * answer.wall_s / wall for answer, (wall, _) in both)
    by_cpu = statistics.median(1e3 * answer.processor_s / cpu for answer, (_, cpu) in both)
    least = "" if proven == len(both) else "at least "
    return (
        f"{took:6.1f} ({proven}/{len(both)} proven{crashed}), {least}{by_wall:.0f}x "
        f"(cpu {by_cpu:.0f}x)"
    )


def middle_milliseconds(problem: DayProblem) -> tuple[float, float]:
    """Time a search three times; give the middle ones by the wall clock and the processor."""
    wall, processor = zip(*(milliseconds(problem) for _ in range(3)), strict=True)
    return statistics.median(wall), statistics.median(processor)


def main() -> None:
    """Print the table."""
    parser = ArgumentParser()
    parser.add_argument("legs", nargs="*", type=int)
    parser.add_argument("--rough", action="store_true", help="own orders at random")
    parser.add_argument("--days", type=int, default=20)
    parser.add_argument("--first", type=int, default=0, help="seed of the first day")
    parser.add_argument("--peer-days", type=int, default=PEER_DAYS)
    parser.add_argument("--limit", type=float, default=PEER_LIMIT_S, help="seconds for CP-SAT")
    asked = parser.parse_args()
    ways = ["vectorised"]
    if fast.installed():
        warm_up.begin(most_wait_s=300)
        ways.append("compiled")
    sys.stdout.write(f"{asked.days} days each, {SLOTS} slots of 5 min\n")
    sys.stdout.write(
        "legs loops       wall: ms      p95  cpu: ms      p95      MB  turn: ms  CP-SAT s, ratio\n"
    )
    seeds = range(asked.first, asked.first + asked.days)
    for legs in asked.legs or SIZES:
        problems = [benchmark_day(seed, legs, rough=asked.rough) for seed in seeds]
        peered = problems[: asked.peer_days] if find_spec("ortools") else []
        told = peer_answers(peered, asked.limit)
        for way in ways:
            with (
                mock.patch.object(fast, "available", return_value=way == "compiled"),
                mock.patch.object(warm_up, "begin"),
            ):
                figures = f"{row(problems)}  {1e3 * turn_seconds():8.1f}"
                compared = beside(peered, told) if peered else ""
            sys.stdout.write(f"{legs:4} {way:10} {figures}  {compared}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
