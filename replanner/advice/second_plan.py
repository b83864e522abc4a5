"""Plan B: the best plan that differs in a way that matters, and when it would be the better one."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from replanner.advice.briefing import BetterKind, BetterWhen
from replanner.advice.case import Case, severity_of
from replanner.planning.problem import DayProblem, DaySolution, Visit
from replanner.trip.model import Exposure, LegId

# An exposed leg this much earlier or later meets other weather. Assumption.
APART_MINUTES = 60.0


def second_plan(case: Case) -> DaySolution | None:
    """Return the best plan with another set of legs, or with the first exposed leg an hour apart.

    Any other set lacks a leg that is ridden or has one that is not: the best over these single
    demands is the best of all other sets, exactly. None: there is no such plan.
    """
    found = [*_other_sets(case), _hour_apart(case)]
    plans = [plan for plan in found if plan is not None]
    return max(plans, key=lambda plan: plan.value, default=None)


def better_when(case: Case, second: DaySolution) -> BetterWhen:
    """Return what would make the second plan the better one."""
    here, there = worst_severity(case, case.solution), worst_severity(case, second)
    if there > here:
        return BetterWhen(kind=BetterKind.MILDER, leg=_worst_leg(case, second))
    if there < here:
        return BetterWhen(kind=BetterKind.WORSE, leg=_worst_leg(case, case.solution))
    return BetterWhen(kind=BetterKind.WISH)


def _worst_leg(case: Case, plan: DaySolution) -> LegId:
    worst = max(plan.visits, key=lambda visit: severity_of(case.built, visit))
    return case.built.legs[worst.leg].leg.id


def worst_severity(case: Case, plan: DaySolution) -> float:
    """Return the worst severity a plan meets (first member)."""
    return max((severity_of(case.built, visit) for visit in plan.visits), default=0.0)


def _other_sets(case: Case) -> Iterable[DaySolution | None]:
    ridden = frozenset(case.solution.legs)
    for leg in range(len(case.built.legs)):
        one = frozenset({leg})
        demand = case.search.best_without if leg in ridden else case.search.best_with
        yield demand(one).solution


def _hour_apart(case: Case) -> DaySolution | None:
    """Return the best plan with that leg; without it is another set."""
    exposed = next((visit for visit in case.solution.visits if _is_exposed(case, visit.leg)), None)
    if exposed is None:
        return None
    search = case.search.kept_away(exposed.leg, _near(case.built.problem, exposed))
    return search.best_with(frozenset({exposed.leg})).solution


def _is_exposed(case: Case, leg: int) -> bool:
    whole = case.built.legs[leg].leg
    roads = (whole.road, *(section.road for section in whole.sections))
    return any(road.exposure is Exposure.EXPOSED for road in roads)


def _near(problem: DayProblem, visit: Visit) -> NDArray[np.bool_]:
    """Return the slots within an hour of a start."""
    apart = APART_MINUTES / problem.slot_minutes
    return np.asarray(np.abs(np.arange(problem.slots) - visit.start_slot) < apart)
