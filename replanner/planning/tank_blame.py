"""Why a day has no plan on its tank: demands that cannot hold together with it, none to spare."""

from collections.abc import Iterable
from dataclasses import replace

from replanner.planning.blame import demanding, limits_of, rides_of
from replanner.planning.build import BuiltDay
from replanner.planning.day_search import DaySearch
from replanner.planning.demand import Demand
from replanner.planning.holding import tank_lacks
from replanner.planning.problem import DayProblem, DaySolution
from replanner.planning.tank import NO_LEVELS, Split, Tank, until_none_runs_dry


def tank_blame(built: BuiltDay, tank: Tank) -> tuple[Demand, ...] | None:
    """Tell what cannot hold together on a tank: found as `blame.blame` finds it.

    Each demand in turn is let go, the tank never; a demand without which the day has no plan on
    the tank either is spared.

    Returns
    -------
    tuple of Demand or None
        What must be ridden first, then the tank, with what it lacks for these, then the limits of
        the day; of one leg too far for the tank only the tank, which names it. None: the day has no
        plan on any tank.
    """
    if tank_lacks(built, tank) is None:
        return None
    problem, rides = built.problem, rides_of(built.problem)
    for ride in tuple(rides):
        fewer = [other for other in rides if other is not ride]
        if not _lasts(demanding(problem, fewer), tank):
            rides = fewer
    problem = demanding(problem, rides)
    needed: list[Demand] = []
    for limit in limits_of(problem):
        relaxed = limit.relax(problem)
        if _lasts(relaxed, tank):
            needed.append(limit.demand)
        else:
            problem = relaxed
    lacks = tank_lacks(replace(built, problem=problem), tank)
    if lacks is None:
        raise AssertionError("fewer demands leave a plan on a larger tank")
    if not needed and [ride.demand.legs for ride in rides] == [lacks.legs]:
        return (lacks,)
    return (*(ride.demand for ride in rides), lacks, *needed)


def _lasts(problem: DayProblem, tank: Tank) -> bool:
    """Return whether a day has a plan on a tank."""

    def best(day: Split) -> tuple[bool, Iterable[DaySolution | None]]:
        found = DaySearch(day.problem).best(blamed=False).solution
        return found is not None, (found,)

    return bool(until_none_runs_dry(problem, tank, best, NO_LEVELS)[0])
