"""Plain road round a place. Places and weather INVENTED."""

from dataclasses import replace

import numpy as np
import pytest

from replanner.hazards.limits import Limits
from replanner.hazards.model import Party
from replanner.hazards.plain_road import RoadWeather, road_weather
from replanner.trip.model import Exposure, Leg, LegKind, Road, Way
from replanner.trip.plain_road import road_points
from replanner.weather.hourly import PointHours
from tests.hazards.conftest import FAIR
from tests.hazards.test_assess import (
    FIRST,
    HOURS,
    VALLEY,
    assessed,
    at,
    everywhere,
    index,
    starts_of,
    tour_of,
)

TOUR = tour_of(VALLEY)
# The shipped limits, by their sources in config/limits.toml.
GUST_NO_GO, THUNDERSTORM = 22.0, 95.0


def fair(members: int | None = None, *places: str) -> dict[str, PointHours]:
    """Return fair hours at places, the inn if none are named."""
    shape = (HOURS,) if members is None else (members, HOURS)
    time = FIRST + np.arange(HOURS).astype("timedelta64[h]")
    return {
        point: PointHours(
            time,
            {name: np.full(shape, v) for name, v in FAIR.items() if name != "cloud_base_altitude"},
        )
        for point in road_points(TOUR, places or ("inn",))
    }


def judged(hours: dict[str, PointHours], limits: Limits, *instants: np.datetime64) -> RoadWeather:
    found = road_weather(TOUR, ("inn",), starts_of(*instants), hours, Party(), limits)
    assert list(found) == ["inn"]
    return found["inn"]


def test_fair_weather_is_go_at_a_dry_pace(limits: Limits) -> None:
    found = judged(fair(), limits, at(0), at(0, 5))
    assert found.pace.tolist() == [[1.0, 1.0]]
    assert found.severity.shape == (1, 2)
    assert (found.severity < 2).all()
    assert list(found.findings) == [None, None]


def test_the_hour_before_to_the_hour_after_counts(limits: Limits) -> None:
    for hour in range(-3, 4):
        hours = fair()
        everywhere(hours, "wind_speed_of_gust", hour, GUST_NO_GO)
        found = judged(hours, limits, at(0), at(0, 55))
        assert (found.severity == 4).all() == (-1 <= hour <= 1), hour
        if -1 <= hour <= 1:
            assert found.findings[0] is not None
            assert found.findings[0].hazard == "gust"
            assert found.findings[0].hour == at(hour)
            assert found.findings[0].section == "Inn"


def test_rain_slows_by_the_shipped_factor(limits: Limits) -> None:
    hours = fair()
    everywhere(hours, "precipitation_amount", 1, 1.0)
    found = judged(hours, limits, at(0), at(1), at(1, 55))
    light = limits.figure("pace.rain_light")
    assert light > 1
    assert found.pace.tolist() == [[1.0, light, light]]


def test_members_are_judged_each_by_its_own_hours(limits: Limits) -> None:
    hours = fair(3)
    (table,) = hours.values()
    table.columns["wind_speed_of_gust"][1, index(0)] = GUST_NO_GO
    found = judged(hours, limits, at(0), at(5))
    assert found.severity.shape == found.pace.shape == (3, 2)
    assert (found.severity == 4).tolist() == [[False, False], [True, False], [False, False]]
    assert found.findings[0] is None  # told is the first member


@pytest.mark.parametrize("lost", ["wind_speed_of_gust", "everything"])
def test_what_is_missing_is_unknown_and_never_go(limits: Limits, lost: str) -> None:
    hours = fair()
    if lost == "everything":
        hours = {}
    else:
        everywhere(hours, lost, 0, np.nan)
    found = judged(hours, limits, at(0))
    assert found.severity[0, 0] >= 2
    assert found.findings[0] is not None
    assert found.findings[0].unknown
    assert found.pace[0, 0] > 1


def test_it_is_as_bad_as_an_open_leg_there_without_a_heading(limits: Limits) -> None:
    """By hazards of the hour that ask for no heading, by day: wet, cold, thick and stormy hours."""
    rng = np.random.default_rng(3)
    leg = Leg(
        id="there", name="There", kind=LegKind.TRANSIT, start="inn", end="inn",
        riding_minutes=1.0, distance_km=1.0, road=Road(exposure=Exposure.OPEN), one_way=True,
    )  # fmt: skip
    starts = [at(hour) for hour in range(-2, 3)]  # 11:00 to 15:00 there: no low sun
    worst = 0
    for _ in range(30):
        hours = fair()
        for name, most in (
            ("precipitation_amount", 8.0),
            ("visibility_in_air", 3000.0),
            ("weather_code", THUNDERSTORM),
        ):
            for hour in rng.integers(-6, 8, 3):
                everywhere(hours, name, int(hour), float(rng.choice([0.0, 0.3, 1.0]) * most))
        tour = replace(TOUR, legs={"there": leg})
        alone = assessed(tour, hours, limits, *starts, way=Way.FORWARD, leg="there")
        found = judged(hours, limits, *starts)
        assert found.severity[0].tolist() == pytest.approx(alone.severity.tolist())
        worst += int((found.severity >= 3).any())
    assert worst > 10
