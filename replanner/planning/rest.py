"""Breaks in the day search: places are split by what has been ridden since the last one.

Riding is counted in whole slots, begun ones whole: so no more is ever ridden in one go than the
rider wants, and there are few levels. A place at a level is a place of its own in
`replanner-problem-1`; a break is a connector from there to the place at level 0, as long and as
dear as waiting for it. Levels of a place that allow the same of all that can follow are one, so
nothing is lost by it (`_Needs`); only what can be reached is made.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from replanner.planning.leg_rest import LegRest
from replanner.planning.problem import NEVER, DayProblem, DaySolution, LegWay, Visit
from replanner.trip.spans import Flags

Node = tuple[int, int]
"""A place, and the slots ridden since the last break as they count there."""


class Where(StrEnum):
    """Where on the way from leg to leg a break is taken."""

    BEFORE = "before"  # at the place the road leads from
    ON_THE_WAY = "on the way"
    AFTER = "after"  # at the place it leads to


Pauses = tuple[Where, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """What a day's roads ask of its riders.

    Parameters
    ----------
    most : int
        Slots that may be ridden in one go.
    pause : int
        Slots of a break.
    legs : tuple of tuple of LegRest
        By leg and way of the problem.
    road_slots : ndarray of int, shape (P, P)
        Connectors of the problem, begun slots counted whole; read only where there is a road.
    ridden : int
        Slots ridden since the last break when the day begins.
    """

    most: int
    pause: int
    legs: tuple[tuple[LegRest, ...], ...]
    road_slots: NDArray[np.int64]
    ridden: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class RestSplit:
    """A problem split by levels, and what it is in the problem as it was.

    Parameters
    ----------
    problem : DayProblem
    nodes : tuple of Node
        By place of the split problem; its end, which comes last, is told apart by nothing.
    ways : tuple of tuple of int
        By leg and way of the split problem the way it was.
    pauses : mapping
        From place to place of the split problem the breaks on that connector, where any.
    """

    problem: DayProblem
    nodes: tuple[Node, ...]
    ways: tuple[tuple[int, ...], ...]
    pauses: Mapping[tuple[int, int], Pauses]

    def whole(self, solution: DaySolution) -> DaySolution:
        """Return a plan of the split problem as one of the problem as it was."""
        visits = tuple(
            Visit(visit.leg, self.ways[visit.leg][visit.way], visit.start_slot)
            for visit in solution.visits
        )
        return replace(solution, visits=visits)


@dataclass(frozen=True, slots=True)
class _Ride:
    """Starts of a way that ask for the same riding."""

    leg: int
    way: int
    start: int
    end: int
    before: int
    after: int
    rests: bool
    starts: Flags


@dataclass(frozen=True, slots=True)
class _Arc:
    """A connector ridden with so many breaks, and the level it leads to."""

    pauses: Pauses
    level: int


def split_by_rest(problem: DayProblem, rest: Rest, most_nodes: int) -> RestSplit:
    """Split a problem by the riding since the last break, so that every plan of it keeps breaks.

    Parameters
    ----------
    problem : DayProblem
        Its connectors take as long whenever they are left.
    most_nodes : int
        Into how many places the day is split at most. Where exact levels are more, coarser ones
        count, always the higher one: plans keep their breaks, and take some too early.
    """
    rides = _rides(problem, rest)
    coarse = 1
    while True:
        levels = _Levels(problem, rest, rides, coarse)
        reached = _reached(levels, most_nodes)
        if reached is not None:
            return _split(problem, rest, levels, reached)
        if coarse >= rest.most:
            raise AssertionError("two levels a place are within what is allowed")
        coarse = min(2 * coarse, rest.most)


class _Levels:
    """Which levels of each place are told apart, and what leads from one to another."""

    def __init__(
        self, problem: DayProblem, rest: Rest, rides: Sequence[_Ride], coarse: int
    ) -> None:
        self.problem, self.rest, self.rides = problem, rest, rides
        self._coarse = coarse
        self.joined = (problem.travel_slots != NEVER).any(axis=2)
        self.entries = tuple(sorted({ride.start for ride in rides}))
        self._needs = _needs(self)
        self.start = (problem.start_place, self.counted(problem.start_place, rest.ridden))

    def counted(self, place: int, level: int) -> int:
        """Return the highest level at which the same can follow as at this one."""
        most = self.rest.most
        level = min(-(-level // self._coarse) * self._coarse, most)
        fitting = self._needs[place] & ((1 << (most - level + 1)) - 1)
        return most - (fitting.bit_length() - 1)

    def road(self, start: int, end: int) -> tuple[int, int]:
        """Return the breaks of its own a connector has, and the riding in one go."""
        slots = 0 if start == end else int(self.rest.road_slots[start, end])
        count = max(-(-slots // self.rest.most) - 1, 0)
        return count, -(-slots // (count + 1))

    def arcs(self, node: Node, end: int, *, closing: bool = False) -> list[_Arc]:
        """Return the connectors to a place worth taking, none with both more breaks and level."""
        start, level = node
        if start != end and not self.joined[start, end]:
            return []
        count, ridden = self.road(start, end)
        own = (Where.ON_THE_WAY,) * count
        found: list[_Arc] = []
        for first, begun in (((), level), ((Where.BEFORE,), 0)):
            if first and (level == 0 or not self._stops(start)):
                continue
            if begun + ridden > self.rest.most:
                continue
            after = ridden if count else begun + ridden
            found.append(_Arc((*first, *own), 0 if closing else self.counted(end, after)))
            if after and not closing and self._stops(end) and (start != end or not first):
                found.append(_Arc((*first, *own, Where.AFTER), self.counted(end, 0)))
        if start == end and not closing:  # a break that changes nothing is waiting
            found = [arc for arc in found if not arc.pauses or arc.level < level]
        found.sort(key=lambda arc: (len(arc.pauses), arc.level))
        kept: list[_Arc] = []
        for arc in found:
            if not kept or arc.level < kept[-1].level:
                kept.append(arc)
        return kept

    def _stops(self, place: int) -> bool:
        """Return whether one can stand there; where the day begins on the road, by the road."""
        return place not in self.problem.no_wait or place == self.problem.start_place

    def after(self, ride: _Ride, level: int) -> Node | None:
        """Return where a ride begun at a level leads; None: it asks for a break first."""
        if level + ride.before > self.rest.most:
            return None
        return ride.end, self.counted(ride.end, ride.after if ride.rests else level + ride.after)


def _needs(levels: _Levels) -> list[int]:
    """Return by place the sums of riding that can follow without a break, as bits; 0 always can.

    Which legs have been ridden is not asked: some sums may never come, none is missed.
    """
    rest, problem = levels.rest, levels.problem
    full = (1 << (rest.most + 1)) - 1
    needs = [1] * problem.places
    at_entry: dict[int, set[tuple[int, int, int]]] = {place: set() for place in levels.entries}
    for ride in levels.rides:
        end = -1 if ride.rests else ride.end
        at_entry[ride.start].add((ride.before, ride.after, end))
    before: list[int] = []
    while needs != before:
        before = list(needs)
        entry = {place: _on_legs(rides, needs) & full for place, rides in at_entry.items()}
        for place in range(problem.places):
            for end in (*entry, problem.end_place):
                if place != end and not levels.joined[place, end]:
                    continue
                count, ridden = levels.road(place, end)
                goes_on = entry.get(end, 0) if count == 0 else 0
                needs[place] |= (1 << ridden | goes_on << ridden) & full
    return needs


def _on_legs(rides: Iterable[tuple[int, int, int]], needs: Sequence[int]) -> int:
    """Return the sums that riding a leg can begin: to its first rest, and on where it has none."""
    sums = 0
    for before, whole, end in rides:
        sums |= 1 << before | (0 if end < 0 else needs[end] << whole)
    return sums


def _rides(problem: DayProblem, rest: Rest) -> list[_Ride]:
    """Return the ways of riding, each parted by what riding it asks for from its starts."""
    found: list[_Ride] = []
    for leg, (in_problem, rests) in enumerate(zip(problem.legs, rest.legs, strict=True)):
        for number, (way, ridden) in enumerate(zip(in_problem.ways, rests, strict=True)):
            may = np.isfinite(way.worth)
            asked = np.stack([ridden.before, ridden.after, ridden.rests.astype(np.int64)])
            for before, after, stops in np.unique(asked[:, may], axis=1).T.tolist():
                starts = may & (asked == np.array([[before], [after], [stops]])).all(axis=0)
                found.append(
                    _Ride(leg, number, way.start, way.end, before, after, bool(stops), starts)
                )
    return found


@dataclass(frozen=True, slots=True)
class _Reached:
    """All nodes a day can come to, and those of them from which roads are taken."""

    nodes: tuple[Node, ...]
    left: frozenset[Node]


def _reached(levels: _Levels, most_nodes: int) -> _Reached | None:
    """Return the nodes a day can come to; None: more than are allowed."""
    by_start: dict[int, list[_Ride]] = {place: [] for place in levels.entries}
    for ride in levels.rides:
        by_start[ride.start].append(ride)
    entered: dict[Node, None] = {}
    left: dict[Node, None] = {levels.start: None}
    new = [levels.start]
    while new:
        node = new.pop()
        for place in levels.entries:
            for arc in levels.arcs(node, place):
                entry = (place, arc.level)
                if entry in entered:
                    continue
                entered[entry] = None
                for ride in by_start[place]:
                    there = levels.after(ride, arc.level)
                    if there is not None and there not in left:
                        left[there] = None
                        new.append(there)
        places = 2 * levels.problem.places  # as many as the coarsest levels may need
        if len({**entered, **left}) > max(most_nodes, places):
            return None
    return _Reached(tuple(sorted({**left, **entered})), frozenset(left))


def _split(problem: DayProblem, rest: Rest, levels: _Levels, reached: _Reached) -> RestSplit:
    nodes = reached.nodes
    numbers = {node: number for number, node in enumerate(nodes)}
    end = len(nodes)
    places = (*(place for place, _ in nodes), problem.end_place)
    pairs = np.ix_(places, places)
    travel, cost = problem.travel_slots[pairs].copy(), problem.travel_cost[pairs].copy()
    led = np.zeros((end + 1, end + 1), dtype=np.bool_)
    pauses: dict[tuple[int, int], Pauses] = {}
    for number, node in enumerate(nodes):
        if node not in reached.left:
            continue
        for place in (*levels.entries, None):
            to = problem.end_place if place is None else place
            for arc in levels.arcs(node, to, closing=place is None):
                there = end if place is None else numbers[to, arc.level]
                if led[number, there]:
                    continue  # with fewer breaks
                led[number, there] = True
                if node[0] == to:
                    travel[number, there], cost[number, there] = 0, 0.0
                if arc.pauses:
                    pauses[number, there] = arc.pauses
                    slots = rest.pause * len(arc.pauses)
                    travel[number, there] += np.where(travel[number, there] == NEVER, 0, slots)
                    cost[number, there] += slots * problem.wait_cost_per_slot
    np.fill_diagonal(led, val=True)
    travel[~led] = NEVER
    made = [_ways(problem, levels, nodes, numbers, leg) for leg in range(len(problem.legs))]
    return RestSplit(
        problem=replace(
            problem,
            travel_slots=travel,
            travel_cost=cost,
            no_wait=frozenset(n for n, place in enumerate(places) if place in problem.no_wait),
            start_place=numbers[levels.start],
            end_place=end,
            legs=tuple(
                replace(leg, ways=tuple(way for _, way in ways))
                for leg, ways in zip(problem.legs, made, strict=True)
            ),
            optimum=None,
        ),
        nodes=(*nodes, (problem.end_place, 0)),
        ways=tuple(tuple(number for number, _ in ways) for ways in made),
        pauses=pauses,
    )


def _ways(
    problem: DayProblem,
    levels: _Levels,
    nodes: Iterable[Node],
    numbers: Mapping[Node, int],
    leg: int,
) -> list[tuple[int, LegWay]]:
    """Return the ways of a leg from level to level, with the way each was."""
    made = list(_led(problem, levels, nodes, numbers, leg))
    if made or not problem.legs[leg].ways:
        return made
    way = problem.legs[leg].ways[0]  # a leg without any way could not be told of
    never = way.without(np.ones(way.worth.shape, dtype=np.bool_))
    start = numbers[levels.start]
    return [(0, replace(never, start=start, end=start))]


def _led(
    problem: DayProblem,
    levels: _Levels,
    nodes: Iterable[Node],
    numbers: Mapping[Node, int],
    leg: int,
) -> Iterator[tuple[int, LegWay]]:
    rides = [ride for ride in levels.rides if ride.leg == leg]
    for node in nodes:
        starts: dict[tuple[int, Node], Flags] = {}
        for ride in rides:
            there = levels.after(ride, node[1]) if ride.start == node[0] else None
            if there is None or there not in numbers:  # as exact a node is never entered
                continue
            key = (ride.way, there)
            starts[key] = starts[key] | ride.starts if key in starts else ride.starts
        for (number, there), some in starts.items():
            way = problem.legs[leg].ways[number].without(~some)
            yield number, replace(way, start=numbers[node], end=numbers[there])
