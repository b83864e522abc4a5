"""Limits, demands and plan B's condition are values: solved, kept and worded. All INVENTED."""

from dataclasses import replace
from datetime import UTC, datetime, time

import pytest
from briefings import ORIGIN
from generated import briefings, quick
from hypothesis import given

from replanner.advice.as_json import as_json
from replanner.advice.assemble import Setting, brief
from replanner.advice.briefing import BetterKind, Briefing, Hurdle, HurdleKind
from replanner.advice.case import Case
from replanner.advice.no_way import brief_no_way
from replanner.advice.second_plan import second_plan
from replanner.advice.text import message, why
from replanner.planning.build import BuiltDay
from replanner.planning.day_search import DaySearch
from replanner.planning.demand import Clash, DemandKind
from replanner.planning.own_run import own_run
from replanner.store.texts import BRIEFINGS
from replanner.trip.edits import Demands
from replanner.trip.model import Base, Day, Halt, HaltKind
from tests.planning.invented import FRIDAY, a_day, a_leg, a_tour, build, light

SETTING = Setting(made_at=datetime(2027, 4, 1, 6, 30, tzinfo=UTC), language="en", origin=ORIGIN)


def briefed(built: BuiltDay, demands: Demands | None = None) -> Briefing:
    search, own, demands = DaySearch(built.problem), own_run(built), demands or Demands()
    found = search.best()
    if found.solution is None:
        return brief_no_way(built, own, Clash(found.blame, found.blame_fewest), demands, SETTING)
    case = Case(built=built, search=search, solution=found.solution, own=own, demands=demands)
    return brief(case, second_plan(case), SETTING)


@quick
@given(briefings())
def test_any_briefing_comes_back_from_its_text(briefing: Briefing) -> None:
    kept = BRIEFINGS.read(BRIEFINGS.write(briefing), where="here")
    for field in ("spare_limit", "own_order.breaks", "blame", "plan_b", "names"):
        told, back = briefing, kept
        for part in field.split("."):
            told, back = getattr(told, part), getattr(back, part)
        assert back == told
    assert [leg.to_ride_it for leg in kept.left_out] == [
        leg.to_ride_it for leg in briefing.left_out
    ]
    assert as_json(kept) == as_json(briefing)


RECEPTION = Base(place="base", nights=(FRIDAY,), reception_until=time(16))


@pytest.mark.parametrize(
    ("day", "bases", "lights", "kind"),
    [
        (a_day("long", latest_arrival=time(15)), (), light(), HurdleKind.LATEST_ARRIVAL),
        (a_day("long"), (RECEPTION,), light(), HurdleKind.RECEPTION),
        (a_day("long"), (), light(), HurdleKind.DARKNESS),
        (a_day("long"), (), light(civil_dusk=None, sunset=None), HurdleKind.END_OF_DAY),
    ],
)
def test_every_limit_of_being_in_is_known_by_its_kind(
    day: Day, bases: tuple[Base, ...], lights: object, kind: HurdleKind
) -> None:
    """A leg of 20 hours does not fit any day: the own order breaks at the day's limit."""
    tour = a_tour([a_leg("long", minutes=1200)], [day], bases=bases)
    briefing = briefed(build(tour, lights=(lights, lights)))
    assert briefing.own_order.breaks is not None
    assert briefing.own_order.breaks.kind is kind
    assert briefing.own_order.breaks.leg is None
    assert as_json(briefing)["own_order"]["breaks"] == kind.value  # type: ignore[index]


def test_spare_time_ends_at_dusk_and_plan_b_hangs_on_the_worst_leg() -> None:
    tour = a_tour([a_leg("saddle", worth=200), a_leg("coast", worth=200)])
    briefing = briefed(build(tour, severity={"saddle": 2.5, "coast": 1.0}))
    assert briefing.spare_limit == Hurdle(kind=HurdleKind.DUSK)
    assert briefing.plan_b is not None
    assert briefing.plan_b.better_when is not None
    assert briefing.plan_b.better_when.kind is BetterKind.WORSE
    assert briefing.plan_b.better_when.leg == "saddle"
    assert "Plan B if it is worse than forecast on Saddle" in why(briefing)


def test_halts_are_told_with_their_kind() -> None:
    halts = (
        Halt(place="far", fraction=0.2, minutes=10, kind=HaltKind.CAFE),
        Halt(place="quay", fraction=0.5, minutes=10, kind=HaltKind.FUEL),
    )
    briefing = briefed(build(a_tour([a_leg("coast", halts=halts)])))
    (leg,) = briefing.legs
    assert leg.halt_kinds == ("cafe", "fuel")
    assert "fuel" in message(briefing)


def test_a_day_without_a_plan_names_demanded_legs_outside_the_own_order() -> None:
    saddle = replace(a_leg("far_saddle"), name="Far Saddle")
    day = a_day("coast", optional=("far_saddle",))
    tour = a_tour([a_leg("coast"), saddle], [day])
    asked = Demands(forced=frozenset({"far_saddle"}))
    briefing = briefed(build(tour, demands=asked, severity={"far_saddle": 4.0}), asked)
    (demand,) = briefing.blame
    assert (demand.kind, demand.legs) == (DemandKind.RIDE, ("far_saddle",))
    assert [leg.id for leg in briefing.left_out] == ["coast", "far_saddle"]
    assert "Far Saddle" in message(briefing)
    assert "far_saddle" not in message(briefing) + why(briefing)
