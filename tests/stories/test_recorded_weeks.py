"""Three recorded weeks of weather, planned through the whole corridor as a rider runs it.

Recorded answers: tests/data/README.md. The tours laid over them are INVENTED. Several places are
answered by a list COMPOSED of the recorded answer. What the message should say is worked out here
from the file itself: an amount, a gust or a probability stamped t covers the hour before t
(Open-Meteo's documentation, "preceding hour"), anything else is the instant t.
"""

import json
import math
import re
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from tests.loopback import Reply, recorded
from tests.stories.house import DATA, Machine, Recorded

HOUR = timedelta(hours=1)
MPH = 0.44704  # m/s, exact by definition of the international mile


class Week:
    """A recorded file read anew, with nothing of replanner's own reader."""

    def __init__(self, name: str, tour: str, zone: str) -> None:
        self.name = name
        self.tour = DATA / tour
        self.zone = ZoneInfo(zone)
        answer = json.loads(recorded(name))
        offset = timedelta(seconds=answer["utc_offset_seconds"])
        self.hourly = answer["hourly"]
        self.units = answer["hourly_units"]
        self.stamps = [
            datetime.fromisoformat(stamp).replace(tzinfo=UTC) - offset
            for stamp in self.hourly["time"]
        ]

    def at(self, variable: str, stamp: datetime) -> float:
        """Return what the file says at a stamp."""
        return float(self.hourly[variable][self.stamps.index(stamp)])

    def over(self, variable: str, start: datetime) -> float:
        """Return the gust or amount of the hour that starts then."""
        return self.at(variable, start.astimezone(UTC) + HOUR)

    def daylight_hours(self, day: date, first: int, last: int) -> list[datetime]:
        return [
            datetime(day.year, day.month, day.day, hour, tzinfo=self.zone)
            for hour in range(first, last + 1)
        ]

    def worst_hour(self, variable: str, day: date, first: int, last: int) -> datetime:
        return max(
            self.daylight_hours(day, first, last), key=lambda hour: self.over(variable, hour)
        )


COAST = Week("coast_windy_rain_168h.json", "tour_recorded_coast.toml", "Australia/Melbourne")
LAKE = Week("lake_imperial_units_192h.json", "tour_recorded_lake.toml", "America/Toronto")
STORM = Week("winter_storm_336h_run1.json", "tour_recorded_storm.toml", "America/New_York")


class Planned:
    """One evening of one week, planned once."""

    def __init__(self, week: Week, day: str, answer: dict[str, Any]) -> None:
        self.week, self.day, self.answer = week, date.fromisoformat(day), answer
        self.message: str = answer["message"]

    def leg(self, leg_id: str) -> dict[str, Any]:
        (found,) = [leg for leg in self.answer["legs"] if leg["id"] == leg_id]
        return dict(found)

    def passage(self, leg_id: str, first: float, last: float) -> tuple[datetime, datetime]:
        """Return when a stretch of a leg is ridden, at even speed."""
        leg = self.leg(leg_id)
        start, end = (datetime.fromisoformat(leg[key]) for key in ("start", "end"))
        return start + (end - start) * first, start + (end - start) * last


def hours_touched(start: datetime, end: datetime) -> set[datetime]:
    """Return the hours of a passage with the one before and the one after."""
    hour = start.astimezone(UTC).replace(minute=0) - HOUR
    touched = set()
    while hour <= end.astimezone(UTC) + HOUR:
        touched.add(hour)
        hour += HOUR
    return touched


def reason_of(planned: Planned, leg: str) -> dict[str, Any]:
    """Return the reason of the change that is told of a leg."""
    reasons = [
        change["reason"]
        for change in planned.answer["changes"]
        if change["leg"] == leg and change["reason"] is not None
    ]
    assert reasons, planned.answer["changes"]
    return dict(reasons[0])


@pytest.fixture(scope="module")
def plan_of(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Plan a day of a week through HTTP and the command line; the same day only once."""
    kept: dict[tuple[str, str], Planned] = {}

    def plan(week: Week, day: str) -> Planned:
        if (week.name, day) not in kept:
            evening = datetime.combine(
                date.fromisoformat(day) - timedelta(days=1),
                datetime.min.time().replace(hour=19, minute=30),
                week.zone,
            )
            with Recorded(week.name) as service:
                machine = Machine(tmp_path_factory.mktemp("rider"), service.url)
                answer = machine.plan_json(week.tour, day, evening.isoformat())
                assert len(service.asked) == 1
                assert service.places_asked[0] > 1, "more than one place: a composed list"
            kept[week.name, day] = Planned(week, day, answer)
        return kept[week.name, day]

    return plan


# ------------------------------------------------------------------------------ the windy coast


def test_coast_the_head_is_ridden_before_the_gusts(plan_of: Any) -> None:
    """31 October: 5 km/h at dawn, 52 in the afternoon."""
    planned = plan_of(COAST, "2025-10-31")
    worst = COAST.worst_hour("wind_gusts_10m", planned.day, 6, 20)
    assert worst.hour == 15  # the stamp of 05:00 GMT covers 15:00 to 16:00 on the clock there
    start, end = planned.passage("head_loop", 0.4, 0.6)
    met = [COAST.over("wind_gusts_10m", hour) for hour in hours_touched(start, end)]
    assert worst.astimezone(UTC) not in hours_touched(start, end)
    # not only off the very worst hour: below the caution of side wind in config/limits.toml
    assert max(met) < 12.0 * 3.6


def test_coast_the_reason_is_the_worst_hour_in_the_files_figure(plan_of: Any) -> None:
    planned = plan_of(COAST, "2025-10-31")
    worst = COAST.worst_hour("wind_gusts_10m", planned.day, 6, 20)
    reason = reason_of(planned, "head_loop")
    # the file has no wind direction: the whole gust counts as side wind
    assert reason["name"] in ("gust", "crosswind", "gust_spread")
    hour = datetime.fromisoformat(reason["hour"])
    assert abs(hour - worst) <= HOUR  # with its breaks the own order is there that hour or the next
    kmh = COAST.over("wind_gusts_10m", hour)
    if reason["name"] == "gust_spread":  # over the mean wind, at its highest beside that hour
        assert reason["value"] <= (kmh - COAST.over("wind_speed_10m", hour)) / 3.6
        kmh = 3.6 * reason["value"]
    assert reason["value"] == pytest.approx(kmh / 3.6, abs=1e-3)
    assert f"at {hour:%H:%M}" in planned.message
    assert re.search(rf"\b{math.ceil(kmh)}\b", planned.message), planned.message
    assert "km/h" in planned.message


def test_coast_what_is_not_in_the_file_is_unknown_and_said(plan_of: Any) -> None:
    """The file has neither visibility, nor cloud, nor weather codes, nor wind direction."""
    assert "visibility" not in COAST.hourly
    assert "weather_code" not in COAST.hourly
    for day in ("2025-10-26", "2025-10-30", "2025-10-31"):
        planned = plan_of(COAST, day)
        assert "visibility" in planned.answer["unknown"]
        assert "No data for fog" in planned.message
        assert planned.answer["legs"]
        assert all(leg["severity"] >= 2 for leg in planned.answer["legs"])


def test_coast_the_rainy_day_keeps_the_head_for_the_calm_one(plan_of: Any) -> None:
    """26 October: a dozen millimetres with gusts to 45 km/h; the 30th is dry."""
    planned = plan_of(COAST, "2025-10-26")
    rain = [COAST.over("precipitation", hour) for hour in COAST.daylight_hours(planned.day, 6, 20)]
    assert sum(rain) > 10
    dry = COAST.daylight_hours(date(2025, 10, 30), 6, 20)
    assert not any(COAST.over("precipitation", hour) for hour in dry)
    (head,) = [leg for leg in planned.answer["left_out"] if leg["id"] == "head_loop"]
    assert head["moved_to"] == "2025-10-30"
    assert "Thu 30 Oct" in planned.message
    # what is ridden all the same keeps away from the wettest hour
    worst = COAST.worst_hour("precipitation", planned.day, 6, 20)
    assert worst.hour == 15
    for leg in planned.answer["legs"]:
        start, end = planned.passage(leg["id"], 0.0, 1.0)
        # its last five minutes may touch it: it is a break later in
        assert end <= worst + timedelta(minutes=5) or start >= worst + HOUR


def test_coast_the_reason_for_another_day_is_its_weather(plan_of: Any) -> None:
    planned = plan_of(COAST, "2025-10-26")
    reason = reason_of(planned, "head_loop")
    assert not reason["unknown"]
    assert reason["name"] in ("rain", "rain_exposed", "wet_road", "gust", "crosswind")
    hour = datetime.fromisoformat(reason["hour"]).astimezone(COAST.zone)
    assert hour.date() == planned.day


def test_coast_the_calm_day_is_ridden_as_planned(plan_of: Any) -> None:
    """30 October: no rain, gusts below 33 km/h at every hour: nothing speaks for a change."""
    planned = plan_of(COAST, "2025-10-30")
    hours = COAST.daylight_hours(planned.day, 6, 20)
    assert max(COAST.over("wind_gusts_10m", hour) for hour in hours) < 34
    assert [leg["id"] for leg in planned.answer["legs"]] == ["mill_lane", "ford_spur", "head_loop"]
    assert planned.answer["left_out"] == []
    assert planned.answer["decision"] == "as planned"
    assert planned.answer["departure"] == "2025-10-30T09:00:00+11:00"


# ------------------------------------- the lake, in imperial units and across the clock change


def test_lake_the_ridge_is_ridden_before_the_gusts_of_the_new_clock(plan_of: Any) -> None:
    """8 March, clocks just forward: 12 mph in the morning, 24 at four in the new time.

    The file's stamps keep the winter offset, so the hour that starts at 16:00 daylight time is
    stamped 16:00 there: it covers the hour before, and the clock has gone forward by one.
    """
    planned = plan_of(LAKE, "2026-03-08")
    assert planned.answer["sunset"].endswith("-04:00")
    four = datetime(2026, 3, 8, 16, tzinfo=LAKE.zone)
    assert LAKE.hourly["wind_gusts_10m"][LAKE.hourly["time"].index("2026-03-08T16:00")] == (
        LAKE.over("wind_gusts_10m", four)
    )
    assert LAKE.worst_hour("wind_gusts_10m", planned.day, 7, 17) == four
    start, end = planned.passage("ridge_road", 0.4, 0.6)
    touched = hours_touched(start, end)
    assert four.astimezone(UTC) not in touched
    limit = 10.5 / MPH  # the rider's own `avoid` of the tour file
    assert all(LAKE.over("wind_gusts_10m", hour) < limit for hour in touched)


def test_lake_the_reason_names_the_hour_by_the_new_clock_in_mph(plan_of: Any) -> None:
    planned = plan_of(LAKE, "2026-03-08")
    four = datetime(2026, 3, 8, 16, tzinfo=LAKE.zone)
    reason = reason_of(planned, "ridge_road")
    assert (reason["name"], reason["hour"]) == ("gust", "2026-03-08T16:00:00-04:00")
    mph = LAKE.over("wind_gusts_10m", four)
    assert LAKE.units["wind_gusts_10m"] == "mp/h"
    assert reason["value"] == pytest.approx(mph * MPH, abs=1e-3)
    assert f"at 16:00 gust {math.ceil(mph)}, limit {round(10.5 / MPH)} mph" in planned.message
    assert "km/h" not in planned.message
    assert "No data for fog" in planned.message


def test_lake_the_change_of_the_clock_is_told(plan_of: Any) -> None:
    planned = plan_of(LAKE, "2026-03-08")
    assert "Clocks go forward" in planned.message or "clocks" in planned.answer["spoken"].lower()


def test_lake_the_day_after_is_too_windy_in_the_same_hours(plan_of: Any) -> None:
    """9 March: gusts of 34 mph and more from dawn to dusk, 41 at worst."""
    planned = plan_of(LAKE, "2026-03-09")
    hours = LAKE.daylight_hours(planned.day, 8, 18)
    assert min(LAKE.over("wind_gusts_10m", hour) for hour in hours) > 33
    assert planned.answer["decision"] == "rest day"
    assert planned.answer["legs"] == []
    worst = LAKE.worst_hour("wind_gusts_10m", planned.day, 7, 18)
    assert worst.hour == 15
    (barn,) = [leg for leg in planned.answer["left_out"] if leg["id"] == "barn_loop"]
    assert barn["reason"]["name"] == "gust"
    assert datetime.fromisoformat(barn["reason"]["hour"]) == worst
    assert barn["reason"]["value"] == pytest.approx(
        LAKE.over("wind_gusts_10m", worst) * MPH, abs=1e-3
    )
    assert "mph" in planned.message


def test_lake_frost_is_told_in_fahrenheit(plan_of: Any) -> None:
    """11 March: freezing drizzle (code 57) all morning at 29 to 31 degF."""
    planned = plan_of(LAKE, "2026-03-11")
    nine = datetime(2026, 3, 11, 9, tzinfo=LAKE.zone)
    assert LAKE.at("weather_code", nine.astimezone(UTC)) == 57  # freezing drizzle, WMO 4677
    assert planned.answer["decision"] in ("rest day", "no-go")
    reason = reason_of(planned, "pond_loop")
    assert reason["name"] == "frost"
    assert reason["hour"] == "2026-03-11T09:00:00-04:00"
    fahrenheit = LAKE.at("temperature_2m", nine.astimezone(UTC))
    assert reason["value"] == pytest.approx((fahrenheit - 32) / 1.8, abs=1e-3)
    assert f"at 09:00 frost, air {math.floor(fahrenheit)}, limit 32 °F" in planned.message
    assert "°C" not in planned.message


def test_lake_a_day_whose_legs_all_wait_says_so(plan_of: Any) -> None:
    """7 March: gusts to 43 mph; every leg is kept for the 8th."""
    planned = plan_of(LAKE, "2026-03-07")
    assert all(leg["moved_to"] == "2026-03-08" for leg in planned.answer["left_out"])
    assert "Sun 8 Mar" in planned.message, planned.message


def test_lake_the_own_order_of_a_day_whose_legs_all_wait_is_judged(plan_of: Any) -> None:
    """Ridden from noon as the rider meant, the ridge would meet 43 mph: no mean caution."""
    planned = plan_of(LAKE, "2026-03-07")
    three = datetime(2026, 3, 7, 15, tzinfo=LAKE.zone)
    assert LAKE.over("wind_gusts_10m", three) == 43.0
    own = planned.answer["own_order"]
    assert own["severity"] >= 3
    assert own["hazard"] is not None


# ------------------------------------------------------------------------------ the winter storm


def test_storm_the_afternoon_of_the_storm_is_no_ride(plan_of: Any) -> None:
    """29 December: 28 km/h at noon, 75 km/h at three in the afternoon."""
    planned = plan_of(STORM, "2025-12-29")
    worst = STORM.worst_hour("wind_gusts_10m", planned.day, 7, 17)
    assert worst.hour == 15
    for leg in planned.answer["legs"]:
        assert worst.astimezone(UTC) not in hours_touched(*planned.passage(leg["id"], 0, 1))
    own = planned.answer["own_order"]
    assert own["severity"] == 4
    assert own["hazard"]["name"] in ("gust", "crosswind")
    hour = datetime.fromisoformat(own["hazard"]["hour"])
    kmh = STORM.over("wind_gusts_10m", hour)
    assert kmh > 70
    assert own["hazard"]["value"] == pytest.approx(kmh / 3.6, abs=1e-3)
    assert f"{hour:%H:%M}" in planned.message
    assert re.search(rf"\b{math.ceil(kmh)}\b", planned.message), planned.message


def test_storm_the_day_after_is_a_rest_day_for_gust_and_cold(plan_of: Any) -> None:
    """30 December: 54 to 62 km/h and below freezing at every hour of light."""
    planned = plan_of(STORM, "2025-12-30")
    hours = STORM.daylight_hours(planned.day, 7, 17)
    assert min(STORM.over("wind_gusts_10m", hour) for hour in hours) > 53
    assert max(STORM.at("temperature_2m", hour.astimezone(UTC)) for hour in hours) < 0
    assert planned.answer["decision"] in ("rest day", "no-go")
    assert planned.answer["legs"] == []
    names = {reason_of(planned, leg)["name"] for leg in ("gap_road", "wood_loop")}
    assert names <= {"gust", "crosswind", "frost", "wind_chill"}
    assert any(f" {noun}" in planned.message for noun in ("side wind", "gust", "frost"))


def test_storm_no_reason_names_an_hour_nobody_would_ride(plan_of: Any) -> None:
    """Dawn is at 06:51 on 30 December, the gap half an hour's ride away.

    With the hour before a passage counted, nothing before six can be met; the rider means to
    leave at nine, so that the own order meets nothing before eight.
    """
    planned = plan_of(STORM, "2025-12-30")
    dawn = datetime.fromisoformat(planned.answer["civil_dawn"])
    assert f"{dawn:%H:%M}" == "06:51"
    (gap,) = [left for left in planned.answer["left_out"] if left["id"] == "gap_road"]
    reasons = [change["reason"] for change in planned.answer["changes"]]
    for reason in (gap["reason"], *filter(None, reasons)):
        assert datetime.fromisoformat(reason["hour"]) >= dawn.replace(hour=6, minute=0), reason
    own = [line for line in planned.message.splitlines() if line.startswith("Your order")]
    assert not any(f"at 0{hour}:00" in line for line in own for hour in range(8))


def test_storm_sleet_on_frozen_ground_is_ice(plan_of: Any) -> None:
    """6 January: rain or sleet at 0.0 to 0.3 degC until ten in the morning."""
    planned = plan_of(STORM, "2026-01-06")
    eight = datetime(2026, 1, 6, 8, tzinfo=STORM.zone)
    assert STORM.over("precipitation", eight) > 0.5
    assert STORM.at("temperature_2m", eight.astimezone(UTC)) == pytest.approx(0.2)
    assert planned.answer["decision"] in ("rest day", "no-go")
    reason = reason_of(planned, "gap_road")
    assert reason["name"] == "frost"
    hour = datetime.fromisoformat(reason["hour"]).astimezone(UTC)
    assert reason["value"] == pytest.approx(STORM.at("temperature_2m", hour), abs=1e-3)
    assert "frost" in planned.message
    assert "°C" in planned.message


@pytest.mark.parametrize("day", ["2025-12-30", "2026-01-06"])
def test_storm_a_rest_day_tells_no_ride(plan_of: Any, day: str) -> None:
    """Nobody leaves on a rest day: no time of leaving, no time of arrival."""
    planned = plan_of(STORM, day)
    assert planned.answer["legs"] == []
    assert "Leave" not in planned.message
    assert "In by" not in planned.message


@pytest.mark.parametrize(
    ("week", "day"),
    [(COAST, "2025-10-31"), (LAKE, "2026-03-08"), (STORM, "2025-12-29")],
    ids=["coast", "lake", "storm"],
)
def test_real_weather_is_credited_and_never_called_invented(
    plan_of: Any, week: Week, day: str
) -> None:
    """The tours are invented, the weather is not; CC BY 4.0 wants its credit where it is shown."""
    planned = plan_of(week, day)
    forecast = planned.answer["forecast"]
    assert forecast["service"] == "Open-Meteo"
    assert forecast["invented"] is False
    assert "https://open-meteo.com/" in forecast["credit"]
    assert "Open-Meteo" in planned.message
    assert "INVENTED data" not in planned.message


@pytest.mark.parametrize(
    ("week", "days"),
    [
        (COAST, ("2025-10-26", "2025-10-30", "2025-10-31")),
        (LAKE, ("2026-03-07", "2026-03-08", "2026-03-09", "2026-03-11")),
        (STORM, ("2025-12-29", "2025-12-30", "2026-01-06", "2026-01-09")),
    ],
    ids=["coast", "lake", "storm"],
)
def test_every_message_keeps_its_size(plan_of: Any, week: Week, days: tuple[str, ...]) -> None:
    """At most ten lines and 650 characters; line 1 names day and decision."""
    for day in days:
        message = plan_of(week, day).message
        assert len(message) <= 650
        assert len(message.splitlines()) <= 10
        assert message.startswith(f"{date.fromisoformat(day):%a} {int(day[-2:])}"), message


def test_the_tour_files_are_left_as_they_were(plan_of: Any, tmp_path: Path) -> None:
    before = COAST.tour.read_bytes()
    plan_of(COAST, "2025-10-31")
    assert COAST.tour.read_bytes() == before
    assert not list(tmp_path.iterdir())


class Without(Recorded):
    """Gives a recorded answer with some variables taken out of it by us."""

    def __init__(self, name: str, *taken_out: str) -> None:
        super().__init__(name)
        self.taken_out = taken_out

    def reply_to(self, path: str) -> Reply:
        answers = json.loads(super().reply_to(path).body)
        for answer in answers if isinstance(answers, list) else [answers]:
            for variable in self.taken_out:
                del answer["hourly"][variable]
        return Reply(json.dumps(answers))


@pytest.mark.parametrize("taken_out", ["wind_gusts_10m", "precipitation"])
def test_nobody_is_sure_of_a_day_whose_wind_or_rain_is_not_known(
    tmp_path: Path, taken_out: str
) -> None:
    """The estimated members differ in wind and rain alone; without them all are one and the same.

    On the calm day the share in which the plan holds is told where both are known.
    """
    day, now = "2025-10-30", "2025-10-29T19:30+11:00"
    with Recorded(COAST.name) as service:
        known = Machine(tmp_path / "known", service.url).plan_json(COAST.tour, day, now)
    assert known["odds"]["plan_holds"] > 0.9
    with Without(COAST.name, taken_out) as service:
        unknown = Machine(tmp_path / "unknown", service.url).plan_json(COAST.tour, day, now)
    assert unknown["odds"] is None
    for told in (unknown["message"], unknown["spoken"]):
        assert "to hold" not in told
        assert "No data for" in told
