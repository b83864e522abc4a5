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
