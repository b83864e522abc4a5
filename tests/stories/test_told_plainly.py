"""Whole evenings on small INVENTED tours: what is told agrees with what is meant.

Tours, roads and weather are invented; light is that of the real places.
"""

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from tests.stories.fair_weather import FairWeather, Otherwise
from tests.stories.house import Machine, strict_json

TOUR = """
name = "Two loops"
zone = "{zone}"
invented = true
[places.base]
name = "Home"
latitude = {latitude}
longitude = {longitude}
elevation_m = 20
[places.head]
name = "Windy Head"
latitude = {north}
longitude = {longitude}
elevation_m = 60
[places.mill]
name = "Old Mill"
latitude = {south}
longitude = {longitude}
elevation_m = 30
[legs.mill]
name = "Mill Lane"
kind = "loop"
start = "base"
end = "base"
via = ["mill"]
distance_km = 70
riding_minutes = 90
width_m = 6.5
{mill}
[legs.head]
name = "Head Loop"
kind = "loop"
start = "base"
end = "base"
via = ["head"]
distance_km = 80
riding_minutes = 100
exposure = "exposed"
width_m = 6
{head}
[[riders]]
id = "R1"
leader = true
[days.{day}]
start = "base"
end = "base"
own_order = ["mill", "head"]
own_departure = "09:00"
{more}
"""
WORTH = {"mill": "worth_minutes = 60", "head": "worth_minutes = 90"}


def tour(
    day: str = "2027-06-15",
    *,
    zone: str = "Europe/Rome",
    at: tuple[float, float] = (45.0, 7.0),
    mill: str = WORTH["mill"],
    head: str = WORTH["head"],
    more: str = "",
) -> str:
    latitude, longitude = at
    return TOUR.format(
        zone=zone, latitude=latitude, longitude=longitude, north=latitude + 0.12,
        south=latitude - 0.12, day=day, mill=mill, head=head, more=more,
    )  # fmt: skip


def told(
    home: Path, toml: str, now: str, otherwise: Otherwise | None = None, *, exit_code: int = 0
) -> dict[str, Any]:
    """Plan the only day of a tour as the command does."""
    day = toml.split("[days.")[1].split("]", maxsplit=1)[0]
    with FairWeather(otherwise) if otherwise else FairWeather() as service:
        machine = Machine(home, service.url)
        path = home / "tour.toml"
        path.write_text(toml, encoding="utf-8")
        result = machine.plan(path, day, now, "--format", "json")
    assert result.exit_code == exit_code, result.stderr
    answer = strict_json(result.stdout)
    assert isinstance(answer, dict)
    return answer


def lines(answer: Mapping[str, Any]) -> list[str]:
    message = str(answer["message"])
    assert len(message) <= 650
    assert message.count("\n") < 10
    return message.split("\n")


EVENING = "2027-06-14T18:00+02:00"


def test_legs_without_a_worth_are_ridden_on_a_fair_day(tmp_path: Path) -> None:
    answer = told(tmp_path, tour(mill="", head=""), EVENING)
    assert [leg["id"] for leg in answer["legs"]] == ["mill", "head"]
    assert "AS PLANNED" in lines(answer)[0]


@pytest.mark.parametrize(
    ("days_ahead", "sure"),
    [
        (1, "Very likely to hold (9 in 10, estimated)"),
        (5, "Likely to hold (7 in 10, estimated)"),
        (14, "Too far ahead to say how sure"),
    ],
)
def test_a_calm_day_far_ahead_does_not_sound_sure(
    tmp_path: Path, days_ahead: int, sure: str
) -> None:
    answer = told(tmp_path, tour(), f"2027-06-{15 - days_ahead:02d}T08:00+02:00")
    assert f"{sure}. Check before leaving" in lines(answer)
    assert (answer["odds"] is None) == sure.startswith("Too far")


def test_polar_night_leaves_nothing_to_spare(tmp_path: Path) -> None:
    """The sun of Longyearbyen stays under -6 degrees all December (published: never_light)."""
    night = tour("2027-12-20", zone="Arctic/Longyearbyen", at=(78.2, 15.6),
                 mill="worth_minutes = 600")  # fmt: skip
    answer = told(tmp_path, night, "2027-12-19T18:00+01:00")
    assert [leg["id"] for leg in answer["legs"]] == ["mill"]
    assert answer["spare_minutes"] == 0
    assert "better weather" not in answer["message"]
    (head,) = (leg for leg in answer["left_out"] if leg["id"] == "head")
    assert head["to_ride_it"] == "more daylight"
    limited = told(tmp_path, night + 'latest_arrival = "16:00"\n', "2027-12-19T18:00+01:00")
    arrival = datetime.fromisoformat(limited["arrival"])
    assert limited["spare_minutes"] > 0
    assert arrival.hour < 16


def gusty_till_three(latitude: float, hour: datetime) -> Mapping[str, float]:
    gusty = latitude > 45.05 and hour.hour <= 13
    return {"wind_gusts_10m": 25.0, "wind_speed_10m": 15.0} if gusty else {}


def test_another_hour_than_the_riders_own_is_said_with_its_reason(tmp_path: Path) -> None:
    one = tour().replace('["mill", "head"]', '["head"]')
    first, *rest = lines(told(tmp_path, one, EVENING, gusty_till_three))
    assert first.startswith("Tue 15 Jun: LEAVE LATER. Leave 1")
    assert first.removesuffix(" (INVENTED)").endswith("not 09:00")
    assert any(line.startswith("Why: ") and "gust 90" in line for line in rest)


def test_leaving_with_the_first_light_is_said_as_that(tmp_path: Path) -> None:
    """Civil dawn of Tromsø on 20 December is about 09:31, after the rider's own hour."""
    north = tour("2027-12-20", zone="Europe/Oslo", at=(69.65, 18.95))
    north = north.replace('["mill", "head"]', '["mill"]')
    first, *rest = lines(told(tmp_path, north, "2027-12-19T18:00+01:00"))
    assert "LEAVE LATER. Leave 09:3" in first
    assert any(line.startswith("Why: not light before 09:3") for line in rest)


def test_fog_that_only_the_code_tells_has_no_figure(tmp_path: Path) -> None:
    answer = told(tmp_path, tour(), EVENING, lambda _, __: {"weather_code": 45.0})
    fog = [leg["hazard"] for leg in answer["legs"] if leg["hazard"]]
    assert {(one["name"], one["value"]) for one in fog} == {("visibility", None)}
    assert "fog by the weather code" in answer["message"]
    assert "24,000" not in answer["message"]


def test_freezing_rain_is_not_told_as_frost_at_one_degree(tmp_path: Path) -> None:
    icy = {"weather_code": 67.0, "temperature_2m": 1.0, "dew_point_2m": 1.0}
    answer = told(tmp_path, tour(), EVENING, lambda _, __: icy)
    assert "snow or freezing rain" in answer["message"]
    assert "air 1" not in answer["message"]


def test_a_missing_hour_is_named_by_itself(tmp_path: Path) -> None:
    """The wind of 11 to 12 UTC, 13:00 on the spot, is missing; the leg is begun at 11:30."""

    def gap(_: float, hour: datetime) -> Mapping[str, float | None]:
        missing = hour.hour == 12  # stamped at the end of the hour it covers
        return {"wind_gusts_10m": None} if missing else {}

    at_half_past = 'earliest_departure = "11:30"\nlatest_arrival = "13:15"\n'
    one = tour(more=at_half_past).replace('["mill", "head"]', '["head"]')
    answer = told(tmp_path, one.replace('"09:00"', '"11:30"'), EVENING, gap)
    (leg,) = answer["legs"]
    assert leg["hazard"]["unknown"]
    assert datetime.fromisoformat(leg["hazard"]["hour"]).strftime("%H:%M") == "13:00"


def test_a_known_hazard_beside_an_unknown_one_is_told_too(tmp_path: Path) -> None:
    """Rain is not known all day; the gusts are, and on the sheltered lane worth a word."""

    def windy(_: float, __: datetime) -> Mapping[str, float | None]:
        return {"precipitation": None, "wind_gusts_10m": 13.0, "wind_speed_10m": 9.0}

    answer = told(tmp_path, tour(head="worth_minutes = 400"), EVENING, windy)
    (mill,) = (leg for leg in answer["legs"] if leg["id"] == "mill")
    assert mill["hazard"]["unknown"]
    known = mill["hazard"]["also"]
    assert not known["unknown"]
    assert known["value"] == pytest.approx(13.0)
    assert answer["odds"] is None
    assert "no data for rain; side wind 47 km/h" in answer["message"]


def test_an_unknown_hazard_behind_a_known_caution_is_told_too(tmp_path: Path) -> None:
    def gusty(_: float, hour: datetime) -> Mapping[str, float | None]:
        gap = {"visibility": None} if 6 <= hour.hour <= 22 else {}
        return {"wind_gusts_10m": 14.0, "wind_speed_10m": 9.0} | gap

    answer = told(
        tmp_path,
        tour(head="worth_minutes = 400", more='earliest_departure = "08:50"\n'),
        EVENING,
        gusty,
    )
    (head,) = (leg for leg in answer["legs"] if leg["id"] == "head")
    assert not head["hazard"]["unknown"]
    assert head["hazard"]["also"]["name"] == "visibility"
    assert "No data for fog" in answer["message"]
