"""Few looks at the road ahead, each in time. The day is INVENTED (`tests/advice/briefings.py`)."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from replanner.advice.briefing import DecisionPoint
from replanner.service.road_checks import exposed_legs, moments_to_act, road_check_times
from replanner.trip.model import Exposure, Leg, LegKind, Road, Section
from tests.advice.briefings import ROAD_GUST, ROAD_HOME, SWAP, at

START = datetime(2027, 5, 2, 7, tzinfo=UTC)
INSTANT = st.integers(-120, 900).map(lambda n: START + timedelta(minutes=n))


@given(moments=st.lists(INSTANT, max_size=30), length=st.integers(0, 800))
def test_few_and_each_in_time(moments: list[datetime], length: int) -> None:
    arrival = START + timedelta(minutes=length)
    checks = road_check_times(START, arrival, moments)
    assert all(START < check < arrival for check in checks)
    assert all(later - one >= timedelta(minutes=45) for one, later in pairwise(checks))
    hand = [moment - timedelta(minutes=15) for moment in moments]
    assert set(checks) <= set(hand), "no check without a moment it is for"
    for moment in hand:
        if START < moment < arrival:
            before = [check for check in checks if check <= moment]
            assert before
            assert moment - before[-1] < timedelta(minutes=45)


def test_a_moment_within_the_first_minutes_is_the_mornings() -> None:
    moments = (at("07:30"), at("07:45"), at("07:46"))
    assert road_check_times(at("07:30"), at("17:00"), moments) == (at("07:31"),)


def test_at_the_arrival_there_is_nothing_left_to_check() -> None:
    assert road_check_times(at("07:30"), at("17:00"), (at("17:15"), at("17:14"))) == (at("16:59"),)
    assert road_check_times(at("07:30"), at("17:00"), (at("17:15"),)) == ()


def test_decision_points_count_and_open_or_doubtful_legs_without_one() -> None:
    point = DecisionPoint(
        leg="hask", place="fork", place_name="Hask fork", latest=at("14:00"), rule=None,
        instead="valley", instead_name="Valley Road", arrival_instead=None,
    )  # fmt: skip
    plan = replace(SWAP, decision_points=(point,))
    # causeway 07:40, brindle 10:45, hask 14:15 with its point at 14:00
    assert moments_to_act(plan, frozenset()) == (at("14:00"),)
    assert moments_to_act(plan, {"brindle", "hask"}) == (at("10:45"), at("14:00"))
    without = replace(SWAP, decision_points=())
    assert moments_to_act(without, frozenset()) == (at("14:15"),), "hask is caution"
    windy = replace(without, roads=(ROAD_GUST, ROAD_HOME))
    assert moments_to_act(windy, frozenset()) == (at("09:05"), at("14:15")), "a windy plain road"
    # half an hour to spare at the fork: who rides by the plan is past it at 14:15 all the same
    spared = replace(plan, decision_points=(replace(point, latest=at("15:45")),))
    assert moments_to_act(spared, frozenset()) == (at("14:15"),)
    checks = road_check_times(at("07:30"), at("17:00"), moments_to_act(plan, {"brindle"}))
    assert checks == (at("10:30"), at("13:45"))


def leg(key: str, exposure: Exposure, *sections: Exposure) -> Leg:
    return Leg(
        id=key,
        name=key,
        kind=LegKind.PASS,
        start="a",
        end="b",
        riding_minutes=60.0,
        distance_km=50.0,
        road=Road(exposure=exposure),
        sections=tuple(
            Section(name="top", from_fraction=0.4, to_fraction=0.6, road=Road(exposure=one))
            for one in sections
        ),
    )


def test_a_leg_is_exposed_where_any_of_it_is() -> None:
    legs = (
        leg("wood", Exposure.SHELTERED),
        leg("headland", Exposure.OPEN),
        leg("pass", Exposure.SHELTERED, Exposure.SHELTERED, Exposure.EXPOSED),
        leg("valley", Exposure.SHELTERED, Exposure.SHELTERED),
    )
    assert exposed_legs(legs) == {"headland", "pass"}
