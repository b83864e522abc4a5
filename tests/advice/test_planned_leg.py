"""How far riders are on a leg of the plan at an instant."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from replanner.advice.briefing import PlannedLeg
from replanner.trip.model import Way

NINE = datetime(2027, 4, 2, 9, tzinfo=UTC)


def after(minutes: float) -> datetime:
    return NINE + timedelta(minutes=minutes)


def a_leg(*course: tuple[float, datetime]) -> PlannedLeg:
    return PlannedLeg(
        id="pass", name="Pass", kind="pass", way=Way.FORWARD, start=NINE, end=after(80),
        severity=1.0, hazard=None, turn_back=None, course=course,
    )  # fmt: skip


HALTED = a_leg((0.0, NINE), (0.5, after(20)), (0.5, after(50)), (1.0, after(79.5)))


@pytest.mark.parametrize(
    ("minutes", "share"),
    [(-5, 0.0), (0, 0.0), (10, 0.25), (20, 0.5), (35, 0.5), (50, 0.5), (64.75, 0.75), (80, 1.0)],
)
def test_a_halt_is_no_headway(minutes: float, share: float) -> None:
    assert HALTED.share_by(after(minutes)) == pytest.approx(share)


@pytest.mark.parametrize(
    ("share", "minutes"),
    [(-0.1, 0), (0.0, 0), (0.25, 10), (0.5, 20), (0.75, 64.75), (1.0, 79.5), (1.1, 80)],
)
def test_a_place_on_the_leg_is_reached_before_its_halt(share: float, minutes: float) -> None:
    assert HALTED.reached_at(share) == after(minutes)


def test_who_stands_rides_on_when_the_halt_is_over() -> None:
    assert HALTED.rides_on_at(after(19)) == after(19)
    assert HALTED.rides_on_at(after(20)) == after(50)
    assert HALTED.rides_on_at(after(49)) == after(50)
    assert HALTED.rides_on_at(after(50)) == after(50)


def test_a_leg_kept_without_its_course_is_ridden_evenly() -> None:
    assert a_leg().share_by(after(20)) == pytest.approx(0.25)
    assert a_leg().rides_on_at(after(20)) == after(20)


def test_a_pump_fills_the_tank() -> None:
    """A hundred kilometres ridden before, sixty on it, a pump after two thirds."""
    leg = replace(a_leg(), since_full=((0.0, 100.0), (2 / 3, 140.0), (2 / 3, 0.0), (1.0, 20.0)))
    found = [leg.tank_km(share) for share in (0.0, 1 / 3, 0.66, 2 / 3, 5 / 6, 1.0)]
    assert found == pytest.approx([100.0, 120.0, 139.6, 0.0, 10.0, 20.0])
    assert [leg.fills_up_by(share) for share in (0.0, 0.66, 2 / 3, 1.0)] == [
        False,
        False,
        True,
        True,
    ]
    assert a_leg().tank_km(0.5) is None
    assert not a_leg().fills_up_by(1.0)
    at_its_end = replace(a_leg(), since_full=((0.0, 5.0), (1.0, 65.0), (1.0, 0.0), (1.0, 0.0)))
    assert at_its_end.tank_km(1.0) == 0.0
    assert (at_its_end.fills_up_by(0.99), at_its_end.fills_up_by(1.0)) == (False, True)
