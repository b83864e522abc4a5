"""Why a day has no plan: the fewest demands that cannot hold together.

The rider's own musts are let go first, the limits of the day last (`smallest`).
"""

from functools import lru_cache

import numpy as np

from replanner.planning.day_arrays import IMPOSSIBLE, day_arrays, mask_of
from replanner.planning.day_demands import Ride, demands_of
from replanner.planning.day_solver import DaySolver, Question
from replanner.planning.demand import Clash, Demand, DemandKind
from replanner.planning.order_timing import time_order
from replanner.planning.problem import DayProblem
from replanner.planning.smallest import UNKNOWN, fewest_conflict
from replanner.planning.stages import Stopped

NO_WAY = Demand(kind=DemandKind.A_WAY)


def blame(problem: DayProblem, *, stopped: Stopped = lambda: False) -> Clash[Demand]:
    """Tell which demands of a problem without a plan cannot hold together.

    Parameters
    ----------
    problem : DayProblem
        One without a plan.
    stopped : callable
        True ends the search for what can be spared: the answer is then true, but may name more
        demands than needed.

    Returns
    -------
    Clash of Demand
        The musts first, then the order and the limits of the day.
    """
    demands = demands_of(problem)
    for ride in demands.rides:
        if not any(_may_start(problem, leg) for leg in ride.legs):
            return Clash((ride.demand,), fewest=True)
    rides = frozenset(range(len(demands.rides)))

    @lru_cache(maxsize=2)
    def day(limits: frozenset[int]) -> DaySolver:
        return DaySolver(day_arrays(demands.held_to(limits)), stopped)

    def broken(kept: frozenset[int]) -> frozenset[int] | None:
        solver = day(demands.implied(kept) - rides)
        found = solver.ask(_question([demands.rides[number] for number in sorted(kept & rides)]))
        if found.value == IMPOSSIBLE:
            return None if found.bound == IMPOSSIBLE else UNKNOWN
        days = solver.begun(None)
        plan = time_order(days.arrays, found.order, days)
        if plan is None:
            raise AssertionError("an order found cannot be timed")
        legs = [visit.leg for visit in plan.visits]
        return demands.broken_by(legs, plan.leave_slot, plan.finish_slot)

    found = fewest_conflict(len(demands.told), broken)
    return Clash(demands.named(found.demands) or (NO_WAY,), found.fewest)


def _question(rides: list[Ride]) -> Question:
    musts = mask_of(tuple(ride.legs[0] for ride in rides if not ride.one_of))
    exactly = tuple(mask_of(ride.legs) for ride in rides if ride.one_of)
    return Question(without=0, musts=musts, exactly=exactly)


def _may_start(problem: DayProblem, leg: int) -> bool:
    return any(np.isfinite(way.worth).any() for way in problem.legs[leg].ways)
