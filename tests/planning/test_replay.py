"""A plan ridden through every member. All tours and members here are INVENTED."""

from dataclasses import replace
from datetime import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.planning.build import BuiltDay
from replanner.planning.problem import DaySolution
from replanner.planning.replay import replay
from replanner.planning.rules import Rules
from replanner.trip.model import Way, WeeklyWindow, WindowEffect
from tests.planning.invented import a_day, a_leg, a_tour, assess, best, build, local_hours

LENIENT = Rules(no_go_share=1.0, order_cost=0.0)


def members(*levels: float) -> np.ndarray:
    """Return a severity by member, the same at every start."""
    return np.array(levels).reshape(-1, 1)


def ridden_at(built: BuiltDay, pace: dict[str, list[float]]) -> BuiltDay:
    """Return the day with each leg's riding times multiplied, member by member."""
    changed = {}
    for leg in built.legs:
        way = built.tour.legs[leg.leg.id]
        factors = np.array(pace[leg.leg.id])
        for one in Way:
            level = np.zeros((factors.size, built.clock.instants.size))
            made = assess(built.tour, way, one, built.clock.instants, level)
            minutes = made.piece_minutes * factors.reshape(1, -1, 1)
            changed[way.id, one] = replace(made, piece_minutes=minutes)
    return build(built.tour, day=built.day, rules=built.rules, changed=changed)


def test_shares_by_leg_and_of_the_whole() -> None:
    tour = a_tour([a_leg("loop", must=True), a_leg("ring", must=True)])
    severity = {"loop": members(0, 2, 3, 4), "ring": members(4, 0, 0, 0)}
    built = build(tour, severity=severity, rules=LENIENT)
    found = replay(built, best(built))
    assert found.members == 4
    assert found.go == {"loop": 0.75, "ring": 0.75}
    assert found.calm == {"loop": 0.5, "ring": 0.75}
    assert (found.holds, found.in_before_dusk) == (0.5, 0.5)


def test_one_forecast_is_one_member() -> None:
    built = build(a_tour([a_leg("loop")]))
    found = replay(built, best(built))
    assert (found.members, found.holds, found.in_before_dusk) == (1, 1.0, 1.0)


def test_unknown_is_caution_not_no_go() -> None:
    built = build(a_tour([a_leg("loop", worth=200)]), severity={"loop": np.nan})
    found = replay(built, best(built))
    assert (found.go["loop"], found.holds) == (1.0, 1.0)


def test_a_slow_member_misses_a_window() -> None:
    """A plan best for most members can be impossible in one: the gate has closed."""
    gate = WeeklyWindow(
        name="gate", effect=WindowEffect.OPEN, opens=time(7), closes=time(10), fractions=(1.0,)
    )
    legs = [
        a_leg("loop", must=True, before=("range",)),
        a_leg("range", must=True, windows=(gate,), one_way=True),
    ]
    day = a_day("loop", "range", earliest_departure=time(8))
    built = ridden_at(
        build(a_tour(legs, [day]), rules=LENIENT),
        {"loop": [1, 1, 1, 1, 1, 1.2], "range": [1] * 6},
    )
    assert replay(built, best(built)).holds == pytest.approx(5 / 6)


def test_a_slow_member_is_in_after_dusk_or_after_the_limit() -> None:
    day = a_day("loop", earliest_departure=time(18))
    tour = a_tour([a_leg("loop", minutes=60, must=True, worth=500)], [day])
    built = build(tour, rules=replace(LENIENT, waiting_cost=0.0))
    built = ridden_at(built, {"loop": [1, 1, 1, 1, 1, 1, 1, 1.5, 2.5, 5]})
    found = replay(built, best(built))
    assert found.go["loop"] == 1.0
    assert found.in_before_dusk == pytest.approx(0.8)
    assert found.holds == pytest.approx(0.9)


def test_legs_of_different_member_counts_are_refused() -> None:
    tour = a_tour([a_leg("loop", must=True), a_leg("ring", must=True)])
    severity = {"loop": members(0, 0), "ring": members(0, 0, 0)}
    built = build(tour, severity=severity, rules=LENIENT)
    with pytest.raises(ValueError, match="numbers of members"):
        replay(built, best(built))


def test_an_empty_plan_holds() -> None:
    built = build(a_tour([a_leg("loop", worth=-1)]))
    assert replay(built, DaySolution(0.0, 0.0, True, 0, (), 0)).holds == 1.0


@settings(max_examples=20, deadline=None)
@given(st.lists(st.floats(0, 5), min_size=1, max_size=12), st.integers(8, 18))
def test_the_share_is_the_count_of_members(levels: list[float], split: int) -> None:
    """Oracle: counting by hand at the planned start, one leg, the same pace."""
    tour = a_tour([a_leg("loop", must=True, worth=1000)])

    def severity(hours: np.ndarray) -> np.ndarray:
        return np.where(hours < split, np.array(levels)[:, None], 0.0)

    built = build(tour, severity={"loop": severity}, rules=LENIENT)
    solution = best(built)
    start = local_hours(built.clock.instants)[solution.visits[0].start_slot]
    wanted = np.mean([level < 4 or start >= split for level in levels])
    assert replay(built, solution).holds == pytest.approx(wanted)
