"""The hours told do not hang on how legs, ways and places are numbered; problems are INVENTED."""

from dataclasses import replace
from random import Random
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.planning.day_arrays import day_arrays
from replanner.planning.day_search import DaySearch
from replanner.planning.order_timing import time_order
from replanner.planning.problem import DayProblem, LegWay, ProblemLeg, Visit
from replanner.planning.problem_file import read_problem
from tests.planning.day_problems import invented_problem
from tests.planning.test_search import by_two_passes

pytestmark = pytest.mark.usefixtures("loops")

MANY = settings(max_examples=150, deadline=None)


class Numbering(NamedTuple):
    """New numbers of places and legs by the old ones, and how the ways of each leg are shuffled."""

    places: list[int]
    legs: list[int]
    ways: list[list[int]]


def drawn(problem: DayProblem, random: Random) -> Numbering:
    places, legs = list(range(problem.places)), list(range(len(problem.legs)))
    ways = [list(range(len(leg.ways))) for leg in problem.legs]
    for numbers in (places, legs, *ways):
        random.shuffle(numbers)
    return Numbering(places, legs, ways)


def full_of_ties(seed: int, legs: int) -> DayProblem:
    """Make a day up in which only the hours tell one way of riding a leg from another.

    Legs begin at few hours, as boats do: before them there is time to lose.
    """
    random = Random(seed)
    problem = read_problem(invented_problem(seed, legs, 14))

    def sailing() -> ProblemLeg:
        hours = np.isin(np.arange(problem.slots), random.sample(range(problem.slots), 4))
        ways = tuple(
            LegWay(
                start=random.randrange(problem.places),
                end=random.randrange(problem.places),
                ride_slots=np.full(problem.slots, random.randint(0, 2)),
                worth=np.where(hours, 10.0, -np.inf),
            )
            for _ in range(4)
        )
        return ProblemLeg(id="boat", must=False, ways=ways)

    travel = np.array(
        [[random.randint(0, 1) for _ in range(problem.places)] for _ in range(problem.places)]
    )
    np.fill_diagonal(travel, 0)
    return replace(
        problem,
        travel_slots=np.repeat(travel[:, :, np.newaxis], problem.slots, axis=2),
        travel_cost=np.zeros_like(problem.travel_cost),
        wait_cost_per_slot=0.0,
        late=np.where(np.isfinite(problem.late), 0.0, problem.late),
        legs=tuple(sailing() for _ in range(legs)),
    )


def renumbered(problem: DayProblem, new: Numbering) -> DayProblem:
    old_places = np.argsort(new.places)
    pairs = np.ix_(old_places, old_places)
    legs: list[ProblemLeg] = list(problem.legs)
    for number, leg in enumerate(problem.legs):
        ways = tuple(
            replace(
                leg.ways[m], start=new.places[leg.ways[m].start], end=new.places[leg.ways[m].end]
            )
            for m in new.ways[number]
        )
        legs[new.legs[number]] = replace(leg, ways=ways)

    def groups(old: tuple[tuple[int, ...], ...]) -> tuple[tuple[int, ...], ...]:
        return tuple(tuple(new.legs[leg] for leg in group) for group in old)

    return replace(
        problem,
        travel_slots=problem.travel_slots[pairs],
        travel_cost=problem.travel_cost[pairs],
        no_wait=frozenset(new.places[place] for place in problem.no_wait),
        start_place=new.places[problem.start_place],
        end_place=new.places[problem.end_place],
        legs=tuple(legs),
        at_most_one=groups(problem.at_most_one),
        exactly_one=groups(problem.exactly_one),
        before=tuple((new.legs[a], new.legs[b]) for a, b in problem.before),
        own_order=tuple(new.legs[leg] for leg in problem.own_order),
    )


def hours(visits: tuple[Visit, ...]) -> list[int]:
    return [visit.start_slot for visit in visits]


@MANY
@given(seed=st.integers(0, 2**32 - 1), legs=st.integers(1, 4))
def test_an_order_is_timed_alike_however_all_is_numbered(seed: int, legs: int) -> None:
    random = Random(seed)
    problem = full_of_ties(seed, legs)
    new = drawn(problem, random)
    order = random.sample(range(legs), random.randint(1, legs))
    one = time_order(day_arrays(problem), order)
    other = time_order(day_arrays(renumbered(problem, new)), [new.legs[leg] for leg in order])
    assert (one is None) == (other is None)
    if one is not None and other is not None:
        assert (one.value, one.leave_slot, one.finish_slot) == (
            other.value,
            other.leave_slot,
            other.finish_slot,
        )
        assert hours(one.visits) == hours(other.visits)


@MANY
@given(seed=st.integers(0, 2**32 - 1), legs=st.integers(1, 4), passes=st.booleans())
def test_the_best_plan_is_told_alike_however_places_and_ways_are_numbered(
    seed: int, legs: int, passes: bool
) -> None:
    """Of equal orders that of the earlier legs is told, so legs keep their numbers here."""
    problem = full_of_ties(seed, legs)
    new = drawn(problem, Random(seed))._replace(legs=list(range(legs)))
    told = []
    for day in (problem, renumbered(problem, new)):
        search = by_two_passes(day) if passes else DaySearch(day)
        plan = search.best(blamed=False).solution
        told.append(
            plan and (plan.value, plan.legs, plan.leave_slot, hours(plan.visits), plan.finish_slot)
        )
    assert told[0] == told[1]
