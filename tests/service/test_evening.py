"""The corridor from the tour to the briefing, on weather made by hand. All INVENTED."""

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from replanner.advice.briefing import ChangeKind, Decision
from replanner.advice.text import message, why
from replanner.errors import ForecastError
from replanner.files.limits_toml import read_limits
from replanner.geodesy import Point
from replanner.planning import day_search
from replanner.planning.rules import Rules
from replanner.service import evening as evening_steps
from replanner.service.evening import Evening, plan_day
from replanner.service.last_plan import last_plan_stale
from replanner.service.planner import Means
from replanner.store.store import open_store
from replanner.trip.edits import Demands
from replanner.trip.model import (
    Day,
    Exposure,
    Leg,
    LegKind,
    Place,
    Rider,
    Road,
    Section,
    StandIn,
    Tour,
)
from replanner.trip.plain_road import road_points
from replanner.trip.timing import Speeds
from tests.planning.invented import FRIDAY, ZONE
from tests.service.fair import MadeWeather

LIMITS = read_limits(Path(__file__).parents[2] / "config" / "limits.toml")
THURSDAY, SATURDAY = FRIDAY - timedelta(days=1), FRIDAY + timedelta(days=1)
EVE = datetime(2027, 4, 1, 6, 30, tzinfo=UTC)  # Thursday 19:30 there
PLACES = {
    "base": Point(-46.36, 168.02, 8.0),
    "top": Point(-45.96, 167.69, 612.0),
    "head": Point(-46.42, 168.24, 20.0),
    "away": Point(-46.0, 168.6, 100.0),
}
PLAIN = Road(width_m=6.0, steepest_grade_percent=5.0, elevation_m=60.0)


def a_leg(name: str, minutes: float, worth: float, **other: object) -> Leg:
    given = {
        "kind": LegKind.LOOP,
        "start": "base",
        "end": "base",
        "via": ("head",),
        "distance_km": minutes * 0.75,
        "road": PLAIN,
    }
    return Leg(
        id=name, name=name.title(), riding_minutes=minutes, worth_minutes=worth, **(given | other)
    )


EXPOSED = a_leg(
    "ridge",
    100,
    90,
    kind=LegKind.PASS,
    via=("top",),
    sections=(
        Section(
            name="Ridge top",
            from_fraction=0.4,
            to_fraction=0.6,
            road=Road(width_m=6.0, exposure=Exposure.EXPOSED, elevation_m=612.0),
        ),
    ),
    stand_in=StandIn(leg="valley"),
    must=True,
)
LEGS = (EXPOSED, a_leg("valley", 90, 30), a_leg("coast", 70, 40), a_leg("point", 50, 40))


def a_tour(*days: Day) -> Tour:
    return Tour(
        name="Made tour",
        zone=ZONE,
        places={name: Place(id=name, name=name.title(), point=at) for name, at in PLACES.items()},
        legs={leg.id: leg for leg in LEGS},
        days=days,
        riders=(Rider(id="one", leader=True), Rider(id="two")),
        invented=True,
    )


def friday(*own: str, **other: object) -> Day:
    given = {
        "date": FRIDAY,
        "start": "base",
        "end": "base",
        "own_order": own,
        "own_departure": time(9),
    }
    return Day(**(given | other))


def evening(
    tour: Tour,
    weather: MadeWeather,
    *,
    day: date = FRIDAY,
    now: datetime = EVE,
    demands: Demands | None = None,
) -> Evening:
    means = Means(
        forecasts=weather,
        limits=LIMITS,
        rules=Rules(),
        speeds=Speeds(),
        detour_factor=1.4,
        language="en",
    )
    return plan_day(tour, tour.day(day), now, demands or Demands(), means)


def local(hour: Callable[[np.ndarray], np.ndarray]) -> Callable[[pd.DatetimeIndex], np.ndarray]:
    """Make a column of the hours since Friday 00:00 local."""
    midnight = pd.Timestamp("2027-04-01T11:00", tz="UTC")
    return lambda hours: hour(((hours - midnight) / pd.Timedelta(hours=1)).to_numpy())


def windy_until(hour: float) -> MadeWeather:
    """Gusts of 14 m/s: caution on an exposed top, no more than a word in shelter."""
    return MadeWeather(
        wind_speed_of_gust=local(lambda h: np.where(h < hour, 14.0, 6.0)),
        wind_speed=local(lambda h: np.where(h < hour, 9.0, 4.0)),
    )


def local_hour(moment: datetime | None) -> float:
    assert moment is not None
    there = moment.astimezone(ZONE)
    return there.hour + there.minute / 60


def test_one_call_asks_for_two_days_before_to_past_midnight() -> None:
    weather = MadeWeather()
    evening(a_tour(friday("ridge", "coast")), weather)
    (window,) = weather.windows
    midnight = datetime(2027, 4, 1, 11, tzinfo=UTC)
    assert window.first == midnight - timedelta(hours=48)
    assert window.last == midnight + timedelta(hours=30)


def test_a_fair_day_goes_as_planned() -> None:
    briefing = evening(a_tour(friday("ridge", "coast")), MadeWeather()).briefing
    assert briefing.decision is Decision.AS_PLANNED
    assert [leg.id for leg in briefing.legs] == ["ridge", "coast"]
    assert briefing.proven
    assert max(leg.severity for leg in briefing.legs) < 2.0
    assert briefing.unknown == ()
    assert briefing.invented


def test_a_day_without_time_for_its_break_is_ridden_without_and_says_so() -> None:
    """170 minutes of riding: with a break of 15 they are over at 12:05, without at 11:50."""
    must = {leg.id: replace(leg, must=True, stand_in=None) for leg in LEGS[::2]}
    musts = replace(a_tour(), legs=must)
    hours = {"earliest_departure": time(9), "latest_departure": time(9)}
    wide, tight = (
        evening(
            replace(musts, days=(friday("ridge", "coast", latest_arrival=by, **hours),)),
            MadeWeather(),
        ).briefing
        for by in (time(12, 5), time(11, 50))
    )
    assert sum(len(leg.breaks) for leg in wide.legs) == 1
    assert "breaks" not in wide.cautions
    assert [leg.id for leg in tight.legs] == ["ridge", "coast"]
    assert sum(len(leg.breaks) for leg in tight.legs) == 0
    assert "breaks" in tight.cautions


def test_the_exposed_leg_waits_for_the_wind_to_drop_and_the_reason_names_it() -> None:
    briefing = evening(a_tour(friday("ridge", "coast", "point")), windy_until(16)).briefing
    order = [leg.id for leg in briefing.legs]
    (ridge,) = [leg for leg in briefing.legs if leg.id == "ridge"]
    assert order[-1] == "ridge"
    assert local_hour(ridge.start) >= 16.0  # its top is passed with no wind in the hour before
    assert ridge.severity < 2.0
    moved = [change for change in briefing.changes if change.kind is ChangeKind.MOVED]
    winds = {"gust", "crosswind", "mean_wind"}
    assert any(change.reason and change.reason.name in winds for change in moved)
    assert briefing.own_order.worst_leg == "ridge"
    assert briefing.own_order.severity >= 2.0


def test_a_gale_all_day_takes_the_stand_in() -> None:
    tour = a_tour(friday("ridge", "coast"))
    weather = MadeWeather(
        wind_speed_of_gust=local(lambda h: np.full(h.shape, 19.0)),
        wind_speed=local(lambda h: np.full(h.shape, 12.0)),
    )
    briefing = evening(tour, weather).briefing
    ridden = {leg.id for leg in briefing.legs}
    assert "valley" in ridden
    assert "ridge" not in ridden
    (out,) = [leg for leg in briefing.left_out if leg.id == "ridge"]
    assert out.reason is not None
    assert out.reason.value == pytest.approx(19.0)


def test_missing_data_is_never_good_weather() -> None:
    fair = evening(a_tour(friday("ridge")), MadeWeather()).briefing
    blind = evening(a_tour(friday("ridge")), MadeWeather(without=("wind_speed_of_gust",))).briefing
    assert "gust" in blind.unknown
    assert all(leg.severity >= 2.0 for leg in blind.legs)
    assert blind.value_minutes is not None
    assert fair.value_minutes is not None
    assert blind.value_minutes < fair.value_minutes


def test_a_loop_goes_to_the_arrival_evening_when_tomorrow_gains_by_it() -> None:
    """Trade fact, common practice, no source: the small loop before check-in."""
    thursday = Day(
        date=THURSDAY,
        start="away",
        end="base",
        own_order=("coast",),
        optional=("point",),
        own_departure=time(11),
    )
    tomorrow = friday("point", "ridge")
    wet_friday = MadeWeather(
        precipitation_amount=local(lambda h: np.where((h > 0) & (h < 30), 1.5, 0.0)),
        precipitation_probability=local(lambda h: np.where((h > 0) & (h < 30), 90.0, 0.0)),
    )
    now = EVE - timedelta(days=1)
    briefing = evening(a_tour(thursday, tomorrow), wet_friday, day=THURSDAY, now=now).briefing
    assert "point" in {leg.id for leg in briefing.legs}
    assert briefing.tonight == "point"
    (change,) = [c for c in briefing.changes if c.kind is ChangeKind.OTHER_DAY]
    assert change.leg == "point"
    assert change.to_day == THURSDAY
    assert change.worth_minutes is not None
    assert change.worth_minutes > 0


def test_a_leg_asked_for_today_is_not_ridden_again_tomorrow() -> None:
    days = (friday("ridge", optional=("point",)), friday("coast", "point", date=SATURDAY))
    wish = Demands(forced=frozenset({"point"}))
    briefing = evening(a_tour(*days), MadeWeather(), demands=wish).briefing
    assert "point" in {leg.id for leg in briefing.legs}


def test_a_leg_moved_to_a_day_that_does_not_list_it_is_ridden_there() -> None:
    days = (friday("ridge", "coast", "point"), friday("coast", date=SATURDAY))
    wish = Demands(moved=frozenset({("point", SATURDAY)}))
    briefing = evening(a_tour(*days), MadeWeather(), demands=wish).briefing
    assert "point" not in {leg.id for leg in briefing.legs}
    (out,) = [leg for leg in briefing.left_out if leg.id == "point"]
    assert (out.cause, out.moved_to) == ("other day", SATURDAY)


def test_the_own_order_stays_a_choice_even_against_a_gale() -> None:
    tour = a_tour(friday("ridge"))
    weather = MadeWeather(
        wind_speed_of_gust=local(lambda h: np.full(h.shape, 30.0)),
        wind_speed=local(lambda h: np.full(h.shape, 20.0)),
    )
    kept = evening(tour, weather, demands=Demands(own_order=True)).briefing
    assert [leg.id for leg in kept.legs] == ["ridge"]
    assert kept.legs[0].severity == 4.0
    assert kept.value_minutes is None
    advised = evening(tour, weather).briefing
    assert advised.decision is Decision.NO_WAY
    assert advised.departure is None
    assert advised.blame


def test_a_day_without_a_plan_is_blamed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is searched with its breaks and without any; what cannot hold is asked of the one told."""
    counts: Counter[str] = Counter()

    def counted(name: str, call: Callable[..., object]) -> Callable[..., object]:
        def asked(*given: object, **named: object) -> object:
            counts[name] += 1
            return call(*given, **named)

        return asked

    monkeypatch.setattr(day_search, "blame", counted("blame", day_search.blame))
    searched = counted("search", evening_steps.best_that_holds)
    monkeypatch.setattr(evening_steps, "best_that_holds", searched)
    weather = MadeWeather(
        wind_speed_of_gust=local(lambda h: np.full(h.shape, 30.0)),
        wind_speed=local(lambda h: np.full(h.shape, 20.0)),
    )
    briefing = evening(a_tour(friday("ridge")), weather).briefing
    assert briefing.blame
    assert counts == {"search": 2, "blame": 1}
    counts.clear()
    assert evening(a_tour(friday("ridge")), MadeWeather()).briefing.legs
    assert counts == {"search": 1}


def test_only_what_is_left_of_today_is_planned() -> None:
    noon = datetime(2027, 4, 2, 0, 0, tzinfo=UTC)  # Friday 13:00 there
    briefing = evening(a_tour(friday("ridge", "coast", "point")), MadeWeather(), now=noon).briefing
    assert local_hour(briefing.departure) >= 13.0


def test_the_same_evening_gives_the_same_briefing() -> None:
    tour = a_tour(friday("ridge", "coast", "point"))
    first, second = (evening(tour, windy_until(12)).briefing for _ in range(2))
    assert first == second


def test_without_a_forecast_the_last_plan_comes_marked_old(tmp_path: Path) -> None:
    store = open_store(str(tmp_path / "plans.sqlite"), lambda: EVE)
    failed = ForecastError("Made does not answer", mend="try again later")
    assert last_plan_stale(store, "tour", FRIDAY, failed) is None
    briefing = evening(a_tour(friday("ridge")), MadeWeather()).briefing
    store.keep_plan("tour", briefing, accepted=False)
    old = last_plan_stale(store, "tour", FRIDAY, failed)
    assert old is not None
    assert old.plan_stale
    assert old.stale_cause == "Made does not answer"
    assert old.legs == briefing.legs
    kept = store.last_plan("tour", FRIDAY)
    assert kept is not None
    assert not kept.plan_stale  # what is stored stays as it was
    store.close()


class TestPlainRoads:
    """Thursday's loop begins at the base, two hours' plain road from where the day begins."""

    NOW = EVE - timedelta(days=1)

    def day(self, **other: object) -> Day:
        given = {"own_order": ("coast",), "own_departure": time(11)} | other
        return Day(date=THURSDAY, start="away", end="base", **given)

    def planned(
        self, weather: MadeWeather, demands: Demands | None = None, **other: object
    ) -> Evening:
        tour = a_tour(self.day(**other))
        return evening(tour, weather, day=THURSDAY, now=self.NOW, demands=demands)

    def test_they_are_judged_at_their_ends_and_told(self) -> None:
        asked: list[str] = []
        weather = MadeWeather()
        hourly = weather.hourly
        weather.hourly = lambda points, window: (asked.extend(points), hourly(points, window))[1]
        briefing = self.planned(weather).briefing
        assert set(road_points(a_tour(), ("away", "base"))) <= set(asked)
        assert briefing.roads is not None
        (road,) = briefing.roads
        assert (road.start, road.end) == ("Away", "Base")
        assert road.estimated
        assert road.leave == briefing.departure
        assert road.arrive <= briefing.legs[0].start
        assert road.severity < 2.0
        assert "Road to" not in message(briefing)

    def test_rain_slows_them(self) -> None:
        dry = self.planned(MadeWeather())
        wet = self.planned(MadeWeather(precipitation_amount=local(lambda h: np.full(h.shape, 1.0))))
        at, to = dry.built.places.index("away"), dry.built.places.index("base")
        slower, pause = LIMITS.figure("pace.rain_light"), Rules().break_minutes
        assert slower > 1
        assert wet.built.connector_minutes[at, to] - pause == pytest.approx(
            slower * (dry.built.connector_minutes[at, to] - pause)
        )
        assert dry.built.connector_km[at, to] == wet.built.connector_km[at, to]
        assert wet.briefing.roads is not None
        (road,) = wet.briefing.roads
        assert road.severity >= 2.0
        assert "wet" in wet.briefing.cautions

    def test_with_a_gale_on_the_only_road_there_is_no_plan(self) -> None:
        gale = MadeWeather(
            wind_speed_of_gust=local(lambda h: np.full(h.shape, 30.0)),
            wind_speed=local(lambda h: np.full(h.shape, 20.0)),
        )
        briefing = self.planned(gale).briefing
        assert briefing.decision is Decision.NO_WAY
        assert briefing.departure is None
        assert briefing.legs == ()
        assert briefing.roads is not None
        assert [road.severity for road in briefing.roads] == [4.0]
        told = message(briefing)
        assert "NO SAFE WAY. No-go road to Base" in told.split("\n")[0]
        assert "No-go: road to Base" in why(briefing)
        assert "wind" in briefing.cautions
        # asked for all the same, it is told as it would be met, and line one says so too
        kept = self.planned(gale, demands=Demands(own_order=True)).briefing
        assert kept.decision is Decision.AS_ASKED
        assert "no-go" in message(kept).split("\n")[0].lower()

    def test_a_storm_on_the_road_is_waited_out(self) -> None:
        """Until 14:00 gusts of 30 m/s; the rider would leave at 11:00, the way takes two hours."""
        calm = self.planned(MadeWeather()).briefing
        storm = MadeWeather(
            wind_speed_of_gust=local(lambda h: np.where(h + 24 < 14, 30.0, 5.0)),
            wind_speed=local(lambda h: np.where(h + 24 < 14, 20.0, 3.0)),
        )
        briefing = self.planned(storm).briefing
        assert local_hour(calm.departure) < 12
        assert local_hour(briefing.departure) >= 15  # the hour before counts as well
        assert briefing.roads is not None
        assert all(road.severity < 2.0 for road in briefing.roads)

    def test_what_is_missing_on_them_is_said(self) -> None:
        blind = self.planned(MadeWeather(without=("wind_speed_of_gust",)), own_order=()).briefing
        assert blind.roads is not None
        assert all(road.severity >= 2.0 for road in blind.roads)
        assert "gust" in blind.unknown
        assert "no_data" in blind.cautions
