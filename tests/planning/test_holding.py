"""A plan that too many members break is searched again. All tours and members are INVENTED."""

from dataclasses import replace
from datetime import time

import numpy as np
import pytest

from replanner.planning.build import BuiltDay
from replanner.planning.holding import as_found, best_that_holds, without
from replanner.planning.replay import replay
from replanner.planning.rules import Rules
from replanner.trip.model import Way, WeeklyWindow, WindowEffect
from tests.planning.invented import a_day, a_leg, a_tour, assess, build

SLOW = 1.2


def gated(*, slow_members: int, most: float) -> BuiltDay:
    """Return a day of ten members: a gate closes soon after the loop, for a slow one too soon."""
    gate = WeeklyWindow(
        name="gate", effect=WindowEffect.OPEN, opens=time(7), closes=time(10), fractions=(1.0,)
    )
    legs = [
        a_leg("loop", worth=300),
        a_leg("range", worth=300, windows=(gate,), one_way=True),
    ]
    tour = a_tour(legs, [a_day("loop", "range", earliest_departure=time(8))])
    rules = Rules(no_go_share=most, order_cost=100.0)
    built = build(tour, rules=rules)
    pace = np.ones(10)
    pace[:slow_members] = SLOW
    changed = {}
    for leg in built.legs:
        factors = pace if leg.leg.id == "loop" else np.ones(10)
        for one in Way:
            level = np.zeros((10, built.clock.instants.size))
            made = assess(tour, leg.leg, one, built.clock.instants, level)
            minutes = made.piece_minutes * factors.reshape(1, -1, 1)
            changed[leg.leg.id, one] = replace(made, piece_minutes=minutes)
    return build(tour, day=built.day, rules=rules, changed=changed)


def test_a_gate_that_slow_members_miss_is_ridden_to_first() -> None:
    built = gated(slow_members=1, most=0.05)
    plain = as_found(built).found.solution
    assert plain is not None
    assert built.legs[plain.legs[0]].leg.id == "loop"
    assert replay(built, plain).holds == pytest.approx(0.9)

    held = best_that_holds(built)
    plan = held.found.solution
    assert plan is not None
    assert held.cut
    assert max(replay(held.built, plan).breaks) <= built.rules.no_go_share
    starts = {(visit.leg, visit.way, visit.start_slot) for visit in plan.visits}
    assert not starts & set(held.cut)
    assert plan.value < plain.value  # what holding costs


def test_as_many_as_the_rider_allows_may_break() -> None:
    built = gated(slow_members=1, most=0.1)
    held = best_that_holds(built)
    assert held.cut == ()
    assert held.built is built


def test_a_share_of_breaks_is_told_at_the_visit_it_first_breaks_at() -> None:
    built = gated(slow_members=1, most=1.0)
    plan = as_found(built).found.solution
    assert plan is not None
    assert [built.legs[leg].leg.id for leg in plan.legs] == ["loop", "range"]
    assert replay(built, plan).breaks == (0.0, pytest.approx(0.1))


def test_only_the_starts_cut_are_gone() -> None:
    built = gated(slow_members=0, most=0.1)
    way = built.problem.legs[0].ways[0]
    slot = int(np.flatnonzero(np.isfinite(way.worth))[3])
    rest = without(built, [(0, 0, slot)])
    gone = rest.problem.legs[0].ways[0].worth
    assert np.isneginf(gone[slot])
    assert np.array_equal(np.delete(gone, slot), np.delete(way.worth, slot))
    assert np.array_equal(rest.way(0, 0).worth, gone)
    assert np.isfinite(way.worth[slot])
    assert rest.problem.legs[1] is built.problem.legs[1]
