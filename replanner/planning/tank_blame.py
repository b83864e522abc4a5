"""Why a day has no plan on its tank: the fewest demands that cannot hold together with it."""

from dataclasses import replace

from replanner.planning.build import BuiltDay
from replanner.planning.day_demands import demands_of
from replanner.planning.demand import Clash, Demand, DemandKind
from replanner.planning.holding import best_on, tank_lacks
from replanner.planning.problem import DayProblem
from replanner.planning.smallest import Conflict, fewest_conflict
from replanner.planning.tank import Tank


def tank_blame(built: BuiltDay, tank: Tank) -> Clash[Demand] | None:
    """Tell what cannot hold together on a tank.

    Returns
    -------
    Clash of Demand or None
        What must be ridden first, then the tank, with what it lacks for these, then the limits of
        the day; of one leg too far for the tank only the tank, which names it. None: the day has no
        plan on any tank.
    """
    if tank_lacks(built, tank) is None:
        return None
    found = clash_on(built.problem, tank)
    demands = demands_of(built.problem)
    held = demands.held_to(found.demands)
    lacks = tank_lacks(replace(built, problem=held), tank)
    if lacks is None:
        raise AssertionError("fewer demands leave a plan on a larger tank")
    told = demands.named(found.demands)
    rides = tuple(one for one in told if one.kind is DemandKind.RIDE)
    if told == rides and [one.legs for one in rides] == [lacks.legs]:
        return Clash((lacks,), found.fewest)
    return Clash((*rides, lacks, *told[len(rides) :]), found.fewest)


def clash_on(problem: DayProblem, tank: Tank) -> Conflict:
    """Find the fewest demands that cannot hold together on a tank, which is never let go.

    They are numbered as by `demands_of`.
    """
    demands = demands_of(problem)

    def broken(kept: frozenset[int]) -> frozenset[int] | None:
        plan = best_on(demands.held_to(kept), tank)
        if plan is None:
            return None
        return demands.broken_by(plan.legs, plan.leave_slot, plan.finish_slot)

    return fewest_conflict(len(demands.told), broken)
