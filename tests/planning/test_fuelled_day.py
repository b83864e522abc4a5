"""A built day on its smallest tank: pumps taken, legs too far, what is lacking. INVENTED tours."""

from dataclasses import replace

import pytest

from replanner.planning import holding
from replanner.planning.build import BuiltDay
from replanner.planning.fuelled_day import tank_of
from replanner.planning.holding import as_found, best_that_holds, tank_lacks
from replanner.planning.own_run import own_run
from replanner.planning.tank import Tank, first_dry
from replanner.planning.timetable import Timetable, timetable
from replanner.trip.model import Halt, HaltKind, Leg, LegKind, Rider
from tests.planning.invented import a_leg, a_tour, build

PUMP = Halt(place="base", fraction=1.0, minutes=10, kind=HaltKind.FUEL, optional=True)


def on_a_tank(range_km: float, *legs: Leg) -> tuple[BuiltDay, Tank | None]:
    """Build the day of these legs for a rider with such a tank; four fifths of it are usable."""
    tour = replace(a_tour(legs), riders=(Rider(id="R1", leader=True, tank_range_km=range_km),))
    built = build(tour)
    return built, tank_of(built)


def best(range_km: float, *legs: Leg) -> Timetable | None:
    built, tank = on_a_tank(range_km, *legs)
    held = best_that_holds(built, tank)
    plan = held.found.solution
    assert held.found.proven
    return None if plan is None else timetable(held.built, plan)


def filled(times: Timetable) -> list[str]:
    return [one.leg for one in times.legs for halt, _ in one.halts if halt.kind is HaltKind.FUEL]


def test_a_pump_is_taken_only_where_the_tank_demands_it() -> None:
    legs = [a_leg(name, distance_km=100.0, halts=(PUMP,)) for name in ("one", "two", "three")]
    enough, short = best(375.0, *legs), best(374.0, *legs)
    assert enough is not None
    assert short is not None
    assert filled(enough) == []  # 300 km of 375, four fifths
    assert len(filled(short)) == 1
    assert filled(short)[0] != short.legs[-1].leg  # at the base in the evening it would be too late
    assert len(short.legs) == 3
    at_pump = next(one for one in short.legs if filled(short) == [one.leg])
    ((_, reached),) = at_pump.halts
    assert (at_pump.end - reached).total_seconds() == 600.0  # the hour is told, and its minutes


def test_the_order_is_changed_where_that_saves_a_pump() -> None:
    # the pump of the long leg is on its way: ridden second it fills the tank in the middle
    fixed = replace(PUMP, fraction=0.5, optional=False)
    legs = [
        a_leg("pumped", distance_km=100.0, halts=(fixed,)),
        a_leg("one", distance_km=100.0),
        a_leg("two", distance_km=100.0),
    ]
    times = best(250.0, *legs)  # 200 km usable: 50 + 100 + 100 behind the pump is too far
    assert times is not None
    assert [one.leg for one in times.legs][1] == "pumped"


def test_a_leg_too_far_is_left_out_and_the_own_order_told_as_dry() -> None:
    legs = [a_leg("far", distance_km=300.0, worth=10.0), a_leg("near", distance_km=50.0)]
    built, tank = on_a_tank(300.0, *legs)
    times = best(300.0, *legs)
    assert times is not None
    assert [one.leg for one in times.legs] == ["near"]
    run = own_run(built, tank)
    assert (run.dry, run.dry_leg, run.value) == (True, "far", None)
    assert not own_run(built, None).dry


def test_a_must_too_far_is_named_with_the_kilometres_that_are_lacking() -> None:
    built, tank = on_a_tank(
        200.0, a_leg("far", distance_km=200.0, must=True), a_leg("near", distance_km=40.0)
    )
    assert tank is not None
    assert best_that_holds(built, tank).found.solution is None
    lacking = tank_lacks(built, tank)
    assert lacking is not None
    assert lacking.legs == ("far",)
    assert lacking.lacking_km == pytest.approx(40.0, abs=1.0)  # 200 km of which 160 are usable
    larger = replace(tank, usable_km=tank.usable_km + 40.0)
    assert best_that_holds(built, larger).found.solution is not None


def test_every_plan_told_lasts() -> None:
    legs = [
        a_leg(name, distance_km=km, worth=worth)
        for name, km, worth in [("a", 120.0, 30.0), ("b", 90.0, 60.0), ("c", 70.0, 20.0)]
    ]
    built, tank = on_a_tank(260.0, *legs)  # 208 km: any two but a and b, never three
    held = as_found(built, tank)
    for leg in range(3):
        forced = held.search.best(forced=frozenset({leg})).solution
        assert forced is not None
        assert sum(legs[number].distance_km for number in forced.legs) <= 208.0


def test_without_a_range_or_with_one_for_every_day_nothing_is_split() -> None:
    legs = [a_leg("one", distance_km=50.0), a_leg("two", distance_km=50.0)]
    assert on_a_tank(1000.0, *legs)[1] is None
    assert tank_of(build(a_tour(legs))) is None


def test_a_crossing_takes_nothing_from_the_tank() -> None:
    boat = a_leg(
        "boat", kind=LegKind.CROSSING, start="base", end="quay", distance_km=500.0, must=True
    )
    built, tank = on_a_tank(70.0, boat)
    assert tank is not None
    assert {ride.before for ride in tank.rides[0]} == {0.0}
    assert best_that_holds(built, tank).found.solution is not None


def test_a_day_of_many_pumps_keeps_its_best_plan_when_the_others_are_only_safe(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    legs = [
        a_leg(name, distance_km=km, worth=worth, halts=(PUMP,))
        for name, km, worth in [("a", 120.0, 30.0), ("b", 90.0, 60.0), ("c", 70.0, 20.0)]
    ]
    built, tank = on_a_tank(260.0, *legs)
    assert tank is not None
    exact = as_found(built, tank)
    monkeypatch.setattr(holding, "MOST_PLACES_TIMES_SETS", 0)
    safe = as_found(built, tank)
    assert exact.found.solution is not None
    assert safe.found.solution is not None
    assert safe.found.solution.value == exact.found.solution.value
    assert safe.day is not None
    for leg in range(3):
        beside = safe.search.best(forced=frozenset({leg})).solution
        assert beside is not None
        assert first_dry(built.problem, tank, safe.day.whole(beside)) is None
