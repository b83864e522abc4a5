"""A front whose hour is uncertain: the decision can wait until morning. Weather INVENTED.

An exposed pass, its road in the valley as stand-in, and gusts of 14 m/s from some hour on: avoid
on the pass, no more than a word below. Left at nine, the pass is over before they come at noon as
forecast, not where they come an hour early.
"""

from datetime import UTC, datetime, time, timedelta

import numpy as np
import pytest

from replanner.advice.briefing import Briefing
from replanner.advice.text import message, spoken, why
from replanner.service.due import BEFORE_DEPARTURE
from replanner.trip.edits import Demands
from tests.planning.invented import utc
from tests.service.fair import MadeWeather
from tests.service.test_evening import EVE, a_tour, evening, friday, local

WEDNESDAY = EVE - timedelta(days=1)
DAY = friday("ridge", earliest_departure=time(9))


def front_at(hour: float, *without: str) -> MadeWeather:
    return MadeWeather(
        without=without,
        wind_speed_of_gust=local(lambda h: np.where(h >= hour, 14.0, 6.0)),
        wind_speed=local(lambda h: np.where(h >= hour, 8.4, 4.0)),
    )


def planned(
    weather: MadeWeather, now: datetime = WEDNESDAY, demands: Demands | None = None
) -> Briefing:
    return evening(a_tour(DAY), weather, now=now, demands=demands).briefing


def legs(briefing: Briefing) -> list[str]:
    return [leg.id for leg in briefing.legs]


def test_it_can_wait_until_the_morning_check() -> None:
    briefing = planned(front_at(12))
    assert (legs(briefing), [leg.id for leg in briefing.plan_b.legs]) == (["ridge"], ["valley"])
    waiting = briefing.waiting
    assert waiting is not None
    assert waiting.decide_by == utc("09:00") - BEFORE_DEPARTURE
    assert waiting.other_share * waiting.members == pytest.approx(3)
    assert waiting.gain_minutes > 5.0
    assert waiting.estimated
    told = message(briefing)
    assert "Can wait till 08:15: plan B wins in 3 of 11 runs (estimated)" in told
    assert "Check before leaving" not in told
    assert "Waiting till 08:15 may gain 6 min: B wins 3 of 11 (estimated)" in why(briefing)
    aloud = "It can wait till eight fifteen, plan B wins in three of eleven runs."
    assert aloud in spoken(briefing)


def test_the_morning_then_decides_by_the_hour_of_the_front() -> None:
    """What waiting promises: the same morning takes the one plan or the other."""
    morning = utc("09:00") - BEFORE_DEPARTURE
    assert legs(planned(front_at(11), morning)) == ["valley"]
    assert legs(planned(front_at(13), morning)) == ["ridge"]


@pytest.mark.parametrize("hour", [15, 99])
def test_where_the_members_agree_there_is_nothing_to_wait_for(hour: float) -> None:
    briefing = planned(front_at(hour))
    assert legs(briefing) == ["ridge"]
    assert briefing.waiting is None
    assert "Check before leaving" in message(briefing)


def test_nothing_is_told_of_waiting_where_it_cannot_be() -> None:
    """On the day itself, with the hour past, and where the rider has chosen already."""
    midnight = datetime(2027, 4, 1, 11, 0, tzinfo=UTC)  # Friday 00:00 there
    assert planned(front_at(12), midnight).waiting is None
    assert planned(front_at(12), demands=Demands(own_order=True)).waiting is None


def test_members_without_gusts_do_not_tell_what_waiting_gains() -> None:
    """All lack the same figure: they would agree on what nobody knows."""
    briefing = planned(front_at(12, "wind_speed_of_gust"))
    assert (briefing.odds, briefing.waiting) == (None, None)
