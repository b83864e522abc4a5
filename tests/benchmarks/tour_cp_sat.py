"""A whole tour for OR-Tools CP-SAT: the yardstick of the tour search's benchmark.

All days in one model (`day_cp_sat`), with each shared leg on one of them at most, a must on one.
It knows no days without a plan.
"""

from ortools.sat.python import cp_model

from replanner.planning.dealing_problem import TourProblem
from tests.benchmarks.day_cp_sat import SCALE, Expression, add_day, solved
from tests.benchmarks.peer_answer import Answer


def solve_tour_by_cp_sat(tour: TourProblem, limit_s: float) -> Answer:
    """Solve a tour."""
    model = cp_model.CpModel()
    gains: list[Expression] = []
    rides: list[list[Expression]] = [[] for _ in tour.days[0].rides]
    for day in tour.days:
        value, ridden = add_day(model, day.problem)
        gains.append(value)
        for leg, numbers in enumerate(day.rides):
            if numbers:
                here = sum(ridden[number] for number in numbers)
                rides[leg].append(here)
                gains.append(round(day.extra[leg] * SCALE) * here)
    for leg, days in enumerate(rides):
        if leg in tour.musts:
            model.add(sum(days) == 1)
        else:
            model.add(sum(days) <= 1)
    model.maximize(sum(gains))
    return solved(model, limit_s)
