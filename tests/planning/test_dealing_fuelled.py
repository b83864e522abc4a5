"""Shared legs dealt over days on their smallest tanks. INVENTED tours.

Oracle: every dealing, each day's best plan of all orders and pumps that lasts (`test_tank`).
"""

from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.planning import dealt_day
from replanner.planning.dealing import Dealing
from replanner.planning.dealing_problem import DayToDeal, TourProblem
from replanner.planning.tank import first_dry
from tests.planning.day_problems import worth_of
from tests.planning.test_tank import best_by_enumeration, invented_day

SHARED = 2  # the first legs of both days


def a_day(seed: int, legs: int) -> DayToDeal:
    problem, tank = invented_day(seed, legs, 12)
    freed = tuple(
        replace(leg, must=leg.must and number >= SHARED) for number, leg in enumerate(problem.legs)
    )
    return DayToDeal(
        problem=replace(problem, legs=freed),
        rides=tuple((leg,) for leg in range(SHARED)),
        extra=(0.0,) * SHARED,
        tank=tank,
    )


def best_part(day: DayToDeal, part: frozenset[int]) -> float | None:
    """Return what riding exactly these of the shared legs is worth at best; None: impossible."""
    legs = tuple(
        leg
        if number >= SHARED
        else replace(leg, must=number in part, ways=leg.ways if number in part else ())
        for number, leg in enumerate(day.problem.legs)
    )
    assert day.tank is not None
    rides = tuple(
        ways if number >= SHARED or number in part else ()
        for number, ways in enumerate(day.tank.rides)
    )
    return best_by_enumeration(replace(day.problem, legs=legs), replace(day.tank, rides=rides))


@settings(max_examples=25, deadline=None, derandomize=True)
@given(seed=st.integers(0, 2**32 - 1), legs=st.integers(SHARED, 4), few=st.sampled_from([12, -1]))
def test_exact_over_every_dealing_that_lasts(seed: int, legs: int, few: int) -> None:
    tour = TourProblem(days=(a_day(seed, legs), a_day(seed + 7, legs)))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(dealt_day, "FEW_LEGS", few)
        dealt = Dealing(tour).best()
    scores = []
    for where in product((0, 1, None), repeat=SHARED):
        worths = [
            best_part(day, frozenset(leg for leg in range(SHARED) if where[leg] == number))
            for number, day in enumerate(tour.days)
        ]
        known = [worth for worth in worths if worth is not None]
        scores.append((len(known), sum(known)))
    assert (2 - dealt.no_plan, dealt.value) == pytest.approx(max(scores), abs=1e-5)
    assert dealt.proven
    for day, plan in zip(tour.days, dealt.plans, strict=True):
        if plan is not None:
            assert day.tank is not None
            assert first_dry(day.problem, day.tank, plan) is None
            assert worth_of(day.problem, plan) == pytest.approx(plan.value, abs=1e-5)
