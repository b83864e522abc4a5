"""Why a tour cannot give every day a plan: demands over its days that cannot hold together.

As for a day (`blame`), each demand in turn is let go, and stays let go where there is no dealing
without it either: shared legs that must be ridden first, then what each day must ride by itself,
then the limits of the days. What remains is a conflict of which every part is needed.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from replanner.planning.blame import Limit, Ride, blame, demanding, limits_of, rides_of
from replanner.planning.day_search import DaySearch
from replanner.planning.dealing import Dealing
from replanner.planning.dealing_problem import DayToDeal, TourProblem
from replanner.planning.demand import Demand, DemandKind
from replanner.planning.problem import DayProblem


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


def blame_tour(tour: TourProblem) -> tuple[TourDemand, ...]:
    """Tell which demands of a tour cannot hold together.

    The tanks are not looked at.

    Returns
    -------
    tuple of TourDemand
        None of them to spare. Where a day has no plan by itself, that day's alone. Empty: every
        day can have a plan.
    """
    tour = replace(tour, days=tuple(replace(day, tank=None) for day in tour.days))
    for number, day in enumerate(tour.days):
        if DaySearch(day.problem).best(blamed=False).solution is None:
            return tuple(TourDemand(day=number, demand=one) for one in blame(day.problem))
    if _feasible(tour):
        return ()
    tour = _fewer_musts(tour)
    tour, rides = _fewer_rides(tour)
    told = [TourDemand(day=None, demand=_must(tour, leg)) for leg in sorted(tour.musts)]
    told += [TourDemand(day=number, demand=ride.demand) for number, ride in rides]
    return (*told, *_needed_limits(tour))


def _fewer_musts(tour: TourProblem) -> TourProblem:
    """Let go of the shared legs without which there is no dealing either."""
    for leg in sorted(tour.musts):
        without = replace(tour, musts=tour.musts - {leg})
        if not _feasible(without):
            tour = without
    return tour


def _fewer_rides(tour: TourProblem) -> tuple[TourProblem, list[tuple[int, Ride]]]:
    """Let go of what a day must ride by itself; tell what is left, with its day."""
    left: list[tuple[int, Ride]] = []
    for number, day in enumerate(tour.days):
        rides = rides_of(day.problem)
        for ride in tuple(rides):
            fewer = [other for other in rides if other is not ride]
            without = _with(tour, number, demanding(tour.days[number].problem, fewer))
            if not _feasible(without):
                tour, rides = without, fewer
        left += [(number, ride) for ride in rides]
    return tour, left


def _needed_limits(tour: TourProblem) -> list[TourDemand]:
    """Let go of the limits of the days; tell those without which there is a dealing."""
    needed = []
    for number, day in enumerate(tour.days):
        for limit in _limits(day):
            without = _with(tour, number, limit.relax(tour.days[number].problem))
            if _feasible(without):
                needed.append(TourDemand(day=number, demand=limit.demand))
            else:
                tour = without
    return needed


def _feasible(tour: TourProblem) -> bool:
    """Return whether every day can have a plan, tried first with the demanded legs alone."""
    few = replace(tour, days=tuple(_few_legs(day, tour.musts) for day in tour.days))
    return any(Dealing(each).best().no_plan == 0 for each in (few, tour))


def _few_legs(day: DayToDeal, musts: frozenset[int]) -> DayToDeal:
    kept = {leg for ride in rides_of(day.problem) for leg in ride.legs}
    kept |= {leg for must in musts for leg in day.rides[must]}
    legs = tuple(
        leg if number in kept else replace(leg, ways=())
        for number, leg in enumerate(day.problem.legs)
    )
    return replace(day, problem=replace(day.problem, legs=legs))


def _limits(day: DayToDeal) -> Iterator[Limit]:
    """Yield the limits of a day; that a leg is ridden by itself or by its stand-in is none."""
    for limit in limits_of(day.problem):
        pair = limit.demand.kind is DemandKind.AT_MOST_ONE and any(
            limit.legs <= frozenset(numbers) for numbers in day.rides
        )
        if not pair:
            yield limit


def _with(tour: TourProblem, number: int, problem: DayProblem) -> TourProblem:
    days = list(tour.days)
    days[number] = replace(days[number], problem=problem)
    return replace(tour, days=tuple(days))


def _must(tour: TourProblem, leg: int) -> Demand:
    day = next(day for day in tour.days if day.rides[leg])
    ids = tuple(day.problem.legs[number].id for number in day.rides[leg])
    return Demand(kind=DemandKind.RIDE, legs=ids)
