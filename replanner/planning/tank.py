"""Fuel in the day search: places are split by what has been ridden since the tank was full.

A day without regard to fuel is solved first. Where its plan runs dry, the kilometres ridden at each
place of the dry stretch become levels of those places, and the day is solved again: a place at a
level is a place of its own, ways and connectors lead from level to level, and none goes beyond
what the tank holds. Between levels the lower one counts, so no plan that could be ridden is lost
(each day solved is a bound on the true one), and the first plan that does not run dry is the best
of all. It ends: each round adds a level, and there are finitely many sums of kilometres.

Each round fills a table anew, so there should be few: places that are one, told apart by breaks
(`rest`), share their levels. The table grows with the places, so only what can be reached is made.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf
from types import MappingProxyType
from typing import TypeVar

import numpy as np

from replanner.planning.problem import NEVER, DayProblem, DaySolution, LegWay, Minutes, Slots, Visit
from replanner.trip.spans import Flags
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
    """The smallest tank on a day's roads.

    Parameters
    ----------
    usable_km : float
        How far it is planned to be ridden.
    rides : tuple of tuple of Ride
        By leg and way of the problem.
    road_km : ndarray, shape (P, P)
        Connectors of the problem; read only where there is a road. [km]
    begun_km : float
        Ridden since it was full when the day begins. [km]
    """

    usable_km: float
    rides: tuple[tuple[Ride, ...], ...]
    road_km: Floats
    begun_km: float = 0.0

    def reaches(self, km: float) -> bool:
        """Return whether so much can be ridden since the tank was full."""
        return km <= self.usable_km + 10.0**-_WHOLE

    def never_binds(self) -> bool:
        """Return whether all legs and the longest roads between them fit into one tank."""
        legs = sum(max((_all_of(ride) for ride in ways), default=0.0) for ways in self.rides)
        longest = float(np.nan_to_num(self.road_km, nan=0.0).max(initial=0.0))
        return self.reaches(self.begun_km + legs + longest * (len(self.rides) + 1))


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


def _stages(
    problem: DayProblem, tank: Tank, roads: list[list[float]], plan: DaySolution
) -> Iterator[_Stage]:
    """Ride a plan, whatever the tank holds."""
    place, used = problem.start_place, tank.begun_km
    for visit in plan.visits:
        way = problem.legs[visit.leg].ways[visit.way]
        ride = tank.rides[visit.leg][visit.way]
        begun = _sum(used, roads[place][way.start])
        used = _sum(begun, ride.before) if ride.after is None else _sum(ride.after)
        place = way.end
        yield _Stage(visit=visit, ride=ride, start=(way.start, begun), end=(place, used))


def first_dry(problem: DayProblem, tank: Tank, plan: DaySolution) -> Dry | None:
    """Ride a plan and return where it first runs dry; None: nowhere."""
    place, used, roads = problem.start_place, tank.begun_km, _roads(tank)
    reached: list[tuple[int, float]] = []
    for stage in _stages(problem, tank, roads, plan):
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
    used = _sum(used, roads[place][problem.end_place])
    return None if tank.reaches(used) else Dry(reached=tuple(reached), leg=None, km=used)


def longest_stretch(problem: DayProblem, tank: Tank, plan: DaySolution) -> float:
    """Return the longest stretch of a plan from fuel to fuel. [km]."""
    longest = 0.0
    while (dry := first_dry(problem, replace(tank, usable_km=longest), plan)) is not None:
        longest = dry.km
    return longest


def finer(tank: Tank, levels: Levels, reached: Iterable[tuple[int, float]]) -> Levels:
    """Return the levels with those at which places were reached, so that these are told apart.

    So they are at all places without a kilometre between them: they are one, told apart by
    something else, and the next plan would only be reached there by another of them.
    """
    found = dict(levels)
    for place, km in reached:
        same = (tank.road_km[place] == 0.0) & (tank.road_km[:, place] == 0.0)
        for one in {place, *np.flatnonzero(same).tolist()}:
            found[one] = found.get(one, frozenset()) | {km}
    return found


def ridden_levels(problem: DayProblem, tank: Tank, plan: DaySolution) -> Levels:
    """Return the kilometres since the tank was full at each place of a plan that lasts."""
    stages = _stages(problem, tank, _roads(tank), plan)
    return finer(tank, NO_LEVELS, (end for stage in stages for end in (stage.start, stage.end)))


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
    morning = problem.start_place, tank.begun_km
    steps = [sorted(levels.get(place, frozenset()) | {0.0}) for place in range(problem.places)]
    moves = _Moves(problem, tank, steps, safe=safe)
    rides, left = _reached(morning, moves)
    nodes = sorted(rides.keys() | left)
    numbers = {node: number for number, node in enumerate(nodes)}
    places = (*(place for place, _ in nodes), problem.end_place)
    last = len(nodes)
    led = np.zeros((last + 1, last + 1), dtype=np.bool_)
    for node in left:
        number = numbers[node]
        led[number, [numbers[there] for there in moves.roads(node) if there in rides]] = True
        led[number, last] = moves.closes(node)
    travel, cost = _led(problem, places, led)
    arcs = sorted(
        (leg, way, node, there) for node, ridden in rides.items() for leg, way, there in ridden
    )
    made: list[list[tuple[int, LegWay]]] = [[] for _ in problem.legs]
    for leg, way, node, there in arcs:
        was, start, end = problem.legs[leg].ways[way], numbers[node], numbers[there]
        at = LegWay(start=start, end=end, ride_slots=was.ride_slots, worth=was.worth)
        made[leg].append((way, at))
    begin = numbers[morning]
    for whole, ways in zip(problem.legs, made, strict=True):
        if whole.ways and not ways:
            ways.append((0, _never(whole.ways[0], begin)))
    return Split(
        problem=replace(
            problem,
            travel_slots=travel,
            travel_cost=cost,
            no_wait=frozenset(n for n, place in enumerate(places) if place in problem.no_wait),
            start_place=begin,
            end_place=last,
            legs=tuple(
                replace(leg, ways=tuple(way for _, way in ways))
                for leg, ways in zip(problem.legs, made, strict=True)
            ),
            optimum=None,
        ),
        places=places,
        ways=tuple(tuple(number for number, _ in ways) for ways in made),
    )


def _led(problem: DayProblem, places: tuple[int, ...], led: Flags) -> tuple[Slots, Minutes]:
    """Give the connectors between places of a split day, and their prices; few are led."""
    np.fill_diagonal(led, val=True)
    here, there = np.nonzero(led)
    of = np.array(places, dtype=np.int64)
    shape = (*led.shape, problem.travel_slots.shape[2])
    travel, cost = np.full(shape, NEVER, dtype=problem.travel_slots.dtype), np.zeros(shape)
    travel[here, there] = problem.travel_slots[of[here], of[there]]
    cost[here, there] = problem.travel_cost[of[here], of[there]]
    stays = led[:, -1] & (of == problem.end_place)  # staying takes nothing and costs nothing
    travel[stays, -1], cost[stays, -1] = 0, 0.0
    return travel, cost


Node = tuple[int, float]
"""A place, and the kilometres since the tank was full as they count there."""


Ridden = tuple[int, int, Node]
"""A leg, a way of it, and where it leads."""


class _Moves:
    """What leads from place to place of a day, each at a level.

    `steps` are the levels by place, rising; `safe` as in `split`.
    """

    def __init__(
        self, problem: DayProblem, tank: Tank, steps: Sequence[Sequence[float]], *, safe: bool
    ) -> None:
        self._problem, self._tank, self._steps, self._safe = problem, tank, steps, safe
        self._road_km = _roads(tank)
        met = (problem.travel_slots != NEVER).any(axis=2)
        np.fill_diagonal(met, val=True)
        entries = sorted({way.start for leg in problem.legs for way in leg.ways})
        self._next = [[to for to in entries if met[place, to]] for place in range(problem.places)]
        self._ways: dict[int, list[tuple[int, int]]] = {place: [] for place in entries}
        for j, leg in enumerate(problem.legs):
            for m, way in enumerate(leg.ways):
                ride = tank.rides[j][m]
                if tank.reaches(max(ride.between, ride.after or 0.0)):
                    self._ways[way.start].append((j, m))

    def _there(self, place: int, km: float) -> Node:
        steps = self._steps[place]
        if self._safe:  # what is within the usual rounding of a full tank counts as that
            return place, steps[min(bisect_left(steps, _sum(km)), len(steps) - 1)]
        return place, steps[bisect_right(steps, _sum(km)) - 1]

    def roads(self, node: Node) -> list[Node]:
        """Return where legs can be begun next."""
        place, km = node
        ridden = ((to, _sum(km, self._road_km[place][to])) for to in self._next[place])
        return [self._there(to, used) for to, used in ridden if self._tank.reaches(used)]

    def closes(self, node: Node) -> bool:
        """Return whether the end of the day is within reach."""
        place, km = node
        return self._tank.reaches(_sum(km, self._road_km[place][self._problem.end_place]))

    def rides(self, node: Node) -> Iterator[Ridden]:
        """Yield the legs that can be begun there without running dry."""
        place, km = node
        for leg, way in self._ways[place]:
            ride = self._tank.rides[leg][way]
            if self._tank.reaches(km + ride.before):
                after = km + ride.before if ride.after is None else ride.after
                yield leg, way, self._there(self._problem.legs[leg].ways[way].end, after)


def _reached(start: Node, moves: _Moves) -> tuple[dict[Node, list[Ridden]], set[Node]]:
    """Return what can be ridden from each node at which legs begin, and where roads are taken."""
    entered: dict[Node, list[Ridden]] = {}
    left, new = {start}, [start]
    while new:
        for entry in moves.roads(new.pop()):
            if entry in entered:
                continue
            entered[entry] = list(moves.rides(entry))
            found = {end for _, _, end in entered[entry]} - left
            left |= found
            new.extend(found)
    return {node: ridden for node, ridden in entered.items() if ridden}, left


def _never(way: LegWay, start: int) -> LegWay:
    """Return a way that cannot be ridden: a leg without any could not be told of."""
    never = way.without(np.ones(way.worth.shape, dtype=np.bool_))
    return replace(never, start=start, end=start)


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
        found, drier = _answered(problem, tank, day, answer, levels)
        if drier is None:
            return found, levels
        levels = drier


def _answered(
    problem: DayProblem,
    tank: Tank,
    day: Split,
    answer: Callable[[Split], tuple[Answer, Iterable[DaySolution | None]]],
    levels: Levels,
) -> tuple[Answer | None, Levels | None]:
    """Return the answer of a split day, or the levels it is to be split by.

    An answer that does not stand is let go: it may keep the tables of a search.
    """
    found, plans = answer(day)
    drier = finer_where_dry(problem, tank, day, plans, levels)
    return (found, None) if drier is None else (None, drier)


def finer_where_dry(
    problem: DayProblem,
    tank: Tank,
    day: Split,
    plans: Iterable[DaySolution | None],
    levels: Levels,
) -> Levels | None:
    """Return the levels with those at which plans of a split day run dry; None: none does."""
    told = (day.whole(plan) for plan in plans if plan is not None)
    dry = [one for plan in told if (one := first_dry(problem, tank, plan)) is not None]
    for one in dry:
        levels = finer(tank, levels, one.reached)
    return levels if dry else None
