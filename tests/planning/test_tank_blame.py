"""Demands that cannot hold together on a tank: the smallest set, by trying every set. INVENTED."""

from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from replanner.planning.build import BuiltDay
from replanner.planning.day_demands import demands_of
from replanner.planning.day_search import solve
from replanner.planning.demand import DemandKind
from replanner.planning.fuelled_day import tank_of
from replanner.planning.holding import best_that_holds
from replanner.planning.problem_file import read_problem
from replanner.planning.tank_blame import clash_on, tank_blame
from replanner.trip.edits import Demands
from replanner.trip.model import Halt, HaltKind, Leg, Rider
from tests.planning.day_problems import every_demand, invented_problem, with_demands
from tests.planning.invented import a_leg, a_tour, build
from tests.planning.test_tank import best_by_enumeration, invented_tank

PUMP = Halt(place="base", fraction=1.0, minutes=10, kind=HaltKind.FUEL)


def day_of(usable_km: float, *legs: Leg, **other: object) -> BuiltDay:
    rider = Rider(id="R1", leader=True, tank_range_km=usable_km / 0.8)
    return build(replace(a_tour(legs), riders=(rider,)), **other)


def has_a_plan(built: BuiltDay) -> bool:
    return best_that_holds(built, tank_of(built)).found.solution is not None


def test_one_leg_too_far_is_told_by_the_tank_alone() -> None:
    built = day_of(160.0, a_leg("far", distance_km=200.0, must=True), a_leg("near", must=True))
    tank = tank_of(built)
    assert tank is not None
    found = tank_blame(built, tank)
    assert found is not None
    assert [(one.kind, one.legs) for one in found.demands] == [(DemandKind.TANK, ("far",))]


def test_two_legs_that_are_too_far_together_are_both_named_and_no_third() -> None:
    legs = [
        a_leg("one", distance_km=100.0, must=True),
        a_leg("two", distance_km=90.0, must=True),
        a_leg("short", distance_km=10.0, must=True),
    ]
    built = day_of(160.0, *legs)
    tank = tank_of(built)
    assert tank is not None
    found = tank_blame(built, tank)
    assert found is not None
    assert [one.legs for one in found.demands if one.kind is DemandKind.RIDE] == [
        ("one",),
        ("two",),
    ]
    (lacks,) = [one for one in found.demands if one.kind is DemandKind.TANK]
    assert lacks.lacking_km == pytest.approx(30.0, abs=1.0)  # 190 km of which 160


def test_an_order_that_keeps_the_pump_to_the_end_is_to_blame() -> None:
    """With the pump first the tank lasts; a demand puts the others before it."""
    pumped = a_leg("pumped", distance_km=60.0, must=True, one_way=True, halts=(PUMP,))
    others = [a_leg(name, distance_km=55.0, must=True) for name in ("one", "two")]
    legs = (pumped, *others)
    assert has_a_plan(day_of(160.0, *legs))
    before = frozenset({("one", "pumped"), ("two", "pumped")})
    built = day_of(160.0, *legs, demands=Demands(before=before))
    assert not has_a_plan(built)
    tank = tank_of(built)
    assert tank is not None
    found = tank_blame(built, tank)
    assert found is not None
    orders = {one.legs for one in found.demands if one.kind is DemandKind.BEFORE}
    assert orders == before


def test_a_day_without_a_plan_on_any_tank_is_no_matter_of_the_tank() -> None:
    built = day_of(500.0, a_leg("endless", minutes=3000.0, distance_km=600.0, must=True))
    tank = tank_of(built)
    assert tank is not None
    assert tank_blame(built, tank) is None


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.sampled_from([30.0, 60.0, 90.0, 120.0, 180.0]), min_size=2, max_size=4),
    st.lists(st.booleans(), min_size=4, max_size=4),
    st.sampled_from([100.0, 150.0, 200.0]),
)
def test_what_is_named_cannot_hold_together_and_without_any_of_it_could(
    kilometres: list[float], pumps: list[bool], usable: float
) -> None:
    """Oracle: the whole day searched again for each set of musts that is one less."""
    legs = [
        a_leg(f"leg{n}", distance_km=km, minutes=40.0, must=True, halts=(PUMP,) * pumps[n])
        for n, km in enumerate(kilometres)
    ]
    built = day_of(usable, *legs)
    tank = tank_of(built)
    assume(tank is not None)
    assume(not has_a_plan(built))
    assert tank is not None
    found = tank_blame(built, tank)
    assert found is not None
    named = {leg for one in found.demands for leg in one.legs}
    rides = sorted(
        {leg for one in found.demands if one.kind is DemandKind.RIDE for leg in one.legs} or named
    )

    def holds(musts: tuple[str, ...]) -> bool:
        fewer = [replace(leg, must=leg.id in musts) for leg in legs]
        return has_a_plan(day_of(usable, *fewer))

    assert not holds(tuple(rides))
    for fewer in combinations(rides, len(rides) - 1):
        assert holds(fewer)


def test_what_is_named_is_the_fewest_demands_of_all() -> None:
    """Of any fewer demands of the day there is a plan on the tank: every order and way is tried.

    Letting go of one demand after another is not enough: of the last five it leaves too many.
    """
    named = fewer_tried = 0
    for seed in (*range(110, 400), 722, 795, 3331, 4483, 5821):
        file = invented_problem(seed, 2 + seed % 3, 12)
        for leg in file["legs"]:
            leg["must"] = leg["must"] or seed % 2 == 1
        problem = read_problem(file)
        tank = invented_tank(problem, seed + 1)
        if solve(problem).solution is None or best_by_enumeration(problem, tank) is not None:
            continue
        found = clash_on(problem, tank)
        told = demands_of(problem).named(found.demands)
        assert found.fewest
        assert best_by_enumeration(with_demands(problem, told), tank) is None
        for size in range(len(told)):
            for fewer in combinations(every_demand(problem), size):
                assert best_by_enumeration(with_demands(problem, fewer), tank) is not None
                fewer_tried += 1
        named += 1
    assert named > 10
    assert fewer_tried > 100
