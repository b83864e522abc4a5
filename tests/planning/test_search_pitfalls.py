"""Pitfalls met by the prototypes of the day search, each made up to be got wrong by the short cut.

All problems are INVENTED; their answers can be worked out by hand from the comments.
"""

from itertools import pairwise, permutations
from typing import Any

import numpy as np
import pytest

from replanner.planning.day_search import DaySearch, SearchResult, result_as_json, solve
from replanner.planning.problem import DayProblem, Visit
from replanner.planning.problem_file import read_problem
from tests.planning.day_problems import (
    best_by_enumeration,
    best_of_order,
    invented_problem,
    worth_of,
)
from tests.planning.test_search import by_two_passes

pytestmark = pytest.mark.usefixtures("loops")

SLOTS = 20


def leg(name: str, ride: Any = 2, worth: Any = 30, *, place: int = 0, must: bool = False) -> Any:
    """A leg that begins and ends at one place."""
    by_slot = worth if isinstance(worth, list) else [worth] * SLOTS
    way = {"from": place, "to": place, "ride_slots": ride, "worth": by_slot}
    return {"id": name, "must": must, "ways": [way]}


def day(legs: list[Any], **changes: Any) -> DayProblem:
    """A day at one base, places 1 and 2 each two slots away, with other keys as told."""
    return read_problem(
        {
            "format": "replanner-problem-1",
            "slot_minutes": 30,
            "first_slot": "2027-01-14T06:00:00Z",
            "slots": SLOTS,
            "travel_slots": [[0, 2, 2], [2, 0, 2], [2, 2, 0]],
            "travel_cost_per_slot": 1,
            "start": {"place": 0, "earliest": 0, "latest": 0},
            "end": {"place": 0, "by": SLOTS - 1, "late": [0] * SLOTS},
            "legs": legs,
        }
        | changes
    )


def best(problem: DayProblem) -> float | None:
    """The best value: the table, two passes and enumeration agree on it."""
    values = {
        None if result.solution is None else result.solution.value
        for result in (solve(problem), by_two_passes(problem).best())
    }
    assert values == {best_by_enumeration(problem)}
    return values.pop()


def test_starting_as_soon_as_possible_is_not_best() -> None:
    """Worth 10 at once, 50 from slot 6: waiting pays; so does doing the other leg meanwhile."""
    clearing = leg("clearing", worth=[10] * 6 + [50] * 14)
    assert best(day([clearing])) == 50
    assert best(day([clearing, leg("valley", worth=20)])) == 70
    solution = solve(day([clearing, leg("valley", worth=20)])).solution
    assert solution is not None
    assert solution.legs == (1, 0)


def test_a_later_start_may_arrive_sooner() -> None:
    """Rain until slot 3: starting in 2 takes 8 slots, in 3 only 2; the ferry leaves in slot 5."""
    wet = leg("wet", ride=[9, 9, 8] + [2] * 17, must=True)
    ferry = leg("ferry", worth=[None] * 5 + [100] + [None] * 14)
    assert best(day([wet, ferry])) == 130
    solution = solve(day([wet, ferry])).solution
    assert solution is not None
    assert solution.visits == (Visit(0, 0, 3), Visit(1, 0, 5))


def test_being_there_sooner_is_no_gain_where_nobody_can_wait() -> None:
    """Nobody can wait at 1. The only start there, slot 5, is met by waiting at the base instead."""
    quay = leg("quay", worth=[None] * 5 + [40] + [None] * 14, place=1)
    problem = day([quay], no_wait=[1])
    assert best(problem) == 40 - 4
    solution = solve(problem).solution
    assert solution is not None
    assert solution.visits == (Visit(0, 0, 5),)
    assert best(day([quay], no_wait=[0, 1])) == 0


def test_being_there_sooner_pays_its_wait() -> None:
    """Left in slot 0, there in 2, riding in 5: three slots of waiting at 4 a slot."""
    quay = leg("quay", worth=[None] * 5 + [40] + [None] * 14, place=1)
    assert best(day([quay], wait_cost_per_slot=4)) == 40 - 4 - 12
    late = {"place": 0, "earliest": 0, "latest": 3}
    assert best(day([quay], wait_cost_per_slot=4, start=late)) == 40 - 4


def test_untold_legs_do_not_break_the_price_of_order() -> None:
    """Windows force exactly the wrong order: every pair is priced."""
    count = 6
    legs = [
        leg(f"leg{j}", ride=1, worth=[None] * j + [30] + [None] * (SLOTS - j - 1))
        for j in range(count)
    ]
    problem = day(legs, own_order=list(range(count))[::-1], order_cost=1)
    pairs = count * (count - 1) // 2
    assert best(problem) == 30 * count - pairs


def test_precedence_holds_in_every_order_of_many_legs() -> None:
    """All legs are worth most in the order forbidden by the pairs."""
    count = 6
    legs = [
        leg(f"leg{j}", ride=1, worth=[30 + 5 * (t == j) for t in range(SLOTS)])
        for j in range(count)
    ]
    before = [[b, a] for a, b in pairwise(range(count))]
    problem = day(legs, before=before)
    best(problem)
    solution = by_two_passes(problem).best().solution
    assert solution is not None
    for order in (solution.legs, solve(problem).solution.legs):  # type: ignore[union-attr]
        assert all(order.index(a) < order.index(b) for a, b in before if a in order and b in order)


def test_rides_of_no_slots_are_ridden_once() -> None:
    """Photo stops that take no slot: each counts once, several in one slot."""
    stops = [leg(f"stop{j}", ride=0, worth=5, place=j % 2) for j in range(5)]
    problem = day(stops, travel_slots=[[0, 0, 2], [0, 0, 2], [2, 2, 0]])
    assert best(problem) == 25


def test_connectors_of_no_slots_are_still_one_connector() -> None:
    """From 0 to 2 there is no road, but two of no slots by 1: a plan takes one connector only."""
    problem = day([leg("far", place=2)], travel_slots=[[0, 0, None], [0, 0, 0], [None, 0, 0]])
    assert best(problem) == 0


def test_a_leg_may_serve_as_the_road() -> None:
    """There is no road from 0 to 1 but the pass, which alone is worth less than nothing."""
    crossing = leg("pass", worth=-5)
    crossing["ways"][0]["to"] = 1
    back = [[0, None, None], [2, 0, None], [None, None, 0]]
    assert best(day([crossing, leg("loop", place=1)], travel_slots=back)) == 30 - 5 - 2


def test_finishing_later_may_be_allowed_where_sooner_is_not() -> None:
    """The hut opens in slot 10: waiting before it is part of the day and is paid."""
    late = {"place": 0, "by": SLOTS - 1, "late": [None] * 10 + [0] * 10}
    assert best(day([leg("loop")], end=late, wait_cost_per_slot=1)) == 30 - 8
    problem = day([leg("loop")], end=late, wait_cost_per_slot=1, no_wait=[0])
    assert best(problem) is None


def blamed(result: SearchResult) -> tuple[str, ...]:
    """Return what is to blame as the command tells it."""
    return tuple(map(str, result.blame))


def test_exactly_one_of_a_group_without_a_start_has_no_plan() -> None:
    closed = [leg("a", worth=[None] * SLOTS), leg("b", worth=[None] * SLOTS), leg("c")]
    result = solve(day(closed, exactly_one=[[0, 1]]))
    assert result.solution is None
    assert blamed(result) == ("exactly one of 'a', 'b' must be ridden",)


def test_musts_too_long_for_the_day_are_blamed_with_its_end() -> None:
    legs = [leg("a", ride=11, must=True), leg("b", ride=11, must=True), leg("c", must=True)]
    result = solve(day(legs))
    assert result.solution is None
    assert result.proven
    assert blamed(result) == ("'a' must be ridden", "'b' must be ridden")
    early = {"place": 0, "by": 15, "late": [0] * SLOTS}
    shorter = [leg("a", ride=9, must=True), leg("b", ride=9, must=True), leg("c", must=True)]
    assert blamed(solve(day(shorter, end=early))) == (
        "'a' must be ridden",
        "'b' must be ridden",
        "the day must end by slot 15 (2027-01-14 13:30 UTC)",
    )


def test_no_way_to_the_end_is_told() -> None:
    end = {"place": 1, "by": SLOTS - 1, "late": [0] * SLOTS}
    island = [[0, None, 2], [None, 0, None], [2, None, 0]]
    result = solve(day([leg("loop")], end=end, travel_slots=island))
    assert blamed(result) == ("no way from the start to the end of the day",)


def test_a_start_that_may_not_be_used_never_is() -> None:
    """Thousands of starts, one in ten allowed: every visit of every ranked plan is allowed."""
    problem = read_problem(invented_problem(4711, 4, 14))
    plans = DaySearch(problem).ranked(50)
    assert plans
    for plan in plans:
        for visit in plan.visits:
            assert np.isfinite(problem.legs[visit.leg].ways[visit.way].worth[visit.start_slot])


def test_of_equal_timings_the_earliest_end_and_the_latest_leaving_is_told() -> None:
    """The loop is open from slot 5 on; leaving is free from 0 to 9, waiting costs nothing."""
    loop = leg("loop", worth=[None] * 5 + [30] * 15, place=1)
    start = {"place": 0, "earliest": 0, "latest": 9}
    solution = solve(day([loop], start=start)).solution
    assert solution is not None
    assert (solution.leave_slot, solution.visits, solution.finish_slot) == (3, (Visit(0, 0, 5),), 9)


def test_prices_finer_than_a_millionth_of_a_minute_are_rounded() -> None:
    solution = solve(day([leg("a", worth=0.1), leg("b", worth=0.2)])).solution
    assert solution is not None
    assert solution.value == 0.3  # not 0.30000000000000004: counted in whole millionths


def test_own_order_is_timed_though_it_leaves_out_a_must() -> None:
    search = DaySearch(day([leg("a", must=True), leg("b")]))
    timed = search.value_of_order([1])
    assert timed is not None
    assert timed.value == 30
    assert search.value_of_order([0, 1]) is not None
    assert search.value_of_order([0, 0]) is None


def test_a_must_forbidden_has_no_plan() -> None:
    result = DaySearch(day([leg("a", must=True), leg("b")])).best(without=frozenset({0}))
    assert result.solution is None
    assert blamed(result) == ("'a' must be ridden",)
    assert DaySearch(day([leg("a"), leg("b")])).best_with(frozenset({1})).solution is not None


def test_nothing_to_ride_is_a_plan() -> None:
    for search in (DaySearch(day([])), by_two_passes(day([]))):
        result = search.best()
        assert result.solution is not None
        assert result.solution.value == 0
        assert result.solution.visits == ()
        assert result.proven


def test_a_day_that_ends_before_it_starts_has_no_plan() -> None:
    start = {"place": 0, "earliest": 5, "latest": 6}
    end = {"place": 0, "by": 3, "late": [0] * SLOTS}
    for search in (DaySearch(day([leg("a")], start=start, end=end)),):
        result = search.best()
        assert result.solution is None
        assert result.proven
        assert blamed(result) == ("the day must end by slot 3 (2027-01-14 07:30 UTC)",)
        assert search.ranked(3) == ()
        assert search.value_of_order([0]) is None


@pytest.mark.parametrize("limit", [0.0, 0.05])
def test_a_search_stopped_tells_a_plan_and_a_bound(limit: float) -> None:
    """Fourteen legs at two places: no time for the proof, but a sound plan and a sound bound."""
    random = np.random.default_rng(7)
    legs = [
        leg(
            f"leg{j}",
            ride=int(random.integers(1, 3)),
            worth=random.integers(5, 40, SLOTS).tolist(),
            place=int(random.integers(0, 3)),
        )
        for j in range(14)
    ]
    problem = day(legs, own_order=list(range(14)), order_cost=3)
    stopped = solve(problem, time_limit_s=limit)
    proven = solve(problem)
    assert proven.proven
    assert proven.solution is not None
    assert stopped.solution is not None
    assert worth_of(problem, stopped.solution) == stopped.solution.value
    assert stopped.solution.value <= proven.solution.value <= stopped.bound
    assert stopped.proven == (stopped.solution.value == stopped.bound)


def test_ranked_plans_of_one_set_come_in_all_their_orders() -> None:
    legs = [
        leg(f"leg{j}", worth=[30 + 2 * j - t for t in range(SLOTS)], must=True) for j in range(3)
    ]
    problem = day(legs)
    plans = DaySearch(problem).ranked(6)
    assert {plan.legs for plan in plans} == set(permutations(range(3)))
    for plan in plans:
        assert plan.value == best_of_order(problem, plan.legs)


def test_the_answer_of_the_command_is_told_by_index() -> None:
    result = solve(day([leg("a", worth=5), leg("b", worth=40, place=1)]))
    answer = result_as_json(result)
    seconds = answer.pop("seconds")
    assert isinstance(seconds, float)
    assert 0 < seconds < 60
    assert answer == {
        "value": 41.0,
        "bound": 41.0,
        "proven": True,
        "leave_slot": 0,
        "visits": [
            {"leg": 0, "way": 0, "start_slot": 0},
            {"leg": 1, "way": 0, "start_slot": 4},
        ],
        "finish_slot": 8,
    }
    none = result_as_json(solve(day([leg("a", ride=30, must=True)])))
    assert none["value"] is None
    assert none["bound"] is None
    assert none["proven"] is True
    assert none["visits"] == []
    assert none["blame"] == ["'a' must be ridden"]


def test_a_day_without_its_must_has_no_plan() -> None:
    """Asked for by who tells what leaving each leg out is worth: a must has no such price."""
    search = DaySearch(day([leg("must", must=True), leg("other")]))
    found = search.best(without=frozenset({0}), blamed=False)
    assert (found.solution, found.proven) == (None, True)
    spared = search.best(without=frozenset({1}), blamed=False).solution
    assert spared is not None
    assert spared.legs == (0,)
