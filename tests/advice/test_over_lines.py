"""What is said of days that cannot all have a plan. Every briefing here is INVENTED."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from briefings import ALL, DAY, LATER_DAY, NO_LATER_DAY, STALE, SWAP
from generated import briefings, quick
from hypothesis import given

from replanner.advice.as_json import as_json
from replanner.advice.briefing import Briefing, OverDays
from replanner.advice.fitting import LINE, STRETCH
from replanner.advice.over_lines import over_days_lines, without_plan
from replanner.advice.telling import written
from replanner.advice.text import message, spoken, why
from replanner.planning.demand import Demand, DemandKind

SATURDAY = DAY + timedelta(days=1)
RIDE_HASK = Demand(kind=DemandKind.RIDE, legs=("hask",))


def over(briefing: Briefing, *days: date, **changes: object) -> Briefing:
    """Return a briefing of which these days have no plan."""
    given: dict[str, object] = {"demands": ((None, RIDE_HASK),), "fewest": True, "fuel": False}
    found = OverDays(without_plan=days, **(given | changes))  # type: ignore[arg-type]
    return replace(briefing, over_days=found)


def later(count: int) -> Briefing:
    """Return a briefing of which so many later days have no plan."""
    return over(SWAP, *(DAY + timedelta(days=n + 1) for n in range(count)))


@pytest.mark.parametrize(
    ("count", "line"),
    [
        (1, "Sat 17 Oct has no plan as the forecast stands: ask why"),
        (2, "Sat and Sun have no plan as the forecast stands: ask why"),
        (3, "Sat and 2 more have no plan as the forecast stands: ask why"),
        (5, "Sat and 4 more have no plan as the forecast stands: ask why"),
    ],
)
def test_the_message_has_one_line_of_the_later_days(count: int, line: str) -> None:
    briefing = replace(later(count), decision_points=())
    assert len(line) <= LINE
    lines = message(briefing).split("\n")
    assert lines.count(line) == 1
    assert len(lines) <= 10
    assert "have no plan" in why(briefing) or count == 1
    assert "Sat 17 Oct" in why(briefing)


def test_beside_much_else_the_line_is_brief_and_still_of_a_forecast() -> None:
    assert "Sat: no plan by this forecast" in message(later(1)).split("\n")
    assert "Sat and Sun: no plan by this forecast" in message(later(2)).split("\n")
    assert "Sat and 2 more: no plan by this forecast" in message(later(3)).split("\n")


def test_nothing_is_said_where_every_day_has_a_plan() -> None:
    for text in (message(SWAP), why(SWAP), spoken(SWAP)):
        assert "forecast stands" not in text
        assert "no plan" not in text.casefold()
    assert over_days_lines(written(SWAP)) == ()
    assert without_plan(written(SWAP)) == ""


def test_the_reasons_name_the_demands_with_their_days_and_hours() -> None:
    lines = why(LATER_DAY).split("\n")
    at = lines.index("Sat 17 Oct has no plan as the forecast stands")
    assert " ".join(lines[at + 1 : at + 3]) == (
        "No plan of these days keeps all of: riding Hask Saddle; riding Gannet Head on Sat 17 Oct; "
        "being in by Sat 17:00"
    )
    assert "No plan keeps riding Hask Saddle" in why(later(1)).split("\n")


def test_by_an_old_forecast_it_is_told_as_old() -> None:
    old = "Sat 17 Oct has no plan by an old forecast: ask why"
    data = replace(SWAP, origin=replace(SWAP.origin, stale=True))
    stale = replace(STALE, decision_points=())
    for briefing in (over(stale, SATURDAY), over(data, SATURDAY)):
        assert "no plan by an old forecast" in message(briefing)
        assert without_plan(written(briefing)) == old
        assert "forecast stands" not in message(briefing) + why(briefing)
        assert "by an old forecast" in why(briefing)
    assert why(over(STALE, SATURDAY)).startswith("As known on ")


def test_what_is_told_of_tomorrow_already_is_not_told_again() -> None:
    line = "No later day can take one of them as the forecast stands"
    for text in (message(NO_LATER_DAY), why(NO_LATER_DAY)):
        assert line in text.split("\n")
        assert " ".join(text.split()).count("riding Hask Saddle; riding Salt Causeway") == 1
    one = over(replace(NO_LATER_DAY, blame=(RIDE_HASK,)), DAY)
    alone = "No later day can take Hask Saddle as the forecast stands"
    assert alone in message(one).split("\n")
    assert alone in why(one).split("\n")
    assert f"{alone}." in spoken(one)


def test_other_demands_than_tomorrows_are_asked_for() -> None:
    gannet = Demand(kind=DemandKind.RIDE, legs=("gannet",))
    briefing = over(
        replace(NO_LATER_DAY, names={"gannet": "Gannet Head"}),
        DAY,
        demands=((None, RIDE_HASK), (SATURDAY, gannet)),
    )
    assert "Later days cannot help as the forecast stands: ask why" in message(briefing)
    assert "riding Hask Saddle; riding Gannet Head on Sat 17 Oct" in " ".join(why(briefing).split())


def test_a_tank_that_does_not_last_is_no_demand() -> None:
    briefing = over(SWAP, SATURDAY, demands=(), fewest=True, fuel=True)
    assert "The smallest tank is why: it would take fuel on the way" in why(briefing).split("\n")
    unknown = over(SWAP, SATURDAY, demands=(), fewest=False)
    assert "Sat 17 Oct has no plan as the forecast stands" in why(unknown).split("\n")
    assert "tank" not in why(unknown)


def test_a_day_with_no_way_but_over_no_go_plain_road_says_so() -> None:
    briefing = over(SWAP, SATURDAY, demands=(), fewest=False, no_go_roads=(SATURDAY,))
    assert "Every plan rides no-go plain road on Sat 17 Oct" in why(briefing).split("\n")
    assert as_json(briefing)["over_days"]["no_go_roads"] == ["2026-10-17"]  # type: ignore[index]


def test_a_program_is_told_days_demands_and_whether_they_are_the_fewest() -> None:
    assert as_json(LATER_DAY)["over_days"] == {
        "without_plan": ["2026-10-17"],
        "demands": [
            {"date": None, "demand": "riding Hask Saddle"},
            {"date": "2026-10-17", "demand": "riding Gannet Head"},
            {"date": "2026-10-17", "demand": "being in by Sat 17:00"},
        ],
        "fewest": True,
        "fuel": False,
        "no_go_roads": [],
    }
    assert as_json(SWAP)["over_days"] is None


@pytest.mark.parametrize("name", ALL)
def test_beside_any_other_news_the_message_keeps_its_lines(name: str) -> None:
    text = message(over(ALL[name], SATURDAY))
    assert len(text.split("\n")) <= 10
    assert len(text) <= 650


@quick
@given(briefings())
def test_any_line_is_short_and_as_the_forecast_stands(briefing: Briefing) -> None:
    telling = written(briefing)
    line = without_plan(telling)
    assert not line or "forecast" in line
    if briefing.over_days is not None:
        later = {*briefing.over_days.without_plan} - {briefing.date}
        assert bool(line) >= bool(later)
    for one in (line, *over_days_lines(telling)):
        assert len(one) <= LINE + STRETCH
