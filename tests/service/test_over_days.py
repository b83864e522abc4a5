"""Days weighed together that cannot all have a plan: what is told of them. All INVENTED."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import date, time

import numpy as np
import pytest

from replanner.advice.as_json import as_json
from replanner.advice.briefing import Briefing, Decision
from replanner.advice.text import message, spoken, why
from replanner.dialogue.events import Replan
from replanner.geodesy import Point
from replanner.planning.demand import DemandKind
from replanner.service import over_days as asked_of
from replanner.trip.edits import Demands
from replanner.trip.model import Day, Leg, LegKind, Rider, StandIn, Tour
from replanner.trip.underway import Underway
from replanner.weather.hourly import Forecast, PointId, Window
from tests.planning.invented import FRIDAY
from tests.service.fair import MadeWeather
from tests.service.test_evening import (
    EXPOSED,
    PLACES,
    SATURDAY,
    a_leg,
    a_tour,
    evening,
    friday,
    local,
)
from tests.stories.ridden import Sky, at, one_sky

RIDGE = replace(EXPOSED, stand_in=None)  # a must, no-go in a gale
SHARED = a_leg("coast", 70, 40)
FOUR_HOURS = {"earliest_departure": time(9), "latest_arrival": time(13)}
CANNOT = "Later days cannot help as the forecast stands: ask why"
Told = set[tuple[date | None, DemandKind, tuple[str, ...]]]


def gale(first: float, last: float) -> MadeWeather:
    """Let no leg be ridden from one hour to another, counted from Friday 00:00."""
    return MadeWeather(
        wind_speed_of_gust=local(lambda h: np.where((h >= first) & (h < last), 30.0, 5.0)),
        wind_speed=local(lambda h: np.where((h >= first) & (h < last), 20.0, 3.0)),
    )


@pytest.fixture(name="sky")
def _sky() -> Iterator[Sky]:
    with one_sky() as sky:
        yield sky


class GaleOnTop(MadeWeather):
    """A gale where it is high, fair weather below."""

    def hourly(self, points: Mapping[PointId, Point], window: Window) -> Forecast:
        found = super().hourly(points, window)
        for name, point in points.items():
            if point.elevation > PLACES["away"].elevation:
                found.tables[name][["wind_speed_of_gust", "wind_speed"]] = (30.0, 20.0)
        return found


SATURDAY_GALE = gale(24, 48)


def made(legs: tuple[Leg, ...], *days: Day) -> Tour:
    return replace(a_tour(*days), legs={leg.id: leg for leg in legs})


def a_must(name: str, minutes: float) -> Leg:
    """Make a must that no other day takes unasked."""
    return a_leg(name, minutes, 30, kind=LegKind.PASS, must=True)


def told_of(briefing: Briefing) -> Told:
    assert briefing.over_days is not None
    return {(day, one.kind, one.legs) for day, one in briefing.over_days.demands}


def a_later_day_by_itself() -> tuple[Tour, MadeWeather]:
    """Saturday must ride the ridge, and it blows all Saturday."""
    days = (
        friday("point", optional=("coast",)),
        friday("ridge", optional=("coast",), date=SATURDAY),
    )
    return made((RIDGE, SHARED, a_leg("point", 50, 40)), *days), SATURDAY_GALE


def a_later_day_too_short() -> tuple[Tour, MadeWeather]:
    """Saturday must ride two legs of two and a half hours each in four hours."""
    short = friday("one", "two", optional=("coast",), date=SATURDAY, **FOUR_HOURS)
    legs = (a_must("one", 150), a_must("two", 150), SHARED, a_leg("point", 50, 40))
    return made(legs, friday("point", optional=("coast",)), short), MadeWeather()


def musts_that_no_day_can_take() -> tuple[Tour, MadeWeather]:
    """Friday has the hours for one of its two musts, and it blows all Saturday."""
    both = ("one", "two")
    days = (friday(*both, **FOUR_HOURS), friday("coast", optional=both, date=SATURDAY))
    return made((a_must("one", 150), a_must("two", 150), SHARED), *days), SATURDAY_GALE


def three_musts_for_two_days() -> tuple[Tour, MadeWeather]:
    """Friday has the hours for one of its two musts, Saturday for its own must alone."""
    both = ("one", "two")
    first = friday(*both, **FOUR_HOURS)
    second = friday("three", optional=both, date=SATURDAY, **FOUR_HOURS)
    musts = tuple(a_must(name, 150) for name in (*both, "three"))
    return made(musts, first, second), MadeWeather()


def test_a_later_day_without_a_plan_is_told_the_evening_before() -> None:
    briefing = evening(*a_later_day_by_itself()).briefing
    assert [leg.id for leg in briefing.legs]  # tomorrow itself is ridden
    assert briefing.over_days is not None
    assert briefing.over_days.without_plan == (SATURDAY,)
    assert briefing.over_days.fewest
    assert told_of(briefing) == {(SATURDAY, DemandKind.RIDE, ("ridge",))}
    assert "Sat 3 Apr has no plan as the forecast stands: ask why" in message(briefing).split("\n")
    reasons = why(briefing).split("\n")
    at = reasons.index("Sat 3 Apr has no plan as the forecast stands")
    assert reasons[at + 1] == "No plan keeps riding Ridge on Sat 3 Apr"
    assert "Saturday has no plan as the forecast stands." in spoken(briefing)
    assert as_json(briefing)["over_days"] == {
        "without_plan": ["2027-04-03"],
        "demands": [{"date": "2027-04-03", "demand": "riding Ridge"}],
        "fewest": True,
        "fuel": False,
        "no_go_roads": [],
    }


def test_demands_of_a_later_day_are_told_with_the_day() -> None:
    briefing = evening(*a_later_day_too_short()).briefing
    assert told_of(briefing) == {
        (SATURDAY, DemandKind.RIDE, ("one",)),
        (SATURDAY, DemandKind.RIDE, ("two",)),
    }
    told = "No plan of these days keeps all of: riding One on Sat 3 Apr; riding Two on Sat 3 Apr"
    assert told in " ".join(why(briefing).split())


def test_musts_that_no_day_can_take_are_told_as_such() -> None:
    briefing = evening(*musts_that_no_day_can_take()).briefing
    assert briefing.decision is Decision.NO_WAY
    assert briefing.over_days is not None
    assert briefing.over_days.without_plan == (FRIDAY,)
    assert told_of(briefing) == {
        (None, DemandKind.RIDE, ("one",)),
        (None, DemandKind.RIDE, ("two",)),
    }
    # What clashes on Friday stands there already: only that Saturday cannot take it is new.
    line = "No later day can take one of them as the forecast stands"
    for text in (message(briefing), why(briefing)):
        assert line in text.split("\n")
        assert text.count("riding One") == 1


def test_what_keeps_the_later_day_from_taking_them_is_told_where_it_is_a_demand() -> None:
    briefing = evening(*three_musts_for_two_days()).briefing
    assert briefing.decision is Decision.NO_WAY
    assert told_of(briefing) == {
        (None, DemandKind.RIDE, ("one",)),
        (None, DemandKind.RIDE, ("two",)),
        (SATURDAY, DemandKind.RIDE, ("three",)),
    }
    assert CANNOT in message(briefing).split("\n")
    together = "keeps all of: riding One; riding Two; riding Three on Sat 3 Apr"
    assert together in " ".join(why(briefing).split())


def without(tour: Tour, kind: DemandKind, legs: tuple[str, ...]) -> Tour:
    """Let go of riding a leg, which is all that is demanded here."""
    assert kind is DemandKind.RIDE
    free = {leg: replace(tour.legs[leg], must=False) for leg in legs}
    return replace(tour, legs=dict(tour.legs) | free)


@pytest.mark.parametrize(
    "case",
    [
        a_later_day_by_itself,
        a_later_day_too_short,
        musts_that_no_day_can_take,
        three_musts_for_two_days,
    ],
)
def test_with_any_one_of_the_demands_undone_every_day_has_a_plan(
    case: Callable[[], tuple[Tour, MadeWeather]],
) -> None:
    tour, weather = case()
    for _, kind, legs in told_of(evening(tour, weather).briefing):
        eased = without(tour, kind, legs)
        first = evening(eased, weather).briefing
        assert first.decision is not Decision.NO_WAY
        assert first.over_days is None
        assert "ask why" not in message(first)
        # The other day as its own evening plans it, what tomorrow rides being ridden.
        left = evening(ridden(eased, first), weather, day=SATURDAY).briefing
        assert left.decision is not Decision.NO_WAY


def ridden(tour: Tour, briefing: Briefing) -> Tour:
    """Take the legs of a plan from the later days."""
    gone = {leg.id for leg in briefing.legs}
    days = (
        replace(
            day,
            own_order=tuple(leg for leg in day.own_order if leg not in gone),
            optional=tuple(leg for leg in day.optional if leg not in gone),
        )
        if day.date > briefing.date
        else day
        for day in tour.days
    )
    return replace(tour, days=tuple(days))


def test_nothing_is_asked_where_every_day_has_a_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object) -> None:
        raise AssertionError("asked what clashes")

    monkeypatch.setattr(asked_of, "clash_of", never)
    tour, _ = a_later_day_by_itself()
    briefing = evening(tour, MadeWeather()).briefing
    assert briefing.over_days is None
    assert as_json(briefing)["over_days"] is None
    assert "no plan" not in message(briefing).casefold()


def test_a_day_without_a_plan_by_its_own_demands_alone_says_nothing_of_others() -> None:
    days = (friday("ridge", optional=("coast",)), friday("coast", date=SATURDAY))
    briefing = evening(made((RIDGE, SHARED), *days), gale(0, 24)).briefing
    assert briefing.decision is Decision.NO_WAY
    assert briefing.blame
    assert briefing.over_days is None


def test_of_two_days_that_each_have_none_the_later_one_is_told_beside_the_blame() -> None:
    other = replace(RIDGE, id="spur", name="Spur")
    days = (
        friday("ridge", optional=("coast",)),
        friday("spur", optional=("coast",), date=SATURDAY),
    )
    briefing = evening(made((RIDGE, other, SHARED), *days), gale(0, 48)).briefing
    assert briefing.over_days is not None
    assert briefing.over_days.without_plan == (FRIDAY, SATURDAY)
    assert [one.legs for one in briefing.blame] == [("ridge",)]
    assert told_of(briefing) == {(SATURDAY, DemandKind.RIDE, ("spur",))}


def test_a_later_day_that_has_a_plan_with_fewer_breaks_has_one() -> None:
    """170 minutes of riding in at most 170: it will be planned without its break."""
    legs = (a_must("one", 100), a_must("two", 70), SHARED, a_leg("point", 50, 40))
    tight = friday("one", "two", optional=("coast",), date=SATURDAY)
    tight = replace(
        tight, earliest_departure=time(9), latest_departure=time(9), latest_arrival=time(11, 50)
    )
    tour = made(legs, friday("point", optional=("coast",)), tight)
    assert evening(tour, MadeWeather()).briefing.over_days is None
    late = replace(tight, latest_arrival=time(11, 40))
    over = evening(replace(tour, days=(tour.days[0], late)), MadeWeather()).briefing.over_days
    assert over is not None
    assert over.without_plan == (SATURDAY,)


def test_a_later_day_that_lacks_fuel_is_told_without_demands() -> None:
    far = replace(a_must("far", 150), distance_km=200.0)
    days = (
        friday("point", optional=("coast",)),
        friday("far", optional=("coast",), date=SATURDAY),
    )
    tour = made((far, SHARED, a_leg("point", 50, 40)), *days)
    tanks = (Rider(id="one", leader=True, tank_range_km=200.0),)  # 160 km of it are usable
    briefing = evening(replace(tour, riders=tanks), MadeWeather()).briefing
    assert briefing.over_days is not None
    assert briefing.over_days.without_plan == (SATURDAY,)
    assert briefing.over_days.fuel
    assert not briefing.over_days.demands
    assert "Sat 3 Apr has no plan as the forecast stands: ask why" in message(briefing)
    assert "The smallest tank is why: it would take fuel on the way" in why(briefing)
    assert evening(tour, MadeWeather()).briefing.over_days is None


def test_a_must_that_no_day_can_ride_leaves_its_own_day_without_a_plan() -> None:
    """However much more that day is worth: tomorrow is told as it can be ridden, with its loops."""
    view = a_leg("view", 90, 200, kind=LegKind.PASS)  # stays on Saturday
    days = (
        friday("point", optional=("ridge",)),
        friday("view", "coast", "ridge", date=SATURDAY),
    )
    tour = made((RIDGE, SHARED, view, a_leg("point", 50, 40)), *days)
    # A gale high up alone: the ridge is no-go on both days, all else is fair.
    briefing = evening(tour, GaleOnTop()).briefing
    assert briefing.decision is not Decision.NO_WAY
    assert {"point", "coast"} == {leg.id for leg in briefing.legs}
    assert briefing.over_days is not None
    assert briefing.over_days.without_plan == (SATURDAY,)
    assert told_of(briefing) == {(None, DemandKind.RIDE, ("ridge",))}


def test_a_later_day_with_no_way_but_over_no_go_plain_road_has_no_plan_to_follow() -> None:
    """Saturday ends two hours' plain road from its loop, and it blows there all day."""
    away = friday("coast", optional=("point",), date=SATURDAY, end="away")
    tour = made((SHARED, a_leg("point", 50, 40)), friday("point", optional=("coast",)), away)
    briefing = evening(tour, SATURDAY_GALE).briefing
    assert briefing.legs
    assert briefing.over_days is not None
    assert briefing.over_days.without_plan == briefing.over_days.no_go_roads == (SATURDAY,)
    assert not briefing.over_days.demands
    assert not briefing.over_days.fuel
    assert "Sat 3 Apr has no plan as the forecast stands: ask why" in message(briefing)
    assert "Every plan rides no-go plain road on Sat 3 Apr" in why(briefing)
    assert evening(tour, MadeWeather()).briefing.over_days is None
    # So does Saturday's own evening.
    there = evening(ridden(tour, briefing), SATURDAY_GALE, day=SATURDAY).briefing
    assert there.decision is Decision.NO_WAY


def test_a_day_that_only_doubt_leaves_without_a_plan_is_not_told(sky: Sky) -> None:
    """The invented week: Saturday's gale may come sooner, so far ahead; a day later it is known."""
    tonight = sky.plan(Replan(day=FRIDAY, demands=Demands()), at("Thu 19:30"))
    assert tonight.over_days is None
    assert "no plan" not in message(tonight) + why(tonight)
    then = sky.plan(Replan(day=SATURDAY, demands=Demands()), at("Fri 19:30"))
    assert then.decision is not Decision.NO_WAY


def test_on_the_road_other_days_are_not_told_of() -> None:
    tour, weather = a_later_day_by_itself()
    now = evening(tour, weather).briefing.departure
    assert now is not None
    underway = Underway(point=PLACES["base"], at=now, ready=now)
    briefing = evening(tour, weather, now=now, demands=Demands(underway=underway)).briefing
    assert briefing.over_days is None


def test_a_must_of_no_days_order_waits_for_the_last_day_that_lists_it() -> None:
    days = (
        friday("point", optional=("ridge",)),
        friday("coast", optional=("ridge",), date=SATURDAY),
    )
    tour = made((RIDGE, SHARED, a_leg("point", 50, 40)), *days)
    briefing = evening(tour, GaleOnTop()).briefing
    assert briefing.decision is not Decision.NO_WAY
    assert briefing.over_days is not None
    assert briefing.over_days.without_plan == (SATURDAY,)


def test_a_stand_in_for_a_closed_must_of_tomorrow_stays_tomorrows() -> None:
    """Both days list the pass, tomorrow's order has it; its stand-in is closed by a gale."""
    legs = (
        a_leg("pass", 90, 60, kind=LegKind.PASS, must=True, stand_in=StandIn(leg="ridge")),
        replace(RIDGE, must=False),
        SHARED,
    )
    days = (friday("pass"), friday("coast", optional=("pass",), date=SATURDAY))
    closed = Demands(closed=frozenset({"pass"}))
    briefing = evening(made(legs, *days), GaleOnTop(), demands=closed).briefing
    assert briefing.decision is Decision.NO_WAY
    assert briefing.blame
