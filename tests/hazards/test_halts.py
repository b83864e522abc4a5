"""Photo and drone halts. All weather invented."""

import numpy as np
import pytest

from replanner.hazards.halts import light_fits, weather_fits
from replanner.hazards.limits import Limits
from replanner.trip.model import Halt, HaltKind
from tests.hazards.conftest import fair


def halt(kind: HaltKind, **other: object) -> Halt:
    return Halt(place="point", fraction=0.5, minutes=15.0, kind=kind, **other)


@pytest.mark.parametrize(
    ("column", "value", "photo", "drone"),
    [
        ("wind_speed_of_gust", 8.0, True, False),  # 70 % of 10.7 m/s: common practice, no source
        ("precipitation_amount", 0.2, False, False),  # drones land on any rain (drone manual)
        ("visibility_in_air", 900.0, False, False),
        ("weather_code", 95.0, True, False),
        ("wind_speed_of_gust", np.nan, True, False),  # unknown does not fit
        ("precipitation_amount", np.nan, False, False),
        ("visibility_in_air", np.nan, False, False),
        ("wind_speed_of_gust", 7.4, True, True),
    ],
)
def test_weather(limits: Limits, column: str, value: float, photo: bool, drone: bool) -> None:
    weather = fair(1, **{column: value})
    flying = halt(HaltKind.DRONE, gust_limit=10.7)
    assert weather_fits(halt(HaltKind.PHOTO), weather, limits)[0] == photo
    assert weather_fits(flying, weather, limits)[0] == drone
    assert weather_fits(halt(HaltKind.CAFE), weather, limits)[0]


def test_a_drone_of_unknown_make_is_small(limits: Limits) -> None:
    # 18 kt (9.3 m/s) for small drones, surf lifesaving drone manual
    weather = fair(2, wind_speed_of_gust=[6.4, 6.6])
    assert weather_fits(halt(HaltKind.DRONE), weather, limits).tolist() == [True, False]


def test_light_from_the_right_side() -> None:
    # the arc runs clockwise, also through north
    evening = halt(HaltKind.PHOTO, light_from_deg=(270.0, 30.0))
    sun = fair(4, sun_azimuth=[300.0, 10.0, 40.0, 300.0], sun_elevation=[20.0, 20.0, 20.0, -1.0])
    assert light_fits(evening, sun).tolist() == [True, True, False, False]
    assert light_fits(halt(HaltKind.PHOTO), sun).all()


def test_pictures_want_civil_daylight_and_coffee_does_not() -> None:
    dusk = fair(3, minutes_to_dusk=[10.0, -1.0, np.nan])
    assert light_fits(halt(HaltKind.DRONE), dusk).tolist() == [True, False, False]
    assert light_fits(halt(HaltKind.CAFE), dusk).all()
