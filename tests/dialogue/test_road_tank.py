"""What is known of the tank on the road: full in the morning, told, reckoned. All INVENTED."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from replanner.dialogue.by_plan import stand
from replanner.dialogue.events import PositionCame
from replanner.trip.model import Way
from replanner.trip.underway import OnLeg, Underway
from tests.dialogue.road_day import FRIDAY, TOUR, Ride, at


@pytest.fixture
def friday() -> Ride:
    return Ride(FRIDAY)


def at_base(sent: datetime, *, live: bool = True) -> PositionCame:
    there = Underway(at=sent, ready=sent, place="orrowick", live=live)
    return PositionCame(underway=there, live=live, sent=sent)


def tank_cautions(ride: Ride) -> set[str]:
    assert ride.state.shown is not None
    return {"tank", "tank_reckoned"} & set(ride.state.shown.briefing.cautions)


def underway(ride: Ride) -> Underway:
    found = ride.state.demands.underway
    assert found is not None
    return found


def test_before_the_plan_leaves_the_tank_is_full(friday: Ride) -> None:
    """The plan leaves at 8:30."""
    friday.shares(at_base(at(FRIDAY, 8)))
    friday.say(at(FRIDAY, 8, 5), "lunch 30 min")
    assert tank_cautions(friday) == set()
    friday.say(at(FRIDAY, 12), "running 5 late")
    assert tank_cautions(friday) == {"tank"}


def test_who_is_seen_at_the_base_all_along_still_has_a_full_tank(friday: Ride) -> None:
    for minute in (20, 35, 50):
        friday.shares(at_base(at(FRIDAY, 8, minute)))
    friday.say(at(FRIDAY, 8, 55), "lunch 30 min")
    assert underway(friday).in_the_morning
    assert tank_cautions(friday) == set()


@pytest.mark.parametrize("hour", [12, 15])
def test_live_positions_begun_at_the_base_by_day_are_no_full_tank(friday: Ride, hour: int) -> None:
    """They may have ridden; at 15:00 the plan has them at its pump, and nobody has said so."""
    friday.shares(at_base(at(FRIDAY, hour)))
    assert tank_cautions(friday) == {"tank"}
    friday.shares(at_base(at(FRIDAY, hour, 16)))
    assert tank_cautions(friday) == {"tank"}


@pytest.mark.parametrize("hour", [9, 12, 15])
def test_a_position_shared_once_at_the_base_by_day_is_no_full_tank(friday: Ride, hour: int) -> None:
    friday.shares(at_base(at(FRIDAY, hour), live=False))
    assert tank_cautions(friday) == {"tank"}


def test_where_no_plan_is_known_no_tank_is_full(friday: Ride) -> None:
    """Nobody has looked at a plan; at noon somebody shares where he is."""
    friday.state = replace(friday.state, shown=None, accepted=None)
    friday.shares(at_base(at(FRIDAY, 12), live=False))
    assert tank_cautions(friday) == {"tank"}


@pytest.mark.parametrize("live", [True, False])
def test_back_at_the_base_what_was_told_on_a_leg_is_only_reckoned(
    friday: Ride, *, live: bool
) -> None:
    """At 9:00 they are on the causeway and tell of their tank; they ride on, or back."""
    friday.say(at(FRIDAY, 9), "190 km left")
    told = underway(friday).tank_told_km
    friday.shares(at_base(at(FRIDAY, 10, 28), live=live))
    assert underway(friday).tank_told_km == told
    assert (underway(friday).tank_km or 0.0) > (told or 0.0) + 10.0
    assert tank_cautions(friday) == {"tank_reckoned"}


def test_hours_after_a_full_tank_at_the_base_it_is_only_reckoned(friday: Ride) -> None:
    """Between they may have ridden a loop."""
    friday.say(at(FRIDAY, 12), "filled up at orrowick")
    assert tank_cautions(friday) == set()
    friday.shares(at_base(at(FRIDAY, 13)))
    assert (underway(friday).tank_km or 0.0) > 10.0
    friday.say(at(FRIDAY, 13, 5), "lunch 30 min")
    assert tank_cautions(friday) == {"tank_reckoned"}


def test_a_pump_ahead_is_not_reckoned_with_before_it_is_reached(friday: Ride) -> None:
    """The plan fills up where its next leg begins; at its end of the one before nobody has."""
    friday.say(at(FRIDAY, 9), "190 km left")
    plan = friday.state.shown
    assert plan is not None
    first, second, *others = plan.briefing.legs
    early = replace(first, since_full=((0.0, 120.0), (1.0, 187.0)))
    late = replace(second, start=second.start + timedelta(minutes=10))
    late = replace(late, since_full=((0.0, 187.0), (0.0, 0.0), (1.0, 45.0)))
    briefing = replace(plan.briefing, legs=(early, late, *others))
    friday.state = replace(friday.state, shown=replace(plan, briefing=briefing))
    there = stand(friday.state, first.end + timedelta(minutes=5))
    assert there is not None
    assert (there.underway.tank_km, there.underway.tank_told_km) == (187.0, 120.0)
    on = stand(friday.state, late.start + timedelta(minutes=5))
    assert on is not None
    assert on.underway.tank_told_km is None


@pytest.mark.parametrize("line", ["at orrowick", "done hask saddle", "running 5 late"])
def test_where_the_plan_has_filled_up_and_nobody_has_said_so_it_is_told(
    friday: Ride, line: str
) -> None:
    """The plan fills up at the end of Hask, at 15:10; they say that they are there."""
    friday.say(at(FRIDAY, 9), "filled up")
    friday.say(at(FRIDAY, 15, 8), line)
    assert (underway(friday).tank_km, underway(friday).tank_told_km) == (0.0, None)
    assert tank_cautions(friday) == {"tank"}


def test_who_is_on_a_leg_too_early_has_not_filled_up_before_it(friday: Ride) -> None:
    """Brindle comes behind Hask and its pump by the plan; at 9:30 they are on it."""
    friday.say(at(FRIDAY, 9), "150 km left")
    told = underway(friday).tank_told_km
    assert told is not None
    on = OnLeg(leg="brindle_loop", way=Way.FORWARD, fraction=0.3)
    there = Underway(at=at(FRIDAY, 9, 30), ready=at(FRIDAY, 9, 30), on_leg=on, live=True)
    friday.shares(PositionCame(underway=there, live=True, sent=there.at))
    assert (underway(friday).tank_km or 0.0) >= told
    assert underway(friday).tank_told_km == told


def test_what_was_told_where_no_plan_lasts_on_it_goes_on_being_reckoned(friday: Ride) -> None:
    """With 20 km left no pump is reached by the plan: it is made without the tank."""
    friday.say(at(FRIDAY, 12), "20 km left")
    told = underway(friday).tank_told_km
    assert told == pytest.approx(0.8 * (340.0 - 20.0))
    assert friday.state.shown is not None
    assert not any(leg.since_full for leg in friday.state.shown.briefing.legs)
    hask = friday.state.shown.briefing.legs[0]
    whole_km = TOUR.legs["hask_saddle"].distance_km

    friday.say(at(FRIDAY, 13), "windy here")
    first = underway(friday)
    assert first.on_leg is not None
    assert first.tank_told_km == told
    ridden_km = whole_km * (first.on_leg.fraction - on_hask(friday, 12))
    assert first.tank_km == pytest.approx(told + ridden_km, abs=0.5)
    assert ridden_km > 20.0
    assert tank_cautions(friday) == {"tank"}  # planned without

    # In a plan made of that, and behind the leg, no kilometre is forgotten.
    over = hask.end + timedelta(minutes=2)
    friday.say(over, "lunch 30 min")
    left_km = whole_km * (1.0 - on_hask(friday, 12))
    assert (underway(friday).tank_km or 0.0) >= told + left_km - 0.5
    friday.say(over + timedelta(minutes=5), "filled up")
    assert underway(friday).tank_km == 0.0
    assert tank_cautions(friday) == set()


def on_hask(ride: Ride, hour: int) -> float:
    """Return how much of Hask is behind the riders of the evening's plan at an hour."""
    plan = Ride(ride.day).state.accepted
    assert plan is not None
    hask = next(leg for leg in plan.briefing.legs if leg.id == "hask_saddle")
    return hask.share_by(at(FRIDAY, hour))
