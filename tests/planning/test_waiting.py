"""Plans in each member, and what deciding in the morning gains. Days and members are INVENTED."""

from dataclasses import replace
from datetime import time
from math import ceil, inf

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from replanner.planning.build import BuiltDay
from replanner.planning.day_search import DaySearch
from replanner.planning.problem import DaySolution
from replanner.planning.rules import Rules
from replanner.planning.waiting import InMembers, gain_of_waiting, in_members
from replanner.trip.model import Halt, HaltKind, Tour, Way, WeeklyWindow, WindowEffect
from tests.planning.invented import a_day, a_leg, a_tour, assess, best, build, local_hours

RULES = Rules(no_go_share=1.0)
MEMBERS = 4
TOUR = a_tour(
    [
        a_leg("loop", worth=90, must=True),
        a_leg("ring", minutes=80, worth=110),
        a_leg("range", minutes=50, worth=70, start="far", end="quay", one_way=True),
    ]
)


def ridden_in(tour: Tour, levels: np.ndarray, pace: np.ndarray, rules: Rules = RULES) -> BuiltDay:
    """Build a day: severities by leg, member and hour of the day, riding times by leg and member.

    Without an axis of members the day is that of one of them.
    """
    plain = build(tour, rules=rules)
    hours = local_hours(plain.clock.instants).astype(int)
    changed = {}
    for number, leg in enumerate(tour.legs.values()):
        for way in Way:
            made = assess(tour, leg, way, plain.clock.instants, levels[number][..., hours])
            factor = np.asarray(pace[number])[..., None]
            changed[leg.id, way] = replace(made, piece_minutes=made.piece_minutes * factor)
    return build(tour, rules=rules, changed=changed)


def by_hand(day: BuiltDay, plan: DaySolution) -> tuple[float, bool]:
    """Ride a plan on the day of ONE member, as its problem prices it.

    No-go all the same is no start in that problem (-inf); what is demanded is its musts.
    """
    problem, value, whole, order = day.problem, 0.0, True, []
    place, minute, free = problem.start_place, plan.leave_slot * 5.0, None
    for visit in plan.visits:
        way = problem.legs[visit.leg].ways[visit.way]
        road = day.connector_minutes[place, way.start]
        start = max(visit.start_slot, ceil((minute + road) / 5 - 1e-9))
        if way.worth[start] == -inf:
            whole &= not problem.legs[visit.leg].must
            continue
        if free is not None:  # before leaving nobody waits
            value -= problem.wait_cost_per_slot * max(0, start - free - ceil(road / 5))
        value += way.worth[start] - road * day.rules.connector_cost
        minute = 5.0 * start + day.way(visit.leg, visit.way).minutes[start]
        place, free = way.end, start + way.ride_slots[start]
        value -= day.rules.order_cost * sum(
            problem.own_order.index(visit.leg) < problem.own_order.index(leg) for leg in order
        )
        order.append(visit.leg)
    road = day.connector_minutes[place, problem.end_place]
    finish = (plan.leave_slot if free is None else free) + ceil(road / 5)
    return value - road * day.rules.connector_cost - problem.late[finish], whole


def severities(most: float) -> st.SearchStrategy[np.ndarray]:
    """Severities by leg, member and hour, of quarters."""
    return st.integers(0, 2**32 - 1).map(
        lambda seed: np.random.default_rng(seed).integers(0, int(most * 4), (3, MEMBERS, 24)) / 4
    )


paces = st.lists(st.sampled_from([1.0, 1.0, 0.9, 1.3]), min_size=12, max_size=12).map(
    lambda factors: np.array(factors).reshape(3, MEMBERS)
)


@settings(max_examples=40, deadline=None)
@given(severities(5.0), paces)
def test_two_plans_in_every_member_and_the_gain_by_brute_force(
    levels: np.ndarray, pace: np.ndarray
) -> None:
    """Oracle: each member's weather built as a day of its own, and the gain counted in a loop."""
    built = ridden_in(TOUR, levels, pace)
    plans = DaySearch(built.problem).ranked(4)
    assume(len(plans) == 4)
    first, second = plans[0], plans[3]
    assume(max(first.finish_slot, second.finish_slot) + 24 < built.problem.by)
    alone = [ridden_in(TOUR, levels[:, m], pace[:, m]) for m in range(MEMBERS)]
    ridden = [in_members(built, plan) for plan in (first, second)]
    expected = [[by_hand(day, plan) for day in alone] for plan in (first, second)]
    for found, wanted in zip(ridden, expected, strict=True):
        assert list(found.whole) == [whole for _, whole in wanted]
        assert found.values == pytest.approx([value for value, _ in wanted])
    bests, wins, sums = [], 0, [0.0, 0.0]
    for (one, one_whole), (two, two_whole) in zip(*expected, strict=True):
        a = min(one, two) if two_whole and not one_whole else one
        b = min(one, two) if one_whole and not two_whole else two
        wins += b > a + 1e-6 or (two_whole and not one_whole)
        bests.append(max(a, b))
        sums = [sums[0] + a, sums[1] + b]
    gain = gain_of_waiting(*ridden)
    assert gain.minutes == pytest.approx((sum(bests) - max(sums)) / MEMBERS, abs=2e-6)
    assert gain.members == MEMBERS
    assert gain.other_share == wins / MEMBERS


@settings(max_examples=25, deadline=None)
@given(severities(4.0))
def test_the_mean_over_members_is_the_value_the_search_proves(levels: np.ndarray) -> None:
    """Oracle: the search's own value, where no member breaks the plan and all ride at one pace."""
    built = ridden_in(TOUR, levels, np.ones((3, MEMBERS)))
    for plan in DaySearch(built.problem).ranked(5):
        found = in_members(built, plan)
        assert found.whole.all()
        assert found.values.mean() == pytest.approx(plan.value, abs=1e-4)


def test_halts_count_in_the_members_that_have_their_light() -> None:
    """Oracle: the search's own value; by hand, 30 min of worth in one member of two."""
    photo = Halt(
        kind=HaltKind.PHOTO, place="far", fraction=0.5, minutes=10, worth_minutes=30, optional=True
    )
    tour = a_tour([a_leg("loop", worth=90, halts=(photo,))])
    plain = build(tour)
    changed = {}
    for way in Way:
        made = assess(tour, tour.legs["loop"], way, plain.clock.instants, np.zeros((2, 1)))
        fits = np.array([[[True]], [[False]]]).transpose(1, 0, 2)
        fits = np.broadcast_to(fits, (1, 2, plain.clock.instants.size)).copy()
        changed["loop", way] = replace(made, halt_fits=fits)
    built = build(tour, changed=changed)
    plan = best(built)
    found = in_members(built, plan)
    assert found.values.mean() == pytest.approx(plan.value, abs=1e-4)
    assert found.values[0] - found.values[1] == pytest.approx(30)


def test_a_slow_member_misses_the_gate_and_loses_what_is_behind_it() -> None:
    gate = WeeklyWindow(
        name="gate", effect=WindowEffect.OPEN, opens=time(7), closes=time(10), fractions=(1.0,)
    )
    tour = a_tour(
        [
            a_leg("loop", must=True, before=("range",)),
            a_leg("range", worth=80, windows=(gate,), one_way=True),
        ],
        [a_day("loop", "range", earliest_departure=time(8))],
    )
    quick = np.zeros((2, 6, 24))
    built = ridden_in(tour, quick, np.array([[1, 1, 1, 1, 1, 1.2], [1.0] * 6]), RULES)
    found = in_members(built, best(built))
    # Lost: its worth and the price of leaving it out; saved: to be at the gate as it closes.
    lost = 80 + RULES.left_out_cost - RULES.margin_cost * RULES.wanted_margin_minutes
    assert found.values == pytest.approx([120, 120, 120, 120, 120, 120 - lost])
    assert found.whole.all()  # nobody demanded it


def test_without_a_leg_a_plan_is_worth_the_same_in_every_member() -> None:
    built = ridden_in(TOUR, np.zeros((3, MEMBERS, 24)), np.ones((3, MEMBERS)))
    nothing = DaySolution(0.0, 0.0, True, 0, (), 0)
    found = in_members(built, nothing)
    assert found.values == pytest.approx([-3 * RULES.left_out_cost])
    gain = gain_of_waiting(in_members(built, best(built)), found)
    assert (gain.minutes, gain.members, gain.other_share) == (0.0, MEMBERS, 0.0)


def plain(*values: float, broken: tuple[int, ...] = ()) -> InMembers:
    whole = np.array([n not in broken for n in range(len(values))])
    return InMembers(values=np.array(values, dtype=float), whole=whole)


def test_the_gain_by_hand() -> None:
    """Of four members plan B wins one by 40: a quarter of 40."""
    gain = gain_of_waiting(plain(100, 100, 100, 20), plain(60, 60, 60, 60))
    assert (gain.minutes, gain.other_share) == (10.0, 0.25)


def test_to_leave_out_a_must_is_no_way_of_winning() -> None:
    """The second plan does without its must in one member: worth no more than the first there."""
    first, second = plain(50, 50, 50), plain(40, 40, 90, broken=(2,))
    assert gain_of_waiting(first, second).minutes == 0.0
    assert gain_of_waiting(first, second).other_share == 0.0
    turned = gain_of_waiting(second, first)
    assert (turned.minutes, turned.other_share) == (0.0, 1.0)


member_values = st.lists(st.floats(-300, 300), min_size=5, max_size=5)


@given(member_values, st.floats(-300, 300))
def test_nothing_is_gained_where_all_members_agree(values: list[float], less: float) -> None:
    """Whatever the members are worth, if one plan is as much better in all of them."""
    first = plain(*values)
    assert gain_of_waiting(first, first).minutes == 0.0
    assert gain_of_waiting(first, first).other_share == 0.0
    other = plain(*(value - less for value in values))
    assert gain_of_waiting(first, other).minutes == pytest.approx(0.0, abs=1e-5)


@given(member_values, member_values, st.floats(1.0, 5.0))
def test_the_gain_grows_with_what_the_members_differ_by(
    first: list[float], second: list[float], wider: float
) -> None:
    """The same mean difference, the members further from it: waiting gains no less.

    Never negative, never more than either plan loses at most to the other; the same both ways.
    """
    a, b = np.array(first), np.array(second)
    mean = (b - a).mean()
    spread = a + mean + wider * (b - a - mean)
    gain = gain_of_waiting(plain(*a), plain(*b))
    assert 0.0 <= gain.minutes <= np.abs(b - a).max() + 1e-6
    assert gain_of_waiting(plain(*a), plain(*spread)).minutes >= gain.minutes - 1e-5
    assert gain_of_waiting(plain(*b), plain(*a)).minutes == pytest.approx(gain.minutes, abs=1e-5)
