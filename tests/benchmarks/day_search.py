"""Time the exact table against two passes on invented days; a script, not a test.

    python tests/benchmarks/day_search.py [legs ...]

Each row is the median over seeded days of the seconds to build and answer once, and the most memory
numpy and Python held (told by tracemalloc, in runs of their own, since it slows what it watches).
"""

import json
import statistics
import sys
import tracemalloc
from random import Random
from typing import Any
from unittest import mock

from replanner.planning import day_solver
from replanner.planning.day_search import solve
from replanner.planning.problem import DayProblem
from replanner.planning.problem_file import read_problem

SEEDS = range(3)
SIZES = ((8, 15), (12, 15), (8, 5), (12, 5), (14, 5), (16, 5))
HOURS = 15


def invented_day(seed: int, legs: int, minutes: int) -> DayProblem:
    """Make up a day of loops and one-way legs about a few places, with rain, order and dusk."""
    random = Random(1000 * legs + seed)
    slots = HOURS * 60 // minutes
    spots = [(random.uniform(0, 60), random.uniform(0, 60)) for _ in range(2 + legs // 2)]

    def slots_for(minutes_taken: float) -> int:
        return -int(-minutes_taken // minutes)

    def road(a: int, b: int) -> int:
        (ax, ay), (bx, by) = spots[a], spots[b]
        return 0 if a == b else max(1, slots_for(abs(ax - bx) + abs(ay - by)))

    def way() -> dict[str, Any]:
        worth, rain = random.randint(20, 120), random.randrange(slots)
        hours_wet = random.choice([0, 2, 4]) * 60 // minutes
        wet = range(rain, rain + hours_wet)
        no_go = set(random.choice([[], list(wet)[: len(wet) // 2]]))
        return {
            "from": random.randrange(len(spots)),
            "to": random.randrange(len(spots)),
            "ride_slots": [slots_for(25 + worth / 3) + (t in wet) for t in range(slots)],
            "worth": [None if t in no_go else worth - 25 * (t in wet) for t in range(slots)],
        }

    indices = list(range(legs))
    file = {
        "format": "replanner-problem-1",
        "slot_minutes": minutes,
        "first_slot": "2027-01-14T06:00:00Z",
        "slots": slots,
        "travel_slots": [[road(a, b) for b in range(len(spots))] for a in range(len(spots))],
        "travel_cost_per_slot": minutes,
        "wait_cost_per_slot": minutes / 10,
        "start": {"place": 0, "earliest": 0, "latest": slots // 4},
        "end": {
            "place": 0,
            "by": slots - 1,
            "dusk": slots * 3 // 4,
            "late_cost_per_slot": 3 * minutes,
        },
        "legs": [
            {"id": f"leg{j}", "must": j == 0, "ways": [way() for _ in range(1 + j % 2)]}
            for j in indices
        ],
        "at_most_one": [indices[1:3]],
        "before": [[3, 4]],
        "own_order": random.sample(indices, legs),
        "order_cost": 4,
    }
    return read_problem(json.dumps(file))


def seconds_of(problem: DayProblem) -> float:
    """Time one search to its proof."""
    result = solve(problem)
    if not result.proven:
        raise AssertionError("a search without time limit should be proven")
    return result.seconds


def most_megabytes(problem: DayProblem) -> float:
    """Most memory held at once."""
    tracemalloc.start()
    solve(problem)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def measured(problems: list[DayProblem]) -> str:
    """Median time and most memory of some days."""
    median = statistics.median(map(seconds_of, problems))
    return f"{1000 * median:8.0f} ms {max(map(most_megabytes, problems)):6.0f} MB"


def main() -> None:
    """Print the table."""
    wanted = {int(word) for word in sys.argv[1:]}
    sys.stdout.write("legs  slots of  table where it fits        two passes\n")
    for legs, minutes in SIZES:
        if wanted and legs not in wanted:
            continue
        problems = [invented_day(seed, legs, minutes) for seed in SEEDS]
        table = measured(problems)
        with mock.patch.object(day_solver, "MOST_TABLE_BYTES", 0):
            passes = measured(problems)
        sys.stdout.write(f"{legs:4}  {minutes:3} min   {table}     {passes}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
