"""Demands that cannot hold together on a tank: the smallest set, by trying every set. INVENTED."""

from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from replanner.planning.build import BuiltDay
from replanner.planning.demand import DemandKind
from replanner.planning.fuelled_day import tank_of
from replanner.planning.holding import best_that_holds
from replanner.planning.tank_blame import tank_blame
from replanner.trip.edits import Demands
from replanner.trip.model import Halt, HaltKind, Leg, Rider
from tests.planning.invented import a_leg, a_tour, build

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
    assert [(one.kind, one.legs) for one in found] == [(DemandKind.TANK, ("far",))]


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
    assert [one.legs for one in found if one.kind is DemandKind.RIDE] == [("one",), ("two",)]
    (lacks,) = [one for one in found if one.kind is DemandKind.TANK]
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
    orders = {one.legs for one in found if one.kind is DemandKind.BEFORE}
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
    named = {leg for one in found for leg in one.legs}
    rides = sorted(
        {leg for one in found if one.kind is DemandKind.RIDE for leg in one.legs} or named
    )

    def holds(musts: tuple[str, ...]) -> bool:
        fewer = [replace(leg, must=leg.id in musts) for leg in legs]
        return has_a_plan(day_of(usable, *fewer))

    assert not holds(tuple(rides))
    for fewer in combinations(rides, len(rides) - 1):
        assert holds(fewer)
