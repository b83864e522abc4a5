"""Fuel in the day search: places are split by what has been ridden since the tank was full.

A day without regard to fuel is solved first. Where its plan runs dry, the kilometres ridden at each
place of the dry stretch become levels of those places, and the day is solved again: a place at a
level is a place of its own, ways and connectors lead from level to level, and none goes beyond
what the tank holds. Between levels the lower one counts, so no plan that could be ridden is lost
(each day solved is a bound on the true one), and the first plan that does not run dry is the best
of all. It ends: each round adds a level, and there are finitely many sums of kilometres.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from math import inf
from types import MappingProxyType
from typing import TypeVar

import numpy as np

from replanner.planning.problem import NEVER, DayProblem, DaySolution, LegWay, Visit
from replanner.units import Floats

Answer = TypeVar("Answer")

Levels = Mapping[int, frozenset[float]]
"""By place the kilometres since the tank was full that are told apart; 0 always is."""

NO_LEVELS: Levels = MappingProxyType({})
_WHOLE = 6  # decimals of a kilometre that count: sums in another order are one level


@dataclass(frozen=True, slots=True, kw_only=True)
class Ride:
    """What one way of a leg takes from the tank. [km].

    Parameters
    ----------
    before : float
        To the first pump on it; where there is none, the whole of it.
    between : float
        The longest stretch from pump to pump.
    after : float or None
        From the last pump to the end; None: no pump.
    """

    before: float
    between: float = 0.0
    after: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tank:
    """The smallest tank on a day's roads, full in the morning.

    Parameters
    ----------
    usable_km : float
        How far it is planned to be ridden.
    rides : tuple of tuple of Ride
        By leg and way of the problem.
    road_km : ndarray, shape (P, P)
        Connectors of the problem; read only where there is a road. [km]
    """

    usable_km: float
    rides: tuple[tuple[Ride, ...], ...]
    road_km: Floats

    def reaches(self, km: float) -> bool:
        """Return whether so much can be ridden since the tank was full."""
        return km <= self.usable_km + 10.0**-_WHOLE

    def never_binds(self) -> bool:
        """Return whether all legs and the longest roads between them fit into one tank."""
        legs = sum(max((_all_of(ride) for ride in ways), default=0.0) for ways in self.rides)
        longest = float(np.nan_to_num(self.road_km, nan=0.0).max(initial=0.0))
        return self.reaches(legs + longest * (len(self.rides) + 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Dry:
    """Where a plan runs dry.

    Parameters
    ----------
    reached : tuple of (int, float)
        Places reached since the tank was full, with the kilometres ridden until then.
    leg : int or None
        The leg on which, or on whose connector, the tank is empty; None: on the last connector.
    km : float
        What the stretch takes up to the next pump or the end of that leg or connector.
    """

    reached: tuple[tuple[int, float], ...]
    leg: int | None
    km: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """A problem split by levels, and what it is in the problem as it was.

    Parameters
    ----------
    problem : DayProblem
    places : tuple of int
        By place of the split problem the place it was.
    ways : tuple of tuple of int
        By leg and way of the split problem the way it was.
    """

    problem: DayProblem
    places: tuple[int, ...]
    ways: tuple[tuple[int, ...], ...]

    def whole(self, solution: DaySolution) -> DaySolution:
        """Return a plan of the split problem as one of the problem as it was."""
        visits = tuple(
            Visit(visit.leg, self.ways[visit.leg][visit.way], visit.start_slot)
            for visit in solution.visits
        )
        return replace(solution, visits=visits)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stage:
    """A leg of a plan, with the kilometres since the tank was full at both its ends."""

    visit: Visit
    ride: Ride
    start: tuple[int, float]
    end: tuple[int, float]


def _stages(problem: DayProblem, tank: Tank, plan: DaySolution) -> Iterator[_Stage]:
    """Ride a plan, whatever the tank holds."""
    place, used, roads = problem.start_place, 0.0, _roads(tank)
    for visit in plan.visits:
        way = problem.legs[visit.leg].ways[visit.way]
        ride = tank.rides[visit.leg][visit.way]
        begun = _sum(used, roads[place][way.start])
        used = _sum(begun, ride.before) if ride.after is None else _sum(ride.after)
        place = way.end
        yield _Stage(visit=visit, ride=ride, start=(way.start, begun), end=(place, used))


def first_dry(problem: DayProblem, tank: Tank, plan: DaySolution) -> Dry | None:
    """Ride a plan and return where it first runs dry; None: nowhere."""
    place, used = problem.start_place, 0.0
    reached: list[tuple[int, float]] = []
    for stage in _stages(problem, tank, plan):
        leg, ride = stage.visit.leg, stage.ride
        reached.append(stage.start)
        to_pump = stage.start[1] + ride.before
        if not tank.reaches(to_pump):
            return Dry(reached=tuple(reached), leg=leg, km=to_pump)
        for stretch in (ride.between, ride.after or 0.0):
            if not tank.reaches(stretch):
                return Dry(reached=(), leg=leg, km=stretch)
        if ride.after is not None:
            reached.clear()
        reached.append(stage.end)
        place, used = stage.end
    used = _sum(used, _roads(tank)[place][problem.end_place])
    return None if tank.reaches(used) else Dry(reached=tuple(reached), leg=None, km=used)


def longest_stretch(problem: DayProblem, tank: Tank, plan: DaySolution) -> float:
    """Return the longest stretch of a plan from fuel to fuel. [km]."""
    longest = 0.0
    while (dry := first_dry(problem, replace(tank, usable_km=longest), plan)) is not None:
        longest = dry.km
    return longest


def finer(levels: Levels, reached: Iterable[tuple[int, float]]) -> Levels:
    """Return the levels with those at which places were reached, so that these are told apart."""
    found = dict(levels)
    for place, km in reached:
        found[place] = found.get(place, frozenset()) | {km}
    return found


def ridden_levels(problem: DayProblem, tank: Tank, plan: DaySolution) -> Levels:
    """Return the kilometres since the tank was full at each place of a plan that lasts."""
    stages = _stages(problem, tank, plan)
    return finer(NO_LEVELS, (end for stage in stages for end in (stage.start, stage.end)))


def joined(*several: Levels) -> Levels:
    """Return the levels of all."""
    places = {place for levels in several for place in levels}
    return {
        place: frozenset().union(*(levels.get(place, frozenset()) for levels in several))
        for place in places
    }


def split(problem: DayProblem, tank: Tank, levels: Levels, *, safe: bool = False) -> Split:
    """Split a problem by levels; only its end, which comes last, is told apart by none.

    Parameters
    ----------
    safe : bool
        Between levels the higher one counts, not the lower: then no plan runs dry, but some that
        would last are lost.
    """
    if safe:
        full = dict.fromkeys(range(problem.places), frozenset({tank.usable_km}))
        levels = joined(levels, full)
    nodes = [
        (place, km)
        for place in range(problem.places)
        for km in sorted(levels.get(place, frozenset()) | {0.0})
    ]
    numbers = {node: number for number, node in enumerate(nodes)}
    steps = [[km for at, km in nodes if at == place] for place in range(problem.places)]
    roads = _roads(tank)

    def there(place: int, km: float) -> int:
        if safe:  # what is within the usual rounding of a full tank counts as that
            above = min(bisect_left(steps[place], _sum(km)), len(steps[place]) - 1)
            return numbers[place, steps[place][above]]
        return numbers[place, steps[place][bisect_right(steps[place], _sum(km)) - 1]]

    def standing(place: int) -> list[tuple[int, float]]:
        return [(numbers[place, km], km) for km in steps[place]]

    places = (*(place for place, _ in nodes), problem.end_place)
    end = len(nodes)
    pairs = np.ix_(places, places)
    travel, cost = problem.travel_slots[pairs].copy(), problem.travel_cost[pairs].copy()
    led = np.zeros((end + 1, end + 1), dtype=np.bool_)
    for number, (place, km) in enumerate(nodes):
        for to in range(problem.places):
            used = _sum(km, roads[place][to])
            if tank.reaches(used):
                led[number, there(to, used)] = True
        led[number, end] = tank.reaches(_sum(km, roads[place][problem.end_place]))
        if place == problem.end_place:  # staying takes nothing and costs nothing
            travel[number, end], cost[number, end] = 0, 0.0
    np.fill_diagonal(led, val=True)
    travel[~led] = NEVER
    made = [
        [
            (number, replace(way, start=at, end=end_at))
            for number, (way, ride) in enumerate(zip(leg.ways, rides, strict=True))
            for at, end_at in _arcs(way, ride, tank, standing(way.start), there)
        ]
        or [(number, _never(way, numbers)) for number, way in enumerate(leg.ways[:1])]
        for leg, rides in zip(problem.legs, tank.rides, strict=True)
    ]
    legs = tuple(
        replace(leg, ways=tuple(way for _, way in ways))
        for leg, ways in zip(problem.legs, made, strict=True)
    )
    return Split(
        problem=replace(
            problem,
            travel_slots=travel,
            travel_cost=cost,
            no_wait=frozenset(n for n, place in enumerate(places) if place in problem.no_wait),
            start_place=numbers[problem.start_place, 0.0],
            end_place=end,
            legs=legs,
            optimum=None,
        ),
        places=places,
        ways=tuple(tuple(number for number, _ in ways) for ways in made),
    )


def _arcs(
    way: LegWay,
    ride: Ride,
    tank: Tank,
    standing: Iterable[tuple[int, float]],
    there: Callable[[int, float], int],
) -> list[tuple[int, int]]:
    """Return from where to where a way of a leg leads, place and level in one.

    `standing` are the numbers and kilometres of the levels of the place it starts at.
    """
    if not tank.reaches(max(ride.between, ride.after or 0.0)):
        return []
    return [
        (number, there(way.end, km + ride.before if ride.after is None else ride.after))
        for number, km in standing
        if tank.reaches(km + ride.before)
    ]


def _never(way: LegWay, numbers: Mapping[tuple[int, float], int]) -> LegWay:
    """Return a way that cannot be ridden: a leg without any could not be told of."""
    never = way.without(np.ones(way.worth.shape, dtype=np.bool_))
    return replace(never, start=numbers[way.start, 0.0], end=numbers[way.end, 0.0])


def _roads(tank: Tank) -> list[list[float]]:
    """Return the kilometres of the connectors; where there is none it is never ridden."""
    roads = np.nan_to_num(tank.road_km, nan=0.0)
    np.fill_diagonal(roads, 0.0)
    found: list[list[float]] = roads.tolist()
    return found


def _all_of(ride: Ride) -> float:
    return ride.before + ride.between + (ride.after or 0.0)


def _sum(*km: float) -> float:
    return round(sum(km), _WHOLE)


def until_none_runs_dry(
    problem: DayProblem,
    tank: Tank,
    answer: Callable[[Split], tuple[Answer, Iterable[DaySolution | None]]],
    levels: Levels,
    most_places: float = inf,
) -> tuple[Answer | None, Levels]:
    """Answer questions about a day, split finer until no plan of the answer runs dry.

    Parameters
    ----------
    answer : callable
        From a split day to the answer and all plans in it, in the numbers of the split day.
    levels : mapping
        From an earlier answer of the same day, or empty.
    most_places : float
        Into how many places the day may be split.

    Returns
    -------
    tuple
        The answer, and the levels it took; None: it would take more places.
    """
    while True:
        day = split(problem, tank, levels)
        if len(day.places) > most_places:
            return None, levels
        found, plans = answer(day)
        told = (day.whole(plan) for plan in plans if plan is not None)
        dry = [one for plan in told if (one := first_dry(problem, tank, plan)) is not None]
        if not dry:
            return found, levels
        for one in dry:
            levels = finer(levels, one.reached)
