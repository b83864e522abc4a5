"""The own order ridden as it stands: the baseline every reason is measured against. INVENTED."""

from datetime import time

import numpy as np
import pytest

from replanner.planning.day_search import DaySearch
from replanner.planning.own_run import own_leave_slot, own_plan, own_run
from replanner.planning.rules import Rules
from replanner.planning.timetable import slot_moment
from replanner.trip.model import Ferry, LegKind, Sailing, Way, WeeklyWindow, WindowEffect
from replanner.trip.windows import BanKind
from tests.planning.invented import a_day, a_leg, a_tour, build, utc


def test_it_leaves_when_the_rider_would() -> None:
    tour = a_tour([a_leg("loop")], days=[a_day("loop", own_departure=time(9, 10))])
    built = build(tour)
    run = own_run(built)
    assert slot_moment(built, run.leave_slot) == utc("09:10")
    assert slot_moment(built, run.visits[0].visit.start_slot) == utc("09:10")


def test_a_departure_before_dawn_waits_for_the_first_slot() -> None:
    built = build(a_tour([a_leg("loop")], days=[a_day("loop", own_departure=time(5))]))
    assert own_leave_slot(built) == built.clock.earliest


def test_its_value_is_that_of_the_order_timed_so() -> None:
    tour = a_tour([a_leg("one", worth=50), a_leg("two", worth=30)])
    built = build(tour, severity={"one": 2.0}, rules=Rules())
    run = own_run(built)
    timed = DaySearch(built.problem).value_of_order(built.own_order)
    assert run.value is not None
    assert timed is not None
    assert run.value <= timed.value + 1e-6
    assert run.value == pytest.approx(50 + 30 - 60 * 0.5)  # an hour at caution costs half of it


def test_a_no_go_stops_nobody_here_but_has_no_value() -> None:
    tour = a_tour([a_leg("one"), a_leg("two")])
    run = own_run(build(tour, severity={"one": 4.0}))
    assert run.value is None
    assert run.severity == 4.0
    assert run.worst is not None
    assert run.worst.ban is not None
    assert run.worst.ban.kind is BanKind.HAZARD
    assert len(run.visits) == 2


def test_everybody_waits_for_a_boat_and_a_gate() -> None:
    boat = a_leg(
        "boat",
        minutes=25,
        kind=LegKind.CROSSING,
        one_way=True,
        ferry=Ferry(
            sailings=(
                Sailing(way=Way.FORWARD, weekdays=frozenset(range(7)), departures=(time(11, 15),)),
            ),
            boarding_minutes=20,
        ),
    )
    gate = WeeklyWindow(
        name="gate", effect=WindowEffect.OPEN, opens=time(13), closes=time(17), fractions=(0.0,)
    )
    tour = a_tour(
        [boat, a_leg("gated", one_way=True, windows=(gate,))],
        days=[a_day("boat", "gated", own_departure=time(8))],
    )
    built = build(tour)
    run = own_run(built)
    starts = [slot_moment(built, met.visit.start_slot) for met in run.visits]
    assert utc("10:30") <= starts[0] <= utc("10:55")
    assert starts[1] == utc("13:00")
    assert run.value is not None


def test_a_day_too_long_does_not_end() -> None:
    legs = [a_leg(f"leg{n}", minutes=300) for n in range(4)]
    run = own_run(build(a_tour(legs)))
    assert run.finish_slot is None
    assert run.value is None


def test_kept_as_a_plan_it_holds_every_limit_or_is_none() -> None:
    def wet_early(hours: np.ndarray) -> np.ndarray:
        return np.where(hours < 12, 4.0, 0.0)

    tour = a_tour([a_leg("one"), a_leg("two")], days=[a_day("one", "two", own_departure=time(8))])
    built = build(tour, severity={"one": wet_early})
    kept = own_plan(built, DaySearch(built.problem))
    assert kept is not None
    assert kept.legs == built.own_order
    assert slot_moment(built, kept.visits[0].start_slot) >= utc("12:00")
    never = build(tour, severity={"one": 4.0})
    assert own_plan(never, DaySearch(never.problem)) is None
