"""The tank on the road: riders say that they have filled up, and the rest is planned on it.

Tour and weather are INVENTED.
"""

import pytest

from replanner.advice.briefing import Briefing
from tests.stories.ridden import FRIDAY, TOUR, ByBot, ByTerminal, Teller

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
