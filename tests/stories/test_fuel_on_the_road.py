"""The tank on the road: riders say that they have filled up, and the rest is planned on it.

Tour and weather are INVENTED.
"""

import numpy as np
import pytest

from replanner.advice.briefing import Briefing
from replanner.trip.model import Way
from replanner.trip.stretches import leg_line, point_at
from tests.stories.ridden import FRIDAY, SATURDAY, TOUR, ByBot, ByTerminal, Teller, at
from tests.trip.rides import Phone

Rider = ByBot | ByTerminal


def newest(rider: Rider) -> Briefing:
    found = rider.store.newest_plan(rider.tour_key, FRIDAY)
    assert found is not None
    return found


def filled_up(rider: Rider) -> None:
    """Friday's plan takes fuel at the base at the end of a loop; they take it a loop earlier."""
    assert "fuel, Orrowick" in rider.until("Thu 19:30")
    rider.says("ok")
    rider.until("Fri 12:00")
    rider.says("running 5 late")
    assert any(leg.pumps for leg in newest(rider).legs)

    told = rider.says("filled up at orrowick")
    # Four fifths of the smallest tank, 340 km; the loop they were about to end is behind them.
    assert told.startswith("Full tank noted, I count on 272 km. Ridden: Salt Causeway. You are at")
    rest = newest(rider)
    assert [leg.id for leg in rest.legs if leg.pumps] == []
    ridden = sum(TOUR.legs[leg.id].distance_km for leg in rest.legs)
    assert ridden <= 272
    assert rest.legs[-1].since_full[-1][1] == pytest.approx(ridden)

    # Asked, nothing is noted; taken back, it is as reckoned.
    assert rider.says("filled up?").startswith("Fuel: ")
    assert "Undo: Full tank noted" in rider.says("undo")
    before = rider.outcome().memories[FRIDAY].demands.underway
    assert before is not None
    assert before.tank_km == pytest.approx(96, abs=10)  # most of the causeway


def test_who_has_filled_up_needs_no_pump_any_more(teller: Teller) -> None:
    teller.both_ways(filled_up)


def tank_cautions(rider: Rider) -> set[str]:
    return {"tank", "tank_reckoned"} & set(newest(rider).cautions)


def full_at_noon(rider: Rider) -> None:
    """They tell of a full tank, and ride on by the plan."""
    rider.until("Thu 19:30")
    rider.says("ok")
    rider.until("Fri 12:00")
    rider.says("running 5 late")
    assert tank_cautions(rider) == {"tank"}  # full in the morning: nobody has said so

    rider.says("fuelled up at orrowick, all good")
    assert tank_cautions(rider) == set()
    rider.says("lunch 45 min")
    assert tank_cautions(rider) == set()  # still at the pump

    rider.until("Fri 14:00")
    rider.says("running 5 late")
    assert newest(rider).legs[0].since_full[0][1] > 1.0
    assert tank_cautions(rider) == {"tank_reckoned"}
    assert "Since you told of your tanks" in rider.says("cautions")

    rider.says("150 km left")
    assert tank_cautions(rider) == set()


def test_the_tank_is_not_called_unknown_after_filling_up(teller: Teller) -> None:
    teller.both_ways(full_at_noon)


def full_the_evening_before(rider: Rider) -> None:
    """Thursday was never planned: the talk is of Friday's plan, and stays so."""
    rider.until("Thu 19:30")
    why = rider.says("why")
    told = rider.says("filled up, all good")
    assert told == "The plan of Fri 2 Apr counts on a full tank in the morning: 272 km."
    assert rider.outcome().accepted[FRIDAY] is None
    assert rider.says("why") == why
    assert rider.says("ok").startswith("Accepted")
    assert rider.outcome().accepted[FRIDAY] is not None


def test_who_fills_up_in_the_evening_goes_on_speaking_of_tomorrow(teller: Teller) -> None:
    teller.both_ways(full_the_evening_before)


def hask_km(share: float) -> float:
    return share * TOUR.legs["hask_saddle"].distance_km


def reckoned_km(rider: Rider) -> float:
    """Return what the plan counts as ridden since the tank was full where the riders are."""
    underway = rider.outcome().memories[FRIDAY].demands.underway
    assert underway is not None
    assert underway.tank_km is not None
    return underway.tank_km


def way_ridden(rider: Rider) -> Way:
    """Return the way in which they are on the leg they are on."""
    underway = rider.outcome().memories[FRIDAY].demands.underway
    assert underway is not None
    assert underway.on_leg is not None
    return underway.on_leg.way


def full_and_followed(rider: Rider) -> None:
    """They tell of a full tank, sit long at the pump and are followed by their phone."""
    rider.until("Thu 19:30")
    rider.says("ok")
    rider.until("Fri 12:00")
    rider.says("filled up at orrowick")
    told, unseen_km = [], []
    phone = Phone(TOUR, at("Fri 15:00"), np.random.default_rng(1), 600.0)
    for point, when in phone.along("hask_saddle", last=0.4):
        rider.passes(when)
        told.append(rider.shares(point, live=True))
        unseen_km.append(reckoned_km(rider))

    # Hours late nothing has been ridden yet; the new plan is for other legs. Nobody has seen them
    # sit there: they may have ridden by the plan, and be back.
    assert told[0].startswith("160 min late")
    assert 60.0 < unseen_km[0] < 120.0
    # So they are off it on the pass, two steps of six behind them: another plan, on the tank told.
    assert told[2].startswith("Off the plan. You are on Hask Saddle.")
    assert "check the tank" not in told[2]
    assert tank_cautions(rider) == {"tank_reckoned"}
    (rest,) = newest(rider).legs
    # Off the plan the road is reckoned from the straight line, rather as longer than it is.
    seen_km = rest.since_full[0][1] - unseen_km[0]
    assert hask_km(0.4 / 3) < seen_km < 1.4 * hask_km(0.4 / 3)

    # On the plan it is by the plan: no more is added than the road ridden on.
    assert reckoned_km(rider) == pytest.approx(rest.since_full[0][1] + hask_km(0.8 / 3), abs=1.0)
    rider.says("lunch 45 min")
    assert tank_cautions(rider) == {"tank_reckoned"}


def test_a_plan_made_from_live_positions_knows_of_the_full_tank(teller: Teller) -> None:
    teller.both_ways(full_and_followed)


def full_and_seen_once(rider: Rider) -> None:
    """They ride on by the plan, but later, and share where they are: the tank is as it is there."""
    rider.until("Thu 19:30")
    rider.says("ok")
    rider.until("Fri 12:00")
    rider.says("filled up at orrowick")
    rider.until("Fri 13:30")
    saddle = TOUR.legs["hask_saddle"]
    assert newest(rider).legs[0].way is Way.REVERSE
    rider.shares(point_at(leg_line(TOUR, saddle), 1.0 - 0.25))
    assert way_ridden(rider) is Way.REVERSE  # a position tells no way, but the plan does
    assert newest(rider).legs[0].since_full[0][1] == pytest.approx(hask_km(0.25), abs=1.0)
    assert tank_cautions(rider) == {"tank_reckoned"}

    rider.says("150 km left")
    assert tank_cautions(rider) == set()
    rider.until("Fri 14:00")
    rider.shares(point_at(leg_line(TOUR, saddle), 1.0 - 0.35))
    assert tank_cautions(rider) == {"tank_reckoned"}
    since_full = 0.8 * (340.0 - 150.0) + hask_km(0.1)
    assert reckoned_km(rider) == pytest.approx(since_full, abs=1.0)

    rider.says("at haskfoot")
    assert way_ridden(rider) is Way.REVERSE  # also on what is left of the leg
    assert reckoned_km(rider) > since_full


def test_a_position_shared_once_says_how_far_the_tank_has_come(teller: Teller) -> None:
    teller.both_ways(full_and_seen_once)


FULL_TOMORROW = "The plan of Sat 3 Apr counts on a full tank in the morning: 272 km."


def full_at_the_end_of_the_day(rider: Rider) -> None:
    """They are in by the plan and have not said so; the pump is round the corner."""
    rider.until("Thu 19:30")
    rider.says("ok")
    rider.until("Fri 18:50")
    told = rider.says("filled up").splitlines()
    assert told[0] == f"By the plan you are at Orrowick. {FULL_TOMORROW}"
    assert told[1] == "Still out? Say where: filled up at ..."
    before = rider.outcome().memories[FRIDAY].demands
    assert before.underway is None  # Friday is not planned on

    # Saturday's plan has come: the talk stays with it.
    rider.until("Fri 19:35")
    assert "Sat 3 Apr" in rider.last
    why = rider.says("why")
    assert rider.says("filled up, all good") == FULL_TOMORROW
    assert rider.says("why") == why
    assert rider.outcome().memories[FRIDAY].demands == before
    assert rider.outcome().accepted[SATURDAY] is None

    # Closed, Friday is spoken about, and nothing is planned of it either.
    assert "The day is closed." in rider.says("home safe")
    assert rider.says("filled up") == FULL_TOMORROW
    assert rider.outcome().memories[FRIDAY].demands == before


def test_who_fills_up_when_the_day_is_over_is_told_of_tomorrow(teller: Teller) -> None:
    teller.both_ways(full_at_the_end_of_the_day)


def full_and_still_out(rider: Rider) -> None:
    """By the plan they are in, but they are not: they say where they are."""
    rider.until("Thu 19:30")
    rider.says("ok")
    rider.until("Fri 18:50")
    rider.says("filled up")
    told = rider.says("filled up at haskfoot")
    assert told.startswith("Full tank noted, I count on 272 km. You are at Haskfoot.")
    assert reckoned_km(rider) == 0.0


def test_who_fills_up_late_and_says_where_has_a_full_tank_today(teller: Teller) -> None:
    teller.both_ways(full_and_still_out)
