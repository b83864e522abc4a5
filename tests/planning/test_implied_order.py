"""The order that musts imply, against enumeration that knows nothing of it; days are INVENTED."""

import math
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.planning import implied_order
from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, day_arrays, mask_of
from replanner.planning.day_search import DaySearch
from replanner.planning.implied_order import in_implied_order, last_chance
from replanner.planning.problem import DayProblem, LegWay, ProblemLeg
from replanner.planning.problem_file import read_problem
from replanner.planning.stages import never
from replanner.planning.two_pass_parts import PartsFound, Wanted, search_parts
from tests.benchmarks.day_problems import benchmark_day
from tests.planning.day_problems import any_problem, best_by_enumeration, every_plan
from tests.planning.test_search import assert_sound, by_two_passes

pytestmark = pytest.mark.usefixtures("loops")

MANY = settings(max_examples=150, deadline=None)


@pytest.fixture(autouse=True)
def _asked_of_any_day(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let few musts be enough."""
    monkeypatch.setattr(implied_order, "FEWEST_MUSTS", 1)


def with_musts(file: dict[str, Any], musts: list[bool]) -> DayProblem:
    """Read a problem in which other legs must be ridden."""
    problem = read_problem(file)
    legs = zip(problem.legs, musts, strict=False)
    return replace(problem, legs=tuple(replace(leg, must=must) for leg, must in legs))


def musts_of(most: int) -> st.SearchStrategy[list[bool]]:
    return st.lists(st.sampled_from([True, True, False]), min_size=most, max_size=most)


@MANY
@given(any_problem(), musts_of(4))
def test_no_plan_is_lost_or_changed(file: dict[str, Any], musts: list[bool]) -> None:
    problem = with_musts(file, musts)
    implied = DaySearch(problem, arrays=in_implied_order(day_arrays(problem)))
    for order, value in every_plan(problem):
        timed = implied.value_of_order(order)
        assert timed is not None
        assert timed.value == value


@MANY
@given(any_problem(most_legs=5, slots=12), musts_of(5))
def test_two_passes_find_what_enumeration_finds(file: dict[str, Any], musts: list[bool]) -> None:
    problem = with_musts(file, musts)
    assert_sound(problem, by_two_passes(problem).best(), best_by_enumeration(problem))


def line(windows: list[tuple[int, int]], must: list[bool]) -> DayProblem:
    """A day on a line of places 3 slots apart, a leg of 2 slots at each but the first."""
    count, slots = len(windows) + 1, 40
    apart = 3 * np.abs(np.subtract.outer(np.arange(count), np.arange(count)))
    now = np.arange(slots)
    return DayProblem(
        slot_minutes=15,
        first_slot=datetime(2027, 1, 14, 6, tzinfo=UTC),
        slots=slots,
        travel_slots=np.repeat(apart[..., np.newaxis], slots, axis=2),
        travel_cost=np.zeros((count, count, slots)),
        start_place=0,
        earliest=0,
        latest=0,
        end_place=0,
        by=slots - 1,
        late=np.zeros(slots),
        legs=tuple(
            ProblemLeg(
                id=f"leg{j}",
                must=must[j],
                ways=(
                    LegWay(
                        start=j + 1,
                        end=j + 1,
                        ride_slots=np.full(slots, 2),
                        worth=np.where((first <= now) & (now <= last), 10.0, -np.inf),
                    ),
                ),
            )
            for j, (first, last) in enumerate(windows)
        ),
    )


def starts(problem: DayProblem) -> list[list[int]]:
    """In which slots each leg may be begun."""
    arrays = in_implied_order(day_arrays(problem))
    assert arrays.way_leg.tolist() == list(range(len(problem.legs)))
    return [np.flatnonzero(row < arrays.slots).tolist() for row in arrays.ride_arrival]


def test_windows_imply_an_order_and_shrink_by_it() -> None:
    """By hand: the far leg closes at 8, so it is first, and the near one begins 2 + 3 later."""
    problem = line([(0, 30), (0, 8)], [True, True])
    arrays = in_implied_order(day_arrays(problem))
    # To the far place it is 6 slots. The near leg could be begun at 3, is done at 5, and the far
    # one begun at 8: both orders hold so far.
    assert arrays.closed_by == (1, 2)
    assert starts(problem) == [list(range(3, 31)), [6, 7, 8]]
    problem = line([(0, 30), (0, 7)], [True, True])
    arrays = in_implied_order(day_arrays(problem))
    assert arrays.closed_by == (1, 3)
    assert arrays.first_of == (2, 0)
    assert starts(problem) == [list(range(11, 31)), [6, 7]]


def test_an_order_follows_from_orders() -> None:
    """The last is after the second, that is after the first; no road leads past the second."""
    problem = line([(3, 3), (12, 12), (24, 24)], [True, True, True])
    arrays = in_implied_order(day_arrays(problem))
    assert arrays.closed_by == (0b111, 0b110, 0b100)
    led = {(a, e) for a, e in zip(*np.nonzero(arrays.met), strict=True)}
    assert led == {(0, 0), (1, 1), (2, 2)}


def test_a_leg_that_leaves_no_time_for_a_must_is_never_ridden() -> None:
    """The leg in the middle opens when the must is already out of reach, and ends too late."""
    problem = line([(9, 9), (9, 9)], [True, False])
    arrays = in_implied_order(day_arrays(problem))
    assert arrays.rideable == (0,)


def test_musts_that_exclude_each_other_by_time_leave_no_day() -> None:
    problem = line([(9, 9), (9, 9)], [True, True])
    assert not np.isfinite(in_implied_order(day_arrays(problem)).start_worth).any()
    assert best_by_enumeration(problem) is None


def test_a_day_begun_is_dead_once_a_must_is_out_of_reach() -> None:
    """By hand: the far place is 6 slots from the start and 3 from the near one, and closes at 8."""
    arrays = day_arrays(line([(0, 30), (0, 8)], [True, True]))
    chance = last_chance(arrays)
    assert arrays.exits == (0, 1, 2)
    assert chance.slots.tolist() == [[27, 2], [30, 5], [27, 8]]
    masks, exits = np.array([0, 1, 2, 3]), np.array([0, 1, 2, 2])
    assert chance.of_days(masks, exits, 39).tolist() == [2, 5, 27, 39]
    ordered = last_chance(in_implied_order(day_arrays(line([(0, 30), (0, 7)], [True, True]))))
    assert ordered.of_days(np.array([1]), np.array([1]), 39).tolist() == [-1]


def test_few_musts_are_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(implied_order, "FEWEST_MUSTS", 3)
    arrays = day_arrays(line([(3, 3), (12, 12)], [True, True]))
    assert in_implied_order(arrays) is arrays
    assert last_chance(arrays).musts.size == 0


@pytest.mark.parametrize("seed", range(6))
def test_every_part_of_a_day_with_five_musts_is_worth_the_same_with_its_order_implied(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(implied_order, "FEWEST_MUSTS", 5)
    problem = benchmark_day(seed, 10)
    musts = {leg for leg, one in enumerate(problem.legs) if one.must} | {0, 4, 5, 8}
    legs = tuple(replace(one, must=leg in musts) for leg, one in enumerate(problem.legs))
    arrays = day_arrays(replace(problem, legs=legs))
    implied = in_implied_order(arrays)
    assert (implied.ride_worth > IMPOSSIBLE).sum() < (arrays.ride_worth > IMPOSSIBLE).sum()
    rides = [mask_of((leg,)) for leg in (1, 6, 9)]

    def found(day: DayArrays) -> PartsFound:
        every = Wanted(slack=math.inf)
        return search_parts(day, rides, never, known=IMPOSSIBLE, wanted=every, multipliers=None)

    plain, told = found(arrays), found(implied)
    assert (plain.values > IMPOSSIBLE).any()
    assert told.values.tolist() == plain.values.tolist()
