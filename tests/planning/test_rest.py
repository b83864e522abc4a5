"""Breaks in the search, against every order, way, timing and break. All days are INVENTED."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import permutations, product
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.planning.day_search import solve
from replanner.planning.leg_rest import LegRest
from replanner.planning.problem import NEVER, DayProblem, LegWay
from replanner.planning.problem_file import read_problem
from replanner.planning.rest import Rest, RestSplit, split_by_rest
from tests.planning.day_problems import invented_problem, keeps_demands

Reached = dict[tuple[int, int], float]
"""Best value by slot and slots ridden since the last break: the judge's own count, exact."""

ANY = 10_000  # more places than any of these days can be split into


def best_by_enumeration(problem: DayProblem, rest: Rest) -> float | None:
    """Try every order of legs in every way, with a break wherever one can stand, or none."""
    values = []
    for count in range(len(problem.legs) + 1):
        for order in permutations(range(len(problem.legs)), count):
            if not keeps_demands(problem, order):
                continue
            for ways in product(*(range(len(problem.legs[leg].ways)) for leg in order)):
                value = _best_of(problem, rest, tuple(zip(order, ways, strict=True)))
                values += [] if value is None else [value - _order_price(problem, order)]
    return max(values, default=None)


def _best_of(problem: DayProblem, rest: Rest, choice: tuple[tuple[int, int], ...]) -> float | None:
    place = problem.start_place
    leaving = range(problem.earliest, problem.latest + 1)
    here: Reached = {(t, rest.ridden): 0.0 for t in leaving}
    for leg, number in choice:
        way, asked = problem.legs[leg].ways[number], rest.legs[leg][number]
        entry = _standing(problem, rest, way.start, _road(problem, rest, place, way.start, here))
        here, place = _ridden(problem, rest, way, asked, entry), way.end
    ends = _road(problem, rest, place, problem.end_place, here)
    finished = [
        value - float(problem.late[t])
        for (t, _), value in ends.items()
        if t <= problem.by and np.isfinite(problem.late[t])
    ]
    return max(finished, default=None)


def _ridden(
    problem: DayProblem, rest: Rest, way: LegWay, asked: LegRest, entry: Reached
) -> Reached:
    after: Reached = {}
    for (t, since), value in entry.items():
        if np.isfinite(way.worth[t]) and since + asked.before[t] <= rest.most:
            left = int(asked.after[t]) + (0 if asked.rests[t] else since)
            _keep(problem, after, t + int(way.ride_slots[t]), left, value + float(way.worth[t]))
    return after


def _road(problem: DayProblem, rest: Rest, start: int, end: int, here: Reached) -> Reached:
    """Wait or take a break, then ride a connector; a long one has breaks of its own."""
    ready = _standing(problem, rest, start, here)
    if start == end:
        return ready
    slots = int(rest.road_slots[start, end])
    own = max(int(np.ceil(slots / rest.most)) - 1, 0)
    in_one_go = int(np.ceil(slots / (own + 1)))
    there: Reached = {}
    for (t, since), value in ready.items():
        takes = int(problem.travel_slots[start, end, t])
        if takes == NEVER or since + in_one_go > rest.most:
            continue
        paid = float(problem.travel_cost[start, end, t])
        paid += own * rest.pause * problem.wait_cost_per_slot
        left = in_one_go if own else since + in_one_go
        _keep(problem, there, t + takes + own * rest.pause, left, value - paid)
    return there


def _standing(problem: DayProblem, rest: Rest, place: int, here: Reached) -> Reached:
    """Stand at a place for as long as one likes; for as long as a break, that is one."""
    found: Reached = dict(here)
    if place in problem.no_wait:
        return found
    for (t, since), value in here.items():
        for slots in range(1, problem.slots - t):
            paid = value - problem.wait_cost_per_slot * slots
            _keep(problem, found, t + slots, 0 if slots >= rest.pause else since, paid)
    return found


def _keep(problem: DayProblem, reached: Reached, t: int, since: int, value: float) -> None:
    if t < problem.slots:
        reached[t, since] = max(reached.get((t, since), float("-inf")), value)


def _order_price(problem: DayProblem, order: tuple[int, ...]) -> float:
    known = [problem.own_order.index(leg) for leg in order if leg in problem.own_order]
    return problem.order_cost * sum(a > b for n, a in enumerate(known) for b in known[n + 1 :])


def invented_rest(problem: DayProblem, seed: int) -> Rest:
    """Make riding up: of its own for each start of half the ways, a rest on a third of them."""
    random = Random(seed)
    most = random.randint(3, 9)

    def asked() -> LegRest:
        each = random.random() < 0.5
        drawn = [_drawn(random, most) for _ in range(problem.slots)]
        if not each:
            drawn = [drawn[0]] * problem.slots
        before, after, rests = zip(*drawn, strict=True)
        return LegRest(before=np.array(before), after=np.array(after), rests=np.array(rests))

    places = range(problem.places)
    road = np.array(
        [[0 if a == b else random.randint(0, 2 * most) for b in places] for a in places]
    )
    return Rest(
        most=most,
        pause=random.randint(1, 3),
        legs=tuple(tuple(asked() for _ in leg.ways) for leg in problem.legs),
        road_slots=road,
        ridden=random.choice([0, 0, random.randint(0, most)]),
    )


def _drawn(random: Random, most: int) -> tuple[int, int, bool]:
    whole = random.randint(0, most)
    if random.random() < 0.7:
        return whole, whole, False
    return random.randint(0, most), random.randint(0, most), True


def invented_day(seed: int, legs: int, slots: int = 16) -> tuple[DayProblem, Rest]:
    problem = read_problem(invented_problem(seed, legs, slots))
    first = np.s_[:, :, :1]  # roads as of built days: they take as long whenever they are left
    shape = problem.travel_slots.shape
    problem = replace(
        problem,
        travel_slots=np.broadcast_to(problem.travel_slots[first], shape).copy(),
        travel_cost=np.broadcast_to(problem.travel_cost[first], shape).copy(),
        no_wait=problem.no_wait - {problem.start_place},
    )
    return problem, invented_rest(problem, seed + 1)


def value_of(day: RestSplit) -> float | None:
    found = solve(day.problem)
    assert found.proven
    return None if found.solution is None else found.solution.value


def level_of(rest: Rest, day: RestSplit) -> Iterator[int]:
    """Ride the plan of a split day and tell the slots ridden in one go, by the judge's count."""
    plan = solve(day.problem).solution
    if plan is None:
        return
    place, since = day.problem.start_place, rest.ridden
    for visit in plan.visits:
        way = day.problem.legs[visit.leg].ways[visit.way]
        asked = rest.legs[visit.leg][day.ways[visit.leg][visit.way]]
        since = yield from _after_road(rest, day, place, way.start, since)
        yield since + int(asked.before[visit.start_slot])
        after = int(asked.after[visit.start_slot])
        since = after if asked.rests[visit.start_slot] else since + after
        place = way.end
    yield from _after_road(rest, day, place, day.problem.end_place, since)


def _after_road(rest: Rest, day: RestSplit, start: int, end: int, since: int) -> Iterator[int]:
    here, there = day.nodes[start][0], day.nodes[end][0]
    slots = 0 if here == there else int(rest.road_slots[here, there])
    pauses = [pause.value for pause in day.pauses.get((start, end), ())]
    own = pauses.count("on the way")
    if "before" in pauses:
        since = 0
    yield since + int(np.ceil(slots / (own + 1)))
    since = int(np.ceil(slots / (own + 1))) + (0 if own else since)
    return 0 if "after" in pauses else since


@given(st.integers(0, 2**32 - 1), st.integers(0, 3))
@settings(max_examples=150, deadline=None)
def test_the_best_day_with_breaks_is_that_of_all_orders_and_breaks(seed: int, legs: int) -> None:
    problem, rest = invented_day(seed, legs)
    day = split_by_rest(problem, rest, ANY)
    best = best_by_enumeration(problem, rest)
    assert value_of(day) == (None if best is None else pytest.approx(best))
    assert max(level_of(rest, day), default=0) <= rest.most


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=10, deadline=None)
def test_four_legs_with_breaks(seed: int) -> None:
    problem, rest = invented_day(seed, 4)
    best = best_by_enumeration(problem, rest)
    assert value_of(split_by_rest(problem, rest, ANY)) == (
        None if best is None else pytest.approx(best)
    )


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=60, deadline=None)
def test_split_into_few_places_the_plan_keeps_its_breaks_and_is_no_better(seed: int) -> None:
    problem, rest = invented_day(seed, 4)
    exact, coarse = split_by_rest(problem, rest, ANY), split_by_rest(problem, rest, 1)
    assert len(coarse.nodes) <= 2 * problem.places + 1
    best, told = value_of(exact), value_of(coarse)
    assert max(level_of(rest, coarse), default=0) <= rest.most
    if told is not None:
        assert best is not None
        assert told <= best + 1e-9


def test_levels_that_allow_the_same_are_one() -> None:
    """Legs of 10, 11 and 12 slots of 24, one base, by hand.

    Behind one of them any other fits, and no third: one level. Behind two none fits.
    """
    slots, rides = 120, (10, 11, 12)
    problem = read_problem(
        {
            **invented_problem(3, 0, slots),
            "travel_slots": [[0]],
            "travel_cost": [[0]],
            "no_wait": [],
            "start": {"place": 0, "earliest": 0, "latest": 5},
            "end": {"place": 0, "by": slots - 1, "late": [0] * slots},
            "legs": [
                {
                    "id": f"leg{ride}",
                    "must": False,
                    "ways": [{"from": 0, "to": 0, "ride_slots": ride, "worth": [0] * slots}],
                }
                for ride in rides
            ],
            "own_order": [0, 1, 2],
        }
    )

    def in_one_go(ride: int) -> LegRest:
        return LegRest(
            before=np.full(slots, ride),
            after=np.full(slots, ride),
            rests=np.zeros(slots, dtype=np.bool_),
        )

    rest = Rest(
        most=24,
        pause=3,
        legs=tuple((in_one_go(ride),) for ride in rides),
        road_slots=np.zeros((1, 1), dtype=np.int64),
    )
    day = split_by_rest(problem, rest, ANY)
    assert [level for _, level in day.nodes[:-1]] == [0, 12, 24]
