"""Invented tours for the dealing's tests, and a judge that tries every dealing.

The judge shares no code with the search: `every_plan` of each day tells what each part of the
shared legs is worth there, and all ways of putting parts together are tried.
"""

from dataclasses import replace
from itertools import product
from random import Random

from replanner.planning.dealing_problem import DayToDeal, TourProblem
from replanner.planning.problem_file import read_problem
from tests.planning.day_problems import every_plan, invented_problem

Score = tuple[int, int, float]
"""Minus the days without a plan, minus the musts dealt to such days, the value of the others."""


def invented_tour(seed: int, days: int, legs: int, shared: int) -> TourProblem:
    """Make a tour up; some shared legs have a stand-in, some are not for every day."""
    random = Random(seed)
    # By shared leg its legs in the problems: alike on every day, as are the numbers.
    numbers = random.sample(range(legs), legs)
    rides: list[tuple[int, ...]] = [(numbers.pop(),) for _ in range(shared)]
    rides = [
        (*ridden, numbers.pop()) if numbers and random.random() < 0.25 else ridden
        for ridden in rides
    ]
    musts = frozenset(leg for leg in range(shared) if random.random() < 0.3)
    to_deal = []
    for _ in range(days):
        file = invented_problem(random.randrange(2**32), legs, 14)
        here = [ridden if random.random() < 0.8 else () for ridden in rides]
        problem = read_problem(file)
        dealt = {number for ridden in rides for number in ridden}
        gone = dealt - {number for ridden in here for number in ridden}
        problem = replace(
            problem,
            legs=tuple(
                replace(
                    leg,
                    must=leg.must and number not in dealt,
                    ways=() if number in gone else leg.ways,
                )
                for number, leg in enumerate(problem.legs)
            ),
            at_most_one=(*problem.at_most_one, *(pair for pair in rides if len(pair) > 1)),
        )
        extra = tuple(float(random.choice([0, 0, -3, -7, 2])) for _ in rides)
        to_deal.append(DayToDeal(problem=problem, rides=tuple(here), extra=extra))
    for leg in musts:
        if not any(day.rides[leg] for day in to_deal):
            musts -= {leg}
    return TourProblem(days=tuple(to_deal), musts=musts)


def worth_of_parts(day: DayToDeal) -> dict[frozenset[int], float]:
    """Tell what riding exactly each part of the shared legs is worth, without those impossible."""
    worth: dict[frozenset[int], float] = {}
    for order, value in every_plan(day.problem):
        part = part_of(day, order)
        total = value + sum(day.extra[leg] for leg in part)
        worth[part] = max(total, worth.get(part, total))
    return worth


def part_of(day: DayToDeal, order: tuple[int, ...]) -> frozenset[int]:
    """Tell the shared legs an order of legs rides."""
    return frozenset(leg for leg, numbers in enumerate(day.rides) if set(numbers) & set(order))


def best_by_every_dealing(tour: TourProblem) -> Score:
    """Try every dealing."""
    worths = [worth_of_parts(day) for day in tour.days]
    shared = range(len(tour.days[0].rides))
    where = [[n for n, day in enumerate(tour.days) if day.rides[leg]] for leg in shared]
    choices = [days if leg in tour.musts else [*days, None] for leg, days in enumerate(where)]
    best: Score | None = None
    for dealing in product(*choices):
        parts = [frozenset(leg for leg in shared if dealing[leg] == n) for n in range(len(worths))]
        # A day that cannot ride its part has no plan; so has, if that is better, one that could.
        for without in product((False, True), repeat=len(worths)):
            score = _score(tour, worths, parts, without)
            best = score if best is None else max(best, score)
    if best is None:
        raise AssertionError("there is always the dealing of nothing")
    return best


def _score(
    tour: TourProblem,
    worths: list[dict[frozenset[int], float]],
    parts: list[frozenset[int]],
    without: tuple[bool, ...],
) -> Score:
    no_plan = unridden = 0
    value = 0.0
    for worth, part, given_up in zip(worths, parts, without, strict=True):
        if given_up or part not in worth:
            no_plan += 1
            unridden += len(part & tour.musts)
        else:
            value += worth[part]
    return -no_plan, -unridden, value
