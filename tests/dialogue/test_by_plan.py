"""Where riders are by their plan. On the same day under the same sky it still holds, wherever."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from replanner.advice.briefing import PlannedLeg
from replanner.dialogue.by_plan import Stand, stand
from replanner.dialogue.road_told import in_force
from replanner.dialogue.state import State
from replanner.service.evening import plan_day
from replanner.trip.model import LegKind
from tests.dialogue.road_day import FRIDAY, SATURDAY, TOUR, Ride


def minutes(count: float) -> timedelta:
    return timedelta(minutes=count)


@pytest.fixture(scope="module")
def saturday() -> State:
    return Ride(SATURDAY).state


@pytest.fixture(scope="module")
def ferry(saturday: State) -> PlannedLeg:
    plan = in_force(saturday)
    assert plan is not None
    return next(leg for leg in plan.briefing.legs if leg.sailing is not None)


def taken_to_be(state: State, sent: datetime, behind: float = 0.0) -> Stand:
    found = stand(state, sent, minutes(behind))
    assert found is not None
    return found


def test_who_is_in_the_queue_has_the_boat_until_it_sails(
    saturday: State, ferry: PlannedLeg
) -> None:
    assert ferry.sailing is not None
    quay, over = TOUR.legs["narrows_ferry"].ends(ferry.way)
    queue = taken_to_be(saturday, ferry.sailing - minutes(1)).underway
    assert (queue.place, queue.boarding) == (quay, "narrows_ferry")
    afloat = taken_to_be(saturday, ferry.sailing + minutes(1)).underway
    assert (afloat.place, afloat.boarding, afloat.ready) == (over, None, ferry.end)
    assert "narrows_ferry" in afloat.ridden
    # The boat takes nothing from the tank: what was ridden to the quay is what is missing from it.
    assert ferry.since_full
    assert queue.tank_km == afloat.tank_km == pytest.approx(ferry.since_full[0][1])
    assert queue.tank_km


def test_a_boat_that_was_caught_late_arrives_in_time(saturday: State, ferry: PlannedLeg) -> None:
    """How late they may be at the quay is what the plan had to spare there beside boarding."""
    crossing = TOUR.legs["narrows_ferry"].ferry
    assert ferry.sailing is not None
    assert crossing is not None
    spare = (ferry.sailing - ferry.start).total_seconds() / 60.0 - crossing.boarding_minutes
    quay, over = TOUR.legs["narrows_ferry"].ends(ferry.way)
    after = ferry.sailing + minutes(spare + 2)
    caught = taken_to_be(saturday, after, behind=spare).underway
    assert (caught.place, caught.ready) == (over, max(ferry.end, after))
    missed = taken_to_be(saturday, after, behind=spare + 1).underway
    assert (missed.place, missed.boarding) == (quay, "narrows_ferry")


def halted(state: State) -> Iterator[tuple[PlannedLeg, float, datetime, datetime]]:
    """Give every standstill of the legs of a plan: the leg, where on it, from when until when."""
    plan = in_force(state)
    assert plan is not None
    for leg in plan.briefing.legs:
        for (here, since), (there, until) in zip(leg.course, leg.course[1:], strict=False):
            if here == there < 1.0 and TOUR.legs[leg.id].kind is not LegKind.CROSSING:
                yield leg, here, since, until


@pytest.mark.parametrize("day", [FRIDAY, SATURDAY])
def test_who_halts_rides_on_from_there_when_the_halt_is_over(day: date) -> None:
    state = Ride(day).state
    found = list(halted(state))
    assert found
    for leg, share, since, until in found:
        underway = taken_to_be(state, since + (until - since) / 2).underway
        assert underway.ready == until
        assert underway.on_leg is not None
        assert underway.on_leg.leg == leg.id
        assert underway.on_leg.fraction == pytest.approx(share, abs=3e-3)
        late = taken_to_be(state, since + (until - since) / 2 + minutes(7), behind=7).underway
        assert late.ready == until + minutes(7)


@pytest.mark.parametrize("day", [FRIDAY, SATURDAY])
def test_a_plan_ridden_as_planned_holds_all_day(day: date) -> None:
    """Every 25 minutes: the same legs in the same order, none of them worse, and in as planned.

    On the road the first leg is timed from the very minute, not from a slot of the evening: the
    day may end a slot later.
    """
    ride = Ride(day)
    plan = in_force(ride.state)
    assert plan is not None
    assert plan.briefing.departure is not None
    assert plan.briefing.arrival is not None
    planned = {leg.id: leg for leg in plan.briefing.legs}
    now = plan.briefing.departure + minutes(1)
    while now < plan.briefing.arrival:
        here = taken_to_be(ride.state, now).underway
        demands = replace(ride.state.demands, underway=here)
        rest = plan_day(TOUR, TOUR.day(day), now, demands, ride.means).briefing
        assert [leg.id for leg in rest.legs] == [one for one in planned if one not in here.ridden]
        for leg in rest.legs:
            assert leg.severity < max(2.0, planned[leg.id].severity + 1e-9), (now, leg.id)
        assert rest.arrival is not None
        assert rest.arrival <= plan.briefing.arrival + minutes(5)
        now += minutes(25)
