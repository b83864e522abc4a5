"""Invented tours of any size for the tour search: days about one base that share some legs.

All days lie in one world of places about a base and are made as those of the day search's benchmark
(`day_problems`): rain passes over at other hours on each, so a shared leg is worth more on one day
than on another. Every shared leg may be ridden on some of the days and is at home on one of them;
riding it elsewhere costs what moving a leg costs.
"""

from random import Random
from typing import Any

from replanner.planning.dealing_problem import DayToDeal, TourProblem
from replanner.planning.problem_file import read_problem
from tests.benchmarks.day_problems import benchmark_file

MOVED = 10.0


def benchmark_tour(seed: int, days: int, legs: int, shared: int) -> TourProblem:
    """Make up a tour.

    Parameters
    ----------
    legs : int
        Legs of each day, those it shares among them.
    shared : int
        Legs that may be ridden on two days or more; every fifth must be ridden on one of them.
    """
    random = Random(f"tour {seed} of {days} days, {legs} legs, {shared} shared")
    allowed = [random.sample(range(days), random.randint(2, min(days, 4))) for _ in range(shared)]
    files = [benchmark_file(1000 * seed + day, legs) for day in range(days)]
    world = files[0]
    places = len(world["travel_slots"])
    to_deal = []
    taken = [0] * days
    rides: list[list[tuple[int, ...]]] = [[() for _ in range(shared)] for _ in range(days)]
    for unit, of in enumerate(allowed):
        ends = random.randrange(places), random.randrange(places)
        for day in of:
            # From the last leg of the file on: those have no part in a pair of parallel roads.
            number = _free_leg(files[day], taken[day])
            taken[day] += 1
            leg = files[day]["legs"][number]
            leg["id"] = f"shared{unit}"
            for way, (start, end) in zip(leg["ways"], (ends, ends[::-1]), strict=False):
                way["from"], way["to"] = start, end
            rides[day][unit] = (number,)
    for day, file in enumerate(files):
        file["travel_slots"] = world["travel_slots"]
        for legs_of in rides[day]:
            for number in legs_of:
                file["legs"][number]["must"] = False
        moved = tuple(-MOVED if of[0] != day else 0.0 for of in allowed)
        to_deal.append(DayToDeal(problem=read_problem(file), rides=tuple(rides[day]), extra=moved))
    return TourProblem(
        days=tuple(to_deal), musts=frozenset(unit for unit in range(shared) if unit % 5 == 4)
    )


def _free_leg(file: dict[str, Any], taken: int) -> int:
    paired = {leg for pair in file["at_most_one"] for leg in pair}
    count = len(file["legs"])
    order = [leg for leg in reversed(range(count)) if leg not in paired]
    order += [leg for leg in reversed(range(count)) if leg in paired]
    return order[taken]
