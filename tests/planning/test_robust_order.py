"""The robust order against enumeration of all orders, legs left out and timings; days INVENTED."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, permutations, product
from math import inf
from random import Random
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.planning.day_search import solve
from replanner.planning.problem import DayProblem, LegWay
from replanner.planning.problem_file import read_problem
from tests.benchmarks.robust_order import MOST_LEGS, Aim, RobustSearch, Told
from tests.planning.day_problems import (
    _order_price,
    best_of_order,
    invented_problem,
    keeps_demands,
)

pytestmark = pytest.mark.usefixtures("loops")

SMALL = settings(max_examples=25, deadline=None)
AIMS = st.builds(
    Aim,
    mean_weight=st.sampled_from([0.0, 0.5, 0.7, 1.0]),
    worst_share=st.sampled_from([0.2, 0.5]),
    left_out_minutes=st.sampled_from([0.0, 7.0, 30.0, inf]),
)


def other_weather(problem: DayProblem, random: Random) -> DayProblem:
    """Return the day in another member: some starts are no-go, some worth less, some slower."""

    def way(one: LegWay) -> LegWay:
        worth = one.worth - np.array([random.choice([0, 0, 5, 20]) for _ in one.worth])
        worth[[random.random() < 0.2 for _ in worth]] = -inf
        slower = np.array([random.randint(0, 1) for _ in one.worth])
        return replace(one, worth=worth, ride_slots=one.ride_slots + slower)

    legs = tuple(replace(leg, ways=tuple(map(way, leg.ways))) for leg in problem.legs)
    return replace(problem, legs=legs)


def some_members(seed: int, legs: int, members: int) -> list[DayProblem]:
    random = Random(seed)
    problem = read_problem(invented_problem(seed, legs, 18))
    return [problem, *(other_weather(problem, random) for _ in range(members - 1))]


def every_order(problem: DayProblem) -> Iterator[tuple[Told, ...]]:
    """Every order of legs that keeps the demands, in every choice of ways."""
    for count in range(len(problem.legs) + 1):
        for order in permutations(range(len(problem.legs)), count):
            if keeps_demands(problem, order):
                for ways in product(*(range(len(problem.legs[leg].ways)) for leg in order)):
                    yield tuple(map(Told, order, ways))


class Judge:
    """Weighs orders by dictionaries of slots and lists of members; shares no code."""

    def __init__(self, members: list[DayProblem], aim: Aim) -> None:
        self.members, self.aim = members, aim
        self.ridden: dict[tuple[int, tuple[Told, ...]], float] = {}

    def just_so(self, member: int, order: tuple[Told, ...]) -> float:
        """Ride exactly these legs in these ways; the price of order is not among it."""
        if (member, order) not in self.ridden:
            day = replace(self.members[member], order_cost=0.0)
            legs = list(day.legs)
            for leg, way in order:
                legs[leg] = replace(legs[leg], ways=(legs[leg].ways[way],))
            value = best_of_order(replace(day, legs=tuple(legs)), tuple(leg for leg, _ in order))
            self.ridden[member, order] = -inf if value is None else value
        return self.ridden[member, order]

    def values(self, order: tuple[Told, ...]) -> list[tuple[float, bool]]:
        """Value in each member, and whether it is had with nothing left out."""
        owed = _order_price(self.members[0], tuple(leg for leg, _ in order))
        found = []
        for member in range(len(self.members)):
            options = [(self.just_so(member, order), True)]
            if self.aim.left_out_minutes < inf:
                options += [
                    (self.just_so(member, kept) - self.aim.left_out_minutes * left_out, False)
                    for left_out in range(1, len(order) + 1)
                    for kept in combinations(order, len(order) - left_out)
                ]
            value, whole = max(options)
            found.append((value - owed, whole and value > -inf))
        return found

    def weigh(self, order: tuple[Told, ...]) -> float:
        values = sorted(value for value, _ in self.values(order))
        if values[0] == -inf:
            return -inf
        worst = values[: max(1, -int(-round(self.aim.worst_share * len(values), 9) // 1))]
        mean, low = sum(values) / len(values), sum(worst) / len(worst)
        return self.aim.mean_weight * mean + (1 - self.aim.mean_weight) * low


def matches(search: RobustSearch, judge: Judge) -> float | None:
    """Compare the search with trying every order; what the best is weighed."""
    weighed = {order: judge.weigh(order) for order in every_order(judge.members[0])}
    highest = max(weighed.values(), default=-inf)
    found = search.best()
    assert found.proven
    if highest == -inf:
        assert found.best is None
        assert found.bound == -inf
        return None
    assert found.best is not None
    assert found.best.weighed == pytest.approx(highest, abs=1e-6)
    assert found.bound == pytest.approx(highest, abs=1e-6)
    assert weighed[found.best.order] == pytest.approx(highest, abs=1e-6)
    told = judge.values(found.best.order)
    assert found.best.values.tolist() == pytest.approx([value for value, _ in told])
    assert found.best.whole.tolist() == [whole for _, whole in told]
    return highest


@SMALL
@given(st.integers(0, 2**32 - 1), st.integers(0, 3), st.integers(1, 6), AIMS)
def test_the_best_is_that_of_all_orders(seed: int, legs: int, members: int, aim: Aim) -> None:
    days = some_members(seed, legs, members)
    matches(RobustSearch(days, aim), Judge(days, aim))


def test_the_best_of_four_legs_is_that_of_all_orders() -> None:
    """Seeds, so that days with an order to find are surely among them; own orders are dear."""
    found = []
    for seed in range(16):
        own = tuple(Random(seed).sample(range(4), 4))
        days = [replace(day, own_order=own, order_cost=6.0) for day in some_members(seed, 4, 3)]
        found.append(matches(RobustSearch(days, Aim()), Judge(days, Aim())))
    assert sum(value is not None and value != 0.0 for value in found) > 5


@SMALL
@given(st.integers(0, 2**32 - 1), st.integers(0, 4))
def test_one_member_gives_the_plan_of_the_day_search(seed: int, legs: int) -> None:
    """Nothing is left out of an order that could have been told without it."""
    day = read_problem(invented_problem(seed, legs, 14))
    found, plan = RobustSearch([day], Aim(left_out_minutes=inf)).best(), solve(day).solution
    assert found.proven
    assert (None if found.best is None else found.best.weighed) == (plan and plan.value)


@SMALL
@given(st.integers(0, 2**32 - 1), st.data())
def test_known_orders_change_nothing_but_the_time(seed: int, data: Any) -> None:
    days = some_members(seed, 3, 4)
    orders = list(every_order(days[0]))
    known = data.draw(st.lists(st.sampled_from(orders), max_size=3)) if orders else []
    search = RobustSearch(days, Aim())
    alone, helped = search.best(), search.best(known)
    assert (alone.bound, alone.proven) == (helped.bound, helped.proven)
    assert helped.looked_at <= alone.looked_at


def test_a_search_stopped_tells_a_bound() -> None:
    """The bound of a search stopped at once is no lower than what it would have found."""
    short = 0
    for seed in range(20):
        days = some_members(seed, 4, 4)
        search = RobustSearch(days, Aim())
        whole, stopped = search.best(), search.best(stopped=lambda: True)
        assert stopped.bound >= whole.bound
        short += not stopped.proven
    assert short > 5


def test_the_worst_are_whole_members_rounded_up() -> None:
    values = np.array([5.0, 1.0, 9.0, 3.0, 7.0, 11.0])
    assert float(Aim(worst_share=0.2).worst(values)) == 2.0  # two of six
    assert float(Aim(worst_share=0.2).worst(values[:5])) == 1.0  # one of five
    assert float(Aim(mean_weight=0.25, worst_share=0.2).weigh(values)) == 0.25 * 6 + 0.75 * 2


def test_what_can_not_be_weighed_is_refused() -> None:
    day = read_problem(invented_problem(1, 3, 12))
    with pytest.raises(ValueError, match="at least one member"):
        RobustSearch([], Aim())
    with pytest.raises(ValueError, match="riding times and worths only"):
        RobustSearch([day, replace(day, travel_cost=day.travel_cost + 1)], Aim())
    with pytest.raises(ValueError, match="up to 10 legs"):
        RobustSearch([read_problem(invented_problem(1, MOST_LEGS + 1, 12))], Aim())
