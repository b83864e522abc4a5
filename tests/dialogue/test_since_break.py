"""Minutes in the saddle since the last break, by a plan. Rule 91 of the Highway Code: 15 min."""

from datetime import UTC, datetime, timedelta

import pytest

from replanner.advice.briefing import PlannedLeg
from replanner.dialogue.since_break import rest_over, ridden_minutes
from replanner.trip.model import Way

NINE = datetime(2027, 4, 2, 9, tzinfo=UTC)


def after(minutes: float) -> datetime:
    return NINE + timedelta(minutes=minutes)


def a_leg(
    start: float, end: float, *halts: tuple[float, float], kind: str = "loop",
    breaks: tuple[float, ...] = (),
) -> PlannedLeg:  # fmt: skip
    course = [(0.0, after(start))]
    for number, (begin, over) in enumerate(halts, start=1):
        course += [(number / 10.0, after(begin)), (number / 10.0, after(over))]
    return PlannedLeg(
        id=f"leg at {start}", name="Leg", kind=kind, way=Way.FORWARD, start=after(start),
        end=after(end), severity=0.0, hazard=None, turn_back=None,
        course=(*course, (1.0, after(end))), breaks=tuple(("", after(one)) for one in breaks),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("minutes", "ridden"),
    [
        (-10, 0), (0, 0), (30, 30),
        (40, 30), (44, 30), (60, 46), (95, 81),  # a photo of 14 min, from 30 to 44, is no break
        (96, 0), (120, 0), (130, 10), (150, 30),  # a café from 95 to 120
        (151, 0), (165, 0), (180, 15),  # a break between the legs, from 150 to 165
    ],
)  # fmt: skip
def test_short_halts_are_no_riding_and_long_ones_are_a_break(minutes: float, ridden: float) -> None:
    legs = (a_leg(5, 150, (30, 44), (95, 120), breaks=(150,)), a_leg(165, 220))
    assert ridden_minutes(legs, NINE, after(minutes)) == pytest.approx(ridden)


def test_what_was_ridden_before_the_plan_began_counts_until_the_first_break() -> None:
    legs = (a_leg(0, 60, (20, 40)),)
    assert ridden_minutes(legs, NINE, after(0), before=50.0) == pytest.approx(50.0)
    assert ridden_minutes(legs, NINE, after(15), before=50.0) == pytest.approx(65.0)
    assert ridden_minutes(legs, NINE, after(45), before=50.0) == pytest.approx(5.0)


def test_on_a_boat_and_at_a_stop_one_sits() -> None:
    boat, stop = a_leg(30, 70, kind="crossing"), a_leg(100, 120, kind="stop")
    assert ridden_minutes((a_leg(0, 30), boat), NINE, after(80)) == pytest.approx(10.0)
    assert ridden_minutes((a_leg(0, 90), stop), NINE, after(130)) == pytest.approx(10.0)


def test_a_break_is_over_after_a_quarter_of_an_hour() -> None:
    leg = a_leg(0, 60, breaks=(60,))
    assert [rest_over(leg, after(one)) for one in (59, 60, 74, 75)] == [
        after(59), after(75), after(75), after(75),
    ]  # fmt: skip
