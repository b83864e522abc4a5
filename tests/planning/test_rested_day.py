"""A built day with its breaks: where they are taken, what counts as one, what is told. INVENTED."""

from dataclasses import replace
from datetime import time, timedelta

import numpy as np
import pytest

from replanner.planning.build import BuiltDay
from replanner.planning.day_search import DaySearch
from replanner.planning.own_run import own_run
from replanner.planning.rested_day import rested
from replanner.planning.rules import Rules
from replanner.planning.timetable import Timetable, timetable
from replanner.trip.model import Ferry, Halt, HaltKind, Leg, LegKind, Road, Sailing, Section, Way
from tests.planning.invented import a_day, a_leg, a_tour, build, roads, utc

RULES = Rules(left_out_cost=0.0)  # with a break of 15 min every two hours: Highway Code, rule 91
CAFE = Halt(place="far", fraction=0.5, minutes=30, kind=HaltKind.CAFE)


def day_of(*legs: Leg, ridden: float = 0.0, **other: object) -> BuiltDay:
    """Build the day of these musts with its breaks."""
    musts = [replace(leg, must=True) for leg in legs]
    return rested(build(a_tour(musts), rules=RULES, **other), ridden)


def times_of(built: BuiltDay) -> Timetable:
    plan = DaySearch(built.problem).value_of_order(range(len(built.legs)))
    assert plan is not None
    return timetable(built, plan)


def breaks(built: BuiltDay) -> list[tuple[str | None, float]]:
    """Tell the breaks of the legs in their order: the place, and minutes since leaving."""
    times = times_of(built)
    return [
        (place, (at - times.departure).total_seconds() / 60.0)
        for leg in times.legs
        for place, at in leg.breaks
    ]


def test_two_hours_are_ridden_without_a_break_and_no_minute_more() -> None:
    assert breaks(day_of(a_leg("one"), a_leg("two"))) == []
    assert breaks(day_of(a_leg("one"), a_leg("two", minutes=61))) == [("base", 60.0)]


def test_a_leg_of_more_than_two_hours_has_its_own_break_in_its_middle() -> None:
    built = day_of(a_leg("long", minutes=180))
    assert breaks(built) == [(None, 90.0)]
    assert (times_of(built).arrival - times_of(built).departure) == timedelta(minutes=195)
    assert len(breaks(day_of(a_leg("long", minutes=241)))) == 2


def test_a_break_on_a_leg_is_at_the_end_of_a_section_where_one_lies_well() -> None:
    bridge = Section(name="bridge", from_fraction=0.6, to_fraction=0.62, road=Road())
    assert breaks(day_of(a_leg("long", minutes=180, sections=(bridge,)))) == [(None, 108.0)]
    early = replace(bridge, from_fraction=0.1, to_fraction=0.12)  # two hours and more would be left
    ((_, since),) = breaks(day_of(a_leg("long", minutes=180, sections=(early,))))
    assert 60.0 <= since <= 120.0


@pytest.mark.parametrize(
    ("kind", "minutes", "counts"),
    [
        (HaltKind.CAFE, 15.0, True),
        (HaltKind.VISIT, 40.0, True),
        (HaltKind.DRONE, 20.0, True),
        (HaltKind.PHOTO, 7.0, False),
    ],
)
def test_a_halt_as_long_as_a_break_is_one(kind: HaltKind, minutes: float, counts: bool) -> None:
    halt = Halt(place="far", fraction=0.5, minutes=minutes, kind=kind)
    built = day_of(a_leg("one", minutes=100, halts=(halt,)), a_leg("two"))
    assert (breaks(built) == []) is counts


def test_a_short_fuel_stop_is_drawn_out_rather_than_left_for_a_break() -> None:
    pump = Halt(place="base", fraction=1.0, minutes=10, kind=HaltKind.FUEL)
    built = day_of(a_leg("one", minutes=100, halts=(pump,)), a_leg("two"))
    times = times_of(built)
    assert breaks(built) == []
    assert times.arrival - times.departure == timedelta(minutes=100 + 15 + 60)
    short = day_of(a_leg("one", halts=(pump,)), a_leg("two"))  # two hours in all: no need
    assert times_of(short).arrival - times_of(short).departure == timedelta(minutes=60 + 10 + 60)


def test_on_a_boat_one_sits_and_waiting_for_it_one_sits_too() -> None:
    sailing = Sailing(way=Way.FORWARD, weekdays=frozenset(range(7)), departures=(time(10, 30),))
    ferry = Ferry(sailings=(sailing,), boarding_minutes=20)

    def crossing(minutes: float) -> Leg:
        return a_leg(
            "boat", minutes=minutes, kind=LegKind.CROSSING, start="quay", end="base", ferry=ferry
        )

    there = a_leg("there", minutes=100, end="quay", one_way=True)
    for minutes in (25, 5):
        built = day_of(there, crossing(minutes), a_leg("after", minutes=100))
        assert breaks(built) == []
        boat = times_of(built).legs[1]
        assert boat.sailing == utc("10:30")
        assert boat.start <= boat.sailing - timedelta(minutes=20)  # in time to board


def test_a_wait_for_an_opening_is_a_break() -> None:
    def late(hours: np.ndarray) -> np.ndarray:
        return np.where(hours < 13.0, 4.0, 0.0)

    day = a_day("one", "two", earliest_departure=time(10), latest_departure=time(10))
    legs = [replace(a_leg(name, minutes=90), must=True) for name in ("one", "two")]
    built = rested(build(a_tour(legs, [day]), rules=RULES, severity={"two": late}))
    times = times_of(built)
    assert times.legs[1].start == utc("13:00")  # as without the break: it is part of the wait
    assert times.arrival == utc("14:30")


def test_a_road_between_legs_of_more_than_two_hours_has_a_break_of_its_own() -> None:
    far = a_leg("far", start="far", end="far", minutes=30)
    built = day_of(far, connectors=roads({("base", "far"): 150.0}))
    assert breaks(built)[0] == (None, 75.0)
    # 75 min ridden to the leg, 30 on it and 75 more are more than two hours: a third break
    assert len(breaks(built)) == 3
    times = times_of(built)
    assert times.arrival - times.departure == timedelta(minutes=150 + 30 + 150 + 3 * 15)


def test_what_was_ridden_before_the_day_began_counts() -> None:
    loop = a_leg("one")
    assert breaks(day_of(loop, ridden=60.0)) == []
    assert breaks(day_of(loop, ridden=61.0)) == [("base", 0.0)]
    assert breaks(day_of(loop, ridden=500.0)) == [("base", 0.0)]


@pytest.mark.parametrize(
    ("ridden", "minutes", "wanted"),
    [
        (50.0, 70.0, []),
        (50.0, 75.0, [12.5]),  # of 125 minutes in one go the middle
        (100.0, 40.0, [0.0]),  # the middle is behind them
        (100.0, 130.0, [15.0]),  # of 230 the middle
        (100.0, 145.0, [0.0, 78.333]),  # two of 245, the first is due
        (200.0, 60.0, [0.0]),  # they have ridden longer than they should
    ],
)
def test_who_is_on_a_leg_has_its_breaks_by_what_he_has_ridden_of_it(
    ridden: float, minutes: float, wanted: list[float]
) -> None:
    leg = a_leg("rest", minutes=minutes, must=True)
    built = build(a_tour([leg]), rules=RULES, no_wait=frozenset({"base"}), midway=ridden)
    found = breaks(rested(built))
    assert [place for place, _ in found] == [None] * len(wanted)
    assert [since for _, since in found] == pytest.approx(wanted, abs=0.02)


def test_a_leg_begun_elsewhere_has_no_breaks_for_what_was_ridden_before() -> None:
    built = build(a_tour([a_leg("one", must=True)]), rules=RULES, midway=110.0)
    assert breaks(rested(built)) == []
    assert breaks(rested(built, 110.0)) == [("base", 0.0)]


def test_the_own_order_is_ridden_with_its_breaks_too() -> None:
    legs = [a_leg(name, minutes=100) for name in ("one", "two", "three")]
    whole = build(a_tour(legs), rules=RULES)
    plain, paused = own_run(whole), own_run(rested(whole))
    assert plain.finish_slot is not None
    assert paused.finish_slot == plain.finish_slot + 2 * 3  # two breaks of three slots
    assert [one.leg for one in paused.visits] == ["one", "two", "three"]


def test_an_order_that_needs_fewer_breaks_is_found() -> None:
    """A café in the middle leg: first or last it spares no break, between the others it does."""
    legs = [
        a_leg("cafe", minutes=110, halts=(CAFE,)),
        a_leg("one", minutes=65),
        a_leg("two", minutes=65),
    ]
    day = a_day("cafe", "one", "two", latest_arrival=time(12, 5), earliest_departure=time(7, 35))
    # 240 min ridden and half an hour sat: 270 minutes from 07:35 to 12:05, not a minute to spare
    built = rested(build(a_tour(legs, [day]), rules=RULES))
    plan = DaySearch(built.problem).best().solution
    assert plan is not None
    assert {built.legs[leg].leg.id for leg in plan.legs} == {"cafe", "one", "two"}
    assert built.legs[plan.legs[1]].leg.id == "cafe"
    assert not any(leg.breaks for leg in timetable(built, plan).legs)
