"""Why a day has no plan: the fewest demands that cannot hold together.

Each demand in turn is let go; where there is still no plan it was not to blame and stays let go.
What remains is a conflict of which every part is needed (the deletion filter: Chinneck, J. W. and
Dravnieks, E. W. (1991), "Locating minimal infeasible constraint sets in linear programs", ORSA
Journal on Computing 3, 157-168). The rider's own musts are let go first, the limits of the day
last. Such a conflict need not be the smallest: `smallest` asks whether fewer cannot hold either.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import lru_cache, partial

import numpy as np

from replanner.planning.day_arrays import IMPOSSIBLE, day_arrays, mask_of
from replanner.planning.day_solver import DaySolver, Question, Stopped
from replanner.planning.demand import Demand, DemandKind
from replanner.planning.order_timing import TimedOrder, time_order
from replanner.planning.problem import DayProblem
from replanner.planning.smallest import smallest_conflict

NO_WAY = Demand(kind=DemandKind.A_WAY)

# How many questions are asked for a smaller set: ten to fifteen are enough for most. Assumption.
MOST_ASKED = 40


@dataclass(frozen=True, slots=True)
class Ride:
    """A demand to ride: one leg, or one of several, as numbered in the problem."""

    demand: Demand
    legs: tuple[int, ...]
    one_of: bool


@dataclass(frozen=True, slots=True)
class Limit:
    """A demand of another kind, the legs it speaks of, and how to let go of it."""

    demand: Demand
    legs: frozenset[int]
    relax: Callable[[DayProblem], DayProblem]


def blame(problem: DayProblem, *, stopped: Stopped = lambda: False) -> tuple[Demand, ...]:
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
    tuple of Demand
        The musts first, then the order and the limits of the day. None of them is to spare, and no
        fewer cannot hold together, if `MOST_ASKED` questions tell.
    """
    whole, rides = problem, rides_of(problem)
    for ride in rides:
        if not any(_may_start(problem, leg) for leg in ride.legs):
            return (ride.demand,)
    rides = _needed_rides(problem, rides, stopped)
    problem = demanding(problem, rides)
    demanded = frozenset(leg for ride in rides for leg in ride.legs)
    limits = limits_of(problem)
    apart = [limit for limit in limits if limit.legs and not limit.legs & demanded]
    without = problem
    for limit in apart:
        without = limit.relax(without)
    if apart and not _feasible(without, demanded, stopped):
        problem = without
        limits = [limit for limit in limits if limit not in apart]
    needed: list[Limit] = []
    for limit in limits:
        relaxed = limit.relax(problem)
        if _feasible(relaxed, demanded, stopped):
            needed.append(limit)
        else:
            problem = relaxed
    told = (*(ride.demand for ride in rides), *(limit.demand for limit in needed))
    return _fewest(whole, told, stopped) or (NO_WAY,)


def _fewest(problem: DayProblem, told: tuple[Demand, ...], stopped: Stopped) -> tuple[Demand, ...]:
    """Tell the fewest demands that cannot hold together, those told if there are none fewer."""
    rides, free = rides_of(problem), demanding(problem, [])
    limits = limits_of(free)
    demands = [*(ride.demand for ride in rides), *(limit.demand for limit in limits)]

    @lru_cache(maxsize=2)
    def day(held: frozenset[int]) -> DaySolver:
        held_to = free
        for number, limit in enumerate(limits):
            if number not in held:
                held_to = limit.relax(held_to)
        return DaySolver(day_arrays(held_to), stopped)

    def broken(kept: frozenset[int]) -> frozenset[int] | None:
        ridden = [ride for number, ride in enumerate(rides) if number in kept]
        apart = {frozenset(ride.legs) for ride in ridden if ride.one_of}
        solver = day(
            frozenset(
                number
                for number, limit in enumerate(limits)
                if number + len(rides) in kept
                or (limit.demand.kind is DemandKind.AT_MOST_ONE and limit.legs in apart)
            )
        )
        found = solver.ask(_question(ridden))
        if found.value == IMPOSSIBLE:
            return None if found.bound == IMPOSSIBLE else frozenset()
        days = solver.begun(None)
        plan = time_order(days.arrays, found.order, days)
        if plan is None:
            raise AssertionError("an order found cannot be timed")
        legs = [visit.leg for visit in plan.visits]
        breaks = [sum(leg in ride.legs for leg in legs) != 1 for ride in rides]
        breaks += [_breaks(problem, limit.demand, plan) for limit in limits]
        return frozenset(np.flatnonzero(breaks).tolist())

    fewest = smallest_conflict(
        frozenset(demands.index(one) for one in told), len(demands), broken, MOST_ASKED
    )
    return tuple(demands[number] for number in sorted(fewest))


def _breaks(problem: DayProblem, limit: Demand, plan: TimedOrder) -> bool:
    """Tell whether a plan breaks a limit of the day."""
    if limit.kind is DemandKind.START_BY:
        return plan.leave_slot > problem.latest
    if limit.kind is DemandKind.END_BY:
        return plan.finish_slot > problem.by or np.isinf(problem.late[plan.finish_slot])
    ridden = [problem.legs[visit.leg].id for visit in plan.visits]
    met = [leg for leg in ridden if leg in limit.legs]
    if limit.kind is DemandKind.BEFORE:
        return tuple(met) == limit.legs[::-1]
    return len(met) > 1


def rides_of(problem: DayProblem) -> list[Ride]:
    """Return what a day demands to be ridden."""
    rides = [
        Ride(_demand(problem, DemandKind.RIDE, (j,)), (j,), one_of=False)
        for j, leg in enumerate(problem.legs)
        if leg.must
    ]
    rides += [
        Ride(_demand(problem, DemandKind.RIDE, group), group, one_of=True)
        for group in problem.exactly_one
    ]
    return rides


def _needed_rides(problem: DayProblem, rides: list[Ride], stopped: Stopped) -> list[Ride]:
    """Let go of what must be ridden where the rest of the day has no plan without it either."""
    solver = DaySolver(day_arrays(problem), stopped)
    for ride in tuple(rides):
        fewer = [other for other in rides if other is not ride]
        if not _found(solver, _question(fewer)):
            rides = fewer
    return rides


def _question(rides: list[Ride]) -> Question:
    musts = mask_of(tuple(ride.legs[0] for ride in rides if not ride.one_of))
    exactly = tuple(mask_of(ride.legs) for ride in rides if ride.one_of)
    return Question(without=0, musts=musts, exactly=exactly)


def _may_start(problem: DayProblem, leg: int) -> bool:
    return any(np.isfinite(way.worth).any() for way in problem.legs[leg].ways)


def demanding(problem: DayProblem, rides: list[Ride]) -> DayProblem:
    """Return the problem with only these demands to ride; exactly one let go is at most one."""
    musts = {ride.legs[0] for ride in rides if not ride.one_of}
    exactly = tuple(ride.legs for ride in rides if ride.one_of)
    loose = tuple(group for group in problem.exactly_one if group not in exactly)
    legs = tuple(replace(leg, must=j in musts) for j, leg in enumerate(problem.legs))
    return replace(problem, legs=legs, exactly_one=exactly, at_most_one=problem.at_most_one + loose)


def limits_of(problem: DayProblem) -> list[Limit]:
    """Return what else a day demands: order and choice first, its hours last."""
    limits = [
        Limit(
            _demand(problem, DemandKind.BEFORE, pair),
            frozenset(pair),
            partial(_without_before, pair),
        )
        for pair in dict.fromkeys(problem.before)
    ]
    limits += [
        Limit(
            _demand(problem, DemandKind.AT_MOST_ONE, group),
            frozenset(group),
            partial(_without_group, group),
        )
        for group in dict.fromkeys(problem.at_most_one)
    ]
    allowed = np.flatnonzero(np.isfinite(problem.late[: problem.by + 1]))
    by = int(allowed[-1]) if allowed.size else problem.by
    start = _day_limit(problem, DemandKind.START_BY, problem.latest)
    end = _day_limit(problem, DemandKind.END_BY, by)
    return [*limits, Limit(start, frozenset(), _start_ever), Limit(end, frozenset(), _end_ever)]


def _without_before(pair: tuple[int, int], problem: DayProblem) -> DayProblem:
    return replace(problem, before=tuple(other for other in problem.before if other != pair))


def _without_group(group: tuple[int, ...], problem: DayProblem) -> DayProblem:
    kept = tuple(other for other in problem.at_most_one if other != group)
    return replace(problem, at_most_one=kept)


def _start_ever(problem: DayProblem) -> DayProblem:
    return replace(problem, latest=problem.slots - 1)


def _end_ever(problem: DayProblem) -> DayProblem:
    return replace(problem, by=problem.slots - 1, late=np.zeros(problem.slots))


def _feasible(problem: DayProblem, demanded: frozenset[int], stopped: Stopped) -> bool:
    """Whether there is a plan, tried first with the demanded legs alone; True if not known."""
    others = mask_of(tuple(j for j in range(len(problem.legs)) if j not in demanded))
    musts = mask_of(tuple(j for j, leg in enumerate(problem.legs) if leg.must))
    exactly = tuple(mask_of(group) for group in problem.exactly_one)
    kept = tuple(
        leg if j in demanded else replace(leg, ways=()) for j, leg in enumerate(problem.legs)
    )
    few = DaySolver(day_arrays(replace(problem, legs=kept)), stopped)
    if _found(few, Question(without=others, musts=musts, exactly=exactly)):
        return True
    if not others:
        return False
    every = DaySolver(day_arrays(problem), stopped)
    return _found(every, Question(without=0, musts=musts, exactly=exactly))


def _found(solver: DaySolver, question: Question) -> bool:
    found = solver.ask(question)
    return found.value > IMPOSSIBLE or found.bound > IMPOSSIBLE


def _demand(problem: DayProblem, kind: DemandKind, legs: tuple[int, ...]) -> Demand:
    return Demand(kind=kind, legs=tuple(problem.legs[leg].id for leg in legs))


def _day_limit(problem: DayProblem, kind: DemandKind, slot: int) -> Demand:
    by = problem.first_slot + timedelta(minutes=slot * problem.slot_minutes)
    return Demand(kind=kind, slot=slot, by=by)
