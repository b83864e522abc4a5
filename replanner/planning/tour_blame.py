"""Why a tour cannot give every day a plan: the fewest demands over its days that clash.

Shared legs that must be ridden are let go first, then what each day must ride by itself, then the
limits of the days.
"""

from dataclasses import dataclass, replace
from itertools import count

from replanner.planning.blame import NO_WAY, blame
from replanner.planning.day_demands import DayDemands, demands_of, rides_of
from replanner.planning.day_search import DaySearch
from replanner.planning.dealing import Dealing, Dealt
from replanner.planning.dealing_problem import DayToDeal, TourProblem
from replanner.planning.demand import Clash, Demand, DemandKind
from replanner.planning.smallest import fewest_conflict, smallest_conflict


@dataclass(frozen=True, slots=True, kw_only=True)
class TourDemand:
    """A demand on a tour.

    Parameters
    ----------
    day : int or None
        The day it is a demand of, counted from 0; None: a shared leg to be ridden on any of them.
    demand : Demand
        A shared leg and its stand-in as one of both.
    """

    day: int | None
    demand: Demand


def blame_tour(tour: TourProblem) -> Clash[TourDemand]:
    """Tell which demands of a tour cannot hold together.

    The tanks are not looked at.

    Returns
    -------
    Clash of TourDemand
        Of equally few those of a day that has no plan by itself. Empty: every day can have a plan.
    """
    tour = replace(tour, days=tuple(replace(day, tank=None) for day in tour.days))
    alone = min(filter(None, map(_clash_alone, count(), tour.days)), key=len, default=())
    if any(one.demand == NO_WAY for one in alone) or (not alone and _dealt(tour) is not None):
        return Clash(alone, fewest=True)
    demands = _TourDemands(tour)

    def broken(kept: frozenset[int]) -> frozenset[int] | None:
        dealt = _dealt(demands.held_to(kept))
        return None if dealt is None else demands.broken_by(dealt)

    told = demands.told
    if alone:
        known = frozenset(told.index(one) for one in alone if one in told)
        found = smallest_conflict(known, len(told), broken)
    else:
        found = fewest_conflict(len(told), broken)
    return Clash(tuple(told[number] for number in sorted(found.demands)), found.fewest)


def _clash_alone(number: int, day: DayToDeal) -> tuple[TourDemand, ...]:
    """Tell what cannot hold together on a day by itself; empty: it has a plan."""
    if DaySearch(day.problem).best(blamed=False).solution is not None:
        return ()
    return tuple(TourDemand(day=number, demand=one) for one in blame(day.problem).demands)


class _TourDemands:
    """All demands of a tour, numbered: what is ridden on any day, on each, then the days' limits.

    Parameters
    ----------
    tour : TourProblem
    """

    def __init__(self, tour: TourProblem) -> None:
        self._tour = tour
        self._musts = sorted(tour.musts)
        self._days = [demands_of(day.problem) for day in tour.days]
        # Ridden by itself or by its stand-in: what a shared leg is, no demand to let go.
        self._pairs = [_pairs(day, own) for day, own in zip(tour.days, self._days, strict=True)]
        self._own = [
            (day, number)
            for limits in (False, True)
            for day, demands in enumerate(self._days)
            for number in range(len(demands.told))
            if (number >= len(demands.rides)) == limits and number not in self._pairs[day]
        ]
        self.told = (
            *(TourDemand(day=None, demand=_must(tour, leg)) for leg in self._musts),
            *(TourDemand(day=day, demand=self._days[day].told[own]) for day, own in self._own),
        )

    def held_to(self, kept: frozenset[int]) -> TourProblem:
        """Return the tour with these demands alone."""
        here = [set(pairs) for pairs in self._pairs]
        for number, (day, own) in enumerate(self._own, len(self._musts)):
            if number in kept:
                here[day].add(own)
        days = (
            replace(day, problem=demands.held_to(frozenset(held)))
            for day, demands, held in zip(self._tour.days, self._days, here, strict=True)
        )
        musts = frozenset(leg for number, leg in enumerate(self._musts) if number in kept)
        return TourProblem(days=tuple(days), musts=musts)

    def broken_by(self, dealt: Dealt) -> frozenset[int]:
        """Return the demands that a dealing breaks in which each day has a plan."""
        by_day = [
            demands.broken_by(plan.legs, plan.leave_slot, plan.finish_slot)
            for demands, plan in zip(self._days, filter(None, dealt.plans), strict=True)
        ]
        breaks = [not any(leg in legs for legs in dealt.ridden) for leg in self._musts]
        breaks += [own in by_day[day] for day, own in self._own]
        return frozenset(number for number, one in enumerate(breaks) if one)


def _dealt(tour: TourProblem) -> Dealt | None:
    """Deal a tour so that every day has a plan, tried first with the demanded legs alone."""
    few = replace(tour, days=tuple(_few_legs(day, tour.musts) for day in tour.days))
    for each in (few, tour):
        dealt = Dealing(each).best()
        if dealt.no_plan == 0:
            return dealt
    return None


def _few_legs(day: DayToDeal, musts: frozenset[int]) -> DayToDeal:
    kept = {leg for ride in rides_of(day.problem) for leg in ride.legs}
    kept |= {leg for must in musts for leg in day.rides[must]}
    legs = tuple(
        leg if number in kept else replace(leg, ways=())
        for number, leg in enumerate(day.problem.legs)
    )
    return replace(day, problem=replace(day.problem, legs=legs))


def _pairs(day: DayToDeal, demands: DayDemands) -> frozenset[int]:
    return frozenset(
        number
        for number, limit in enumerate(demands.limits, len(demands.rides))
        if limit.demand.kind is DemandKind.AT_MOST_ONE
        and any(limit.legs <= frozenset(numbers) for numbers in day.rides)
    )


def _must(tour: TourProblem, leg: int) -> Demand:
    day = next(day for day in tour.days if day.rides[leg])
    ids = tuple(day.problem.legs[number].id for number in day.rides[leg])
    return Demand(kind=DemandKind.RIDE, legs=ids)
