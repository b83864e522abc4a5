"""What is worth a message between two plans: rules of the project, figures of an invented day."""

from dataclasses import replace
from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from replanner.advice.briefing import Briefing, Decision, LeftOut, PlannedRoad
from replanner.advice.material import Material, material_change, material_line, severity_class
from replanner.dialogue.events import Replan
from replanner.trip.edits import Demands
from tests.dialogue.evening import DAY, GUST, plan

BEFORE = plan(Replan(day=DAY, demands=Demands()))


def with_leg(number: int, **changed: object) -> Briefing:
    legs = list(BEFORE.legs)
    legs[number] = replace(legs[number], **changed)  # type: ignore[arg-type]
    return replace(BEFORE, legs=tuple(legs))


def test_the_same_plan_is_no_news() -> None:
    assert material_change(BEFORE, BEFORE) is None


def test_classes_are_those_of_the_trade() -> None:
    assert [severity_class(level) for level in (0, 1.9, 2, 2.9, 3, 3.9, 4)] == [0, 0, 1, 1, 2, 2, 3]


def test_a_leg_that_becomes_no_go_is_urgent_and_told_with_its_reason() -> None:
    after = with_leg(1, severity=4.0, hazard=GUST)
    change = material_change(BEFORE, after)
    assert change is not None
    assert change.urgent
    line = material_line(change, BEFORE, after)
    assert line.startswith("CHANGE: Hask Saddle no-go at 11:00 gust 76, limit 54 km/h, was go")
    assert "\n" not in line


def test_a_leg_that_stays_in_its_class_is_no_news() -> None:
    assert material_change(with_leg(1, severity=2.0), with_leg(1, severity=2.9)) is None


def test_another_set_or_order_of_legs_is_news() -> None:
    other = replace(BEFORE, legs=BEFORE.legs[::-1])
    turned = material_change(BEFORE, other)
    assert turned == Material(reordered=True)
    out = LeftOut(id="hask", name="Hask Saddle", reason=GUST, cause="hazard", price_minutes=None)
    fewer = replace(BEFORE, legs=BEFORE.legs[:1], left_out=(out,))
    change = material_change(BEFORE, fewer)
    assert change is not None
    assert change.gone == ("hask",)
    assert "without Hask Saddle, at 11:00 gust 76" in material_line(change, BEFORE, fewer)


def test_a_plain_road_that_becomes_worse_is_news_and_urgent_where_it_is_no_go() -> None:
    leave = BEFORE.legs[0].start
    calm = PlannedRoad(
        start="Orrowick", end="Tolfen", leave=leave, arrive=leave, severity=1.0, hazard=None
    )
    windy = replace(calm, severity=2.5, hazard=GUST)
    closed = replace(calm, severity=4.0, hazard=GUST)
    before = replace(BEFORE, roads=(calm,))
    change = material_change(before, replace(before, roads=(calm, windy)))
    assert change is not None
    assert not change.urgent
    line = material_line(change, before, replace(before, roads=(calm, windy)))
    assert "road to Tolfen caution at 11:00 gust 76" in line
    worse = material_change(replace(before, roads=(windy,)), replace(before, roads=(closed,)))
    assert worse is not None
    assert worse.urgent
    # better, as it was, or not looked at: no news
    for was, now in (((windy,), (calm,)), ((windy,), (windy,)), (None, (windy,)), ((windy,), None)):
        assert material_change(replace(BEFORE, roads=was), replace(BEFORE, roads=now)) is None


def test_no_plan_any_more_is_told_as_such() -> None:
    lost = replace(BEFORE, decision=Decision.NO_WAY, departure=None, arrival=None, legs=())
    change = material_change(BEFORE, lost)
    assert change == Material(lost=True)
    assert change.urgent
    assert "does not hold" in material_line(change, BEFORE, lost)


@given(st.integers(-90, 90), st.integers(-90, 90), st.floats(0, 60))
def test_times_are_news_only_beyond_the_threshold(
    leaves: int, spare: int, threshold: float
) -> None:
    assert BEFORE.departure is not None
    assert BEFORE.spare_minutes is not None
    after = replace(
        BEFORE,
        departure=BEFORE.departure + timedelta(minutes=leaves),
        spare_minutes=BEFORE.spare_minutes + spare,
    )
    change = material_change(BEFORE, after, minutes=threshold)
    assert (change is not None) == (abs(leaves) > threshold or -spare > threshold)
    if change is not None:
        assert (change.departure is not None) == (abs(leaves) > threshold)
        assert len(material_line(change, BEFORE, after).splitlines()) == 1


@given(st.integers(0, 1), st.floats(0, 5), st.floats(0, 5))
def test_a_change_of_class_is_news_and_no_other_severity_is(
    number: int, was: float, now: float
) -> None:
    before, after = with_leg(number, severity=was), with_leg(number, severity=now)
    change = material_change(before, after)
    assert (change is not None) == (severity_class(was) != severity_class(now))
