"""The demands of a day, one by one: what a plan of it breaks, and the day held to some of them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import partial

import numpy as np

from replanner.planning.demand import Demand, DemandKind
from replanner.planning.problem import DayProblem


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


@dataclass(frozen=True, slots=True)
class DayDemands:
    """All demands of a day, numbered: what must be ridden first, then its limits.

    Parameters
    ----------
    problem : DayProblem
        As it is demanded.
    rides : tuple of Ride
    limits : tuple of Limit
        That of several legs exactly one must be ridden is a ride, and at most one a limit.
    """

    problem: DayProblem
    rides: tuple[Ride, ...]
    limits: tuple[Limit, ...]

    @property
    def told(self) -> tuple[Demand, ...]:
        """The demands by their numbers."""
        rides = tuple(ride.demand for ride in self.rides)
        return rides + tuple(limit.demand for limit in self.limits)

    def named(self, numbers: frozenset[int]) -> tuple[Demand, ...]:
        """Return some of the demands, what must be ridden first."""
        return tuple(self.told[number] for number in sorted(numbers))

    def implied(self, kept: frozenset[int]) -> frozenset[int]:
        """Return demands and those they imply: of exactly one leg of several at most one."""
        apart = {frozenset(ride.legs) for ride in self._ridden(kept) if ride.one_of}
        return kept | {
            number
            for number, limit in enumerate(self.limits, len(self.rides))
            if limit.demand.kind is DemandKind.AT_MOST_ONE and limit.legs in apart
        }

    def held_to(self, kept: frozenset[int]) -> DayProblem:
        """Return the day with these demands alone."""
        problem = _demanding(self.problem, self._ridden(kept))
        for number, limit in enumerate(self.limits, len(self.rides)):
            if number not in kept:
                problem = limit.relax(problem)
        return problem

    def broken_by(self, legs: Sequence[int], leave_slot: int, finish_slot: int) -> frozenset[int]:
        """Return the demands that a plan breaks: the legs it rides in order, and its hours."""
        breaks = [sum(leg in ride.legs for leg in legs) != 1 for ride in self.rides]
        breaks += [
            _breaks(self.problem, limit.demand, legs, leave_slot, finish_slot)
            for limit in self.limits
        ]
        return frozenset(np.flatnonzero(breaks).tolist())

    def _ridden(self, kept: frozenset[int]) -> list[Ride]:
        return [ride for number, ride in enumerate(self.rides) if number in kept]


def demands_of(problem: DayProblem) -> DayDemands:
    """Return all demands of a day."""
    rides, limits = rides_of(problem), _limits_of(_demanding(problem, []))
    return DayDemands(problem, tuple(rides), tuple(limits))


def _breaks(
    problem: DayProblem, limit: Demand, legs: Sequence[int], leave_slot: int, finish_slot: int
) -> bool:
    """Tell whether a plan breaks a limit of the day."""
    if limit.kind is DemandKind.START_BY:
        return leave_slot > problem.latest
    if limit.kind is DemandKind.END_BY:
        return finish_slot > problem.by or bool(np.isinf(problem.late[finish_slot]))
    ridden = [problem.legs[leg].id for leg in legs]
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


def _demanding(problem: DayProblem, rides: list[Ride]) -> DayProblem:
    """Return the problem with only these demands to ride; exactly one let go is at most one."""
    musts = {ride.legs[0] for ride in rides if not ride.one_of}
    exactly = tuple(ride.legs for ride in rides if ride.one_of)
    loose = tuple(group for group in problem.exactly_one if group not in exactly)
    legs = tuple(replace(leg, must=j in musts) for j, leg in enumerate(problem.legs))
    return replace(problem, legs=legs, exactly_one=exactly, at_most_one=problem.at_most_one + loose)


def _limits_of(problem: DayProblem) -> list[Limit]:
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


def _demand(problem: DayProblem, kind: DemandKind, legs: tuple[int, ...]) -> Demand:
    return Demand(kind=kind, legs=tuple(problem.legs[leg].id for leg in legs))


def _day_limit(problem: DayProblem, kind: DemandKind, slot: int) -> Demand:
    by = problem.first_slot + timedelta(minutes=slot * problem.slot_minutes)
    return Demand(kind=kind, slot=slot, by=by)
