"""Frost, chill, heat, fog, cloud, thunder, sun, dark and animals. All weather invented."""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from replanner.geodesy import Point
from replanner.hazards import (
    cloud_base,
    darkness,
    dusk_animals,
    fog,
    frost,
    heat,
    low_sun,
    thunder,
    wind_chill,
)
from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, HazardFunction, Party, Stretch
from replanner.hazards.scene import conditions_at
from replanner.trip.model import Exposure
from replanner.weather.daylight import daylight
from tests.hazards.conftest import Floats, a_stretch, fair

SETTLED = 47  # hours after which roads are known to be dry


def levels(assess: HazardFunction, where: Stretch, weather: Conditions, limits: Limits) -> Floats:
    reading = assess(where, weather, Party(), limits)
    assert reading is not None
    return reading.everywhere(weather.time.size).level


def last(assess: HazardFunction, where: Stretch, weather: Conditions, limits: Limits) -> float:
    return float(levels(assess, where, weather, limits)[-1])


@pytest.mark.parametrize(
    ("air", "rain", "expected"),
    # from memory: 4 degC caution, 2 degC wet avoid, 0 degC wet no-go
    [(7.0, 0.0, 0.0), (4.0, 0.0, 2.0), (-3.0, 0.0, 2.0), (2.0, 1.0, 3.0), (0.0, 1.0, 4.0)],
)
def test_frost(limits: Limits, air: float, rain: float, expected: float) -> None:
    weather = fair(
        SETTLED + 1,
        air_temperature=air,
        dew_point_temperature=air - 8.0,
        precipitation_amount=[0.0] * SETTLED + [rain],
    )
    assert last(frost.assess, a_stretch(), weather, limits) == pytest.approx(expected)


def test_hoar_frost_needs_no_rain_and_snow_no_frost(limits: Limits) -> None:
    hoar = fair(SETTLED + 1, air_temperature=-1.0, dew_point_temperature=-1.5)
    assert last(frost.assess, a_stretch(), hoar, limits) == 3
    # Open-Meteo codes: 66 freezing rain, 71 snow
    for code in (66.0, 71.0):
        assert last(frost.assess, a_stretch(), fair(60, weather_code=code), limits) == 4


def test_cold_air_on_a_road_that_may_be_wet_is_at_least_caution(limits: Limits) -> None:
    weather = fair(60, air_temperature=1.0, precipitation_amount=np.nan)
    assert last(frost.assess, a_stretch(), weather, limits) == 2


@pytest.mark.parametrize(("air", "speed"), [(5.0, 100 / 1.5), (8.0, 80 / 1.5)])
def test_wind_chill_at_riding_speed(limits: Limits, air: float, speed: float) -> None:
    # checks.json: 5 degC at 100 km/h -3.39, 8 degC at 80 km/h 1.56 (as wind at 10 m)
    reading = wind_chill.assess(
        a_stretch(speed_kmh=speed), fair(air_temperature=air), Party(), limits
    )
    assert reading is not None
    expected = -3.39 if air == 5.0 else 1.56
    assert reading.value[0] == pytest.approx(expected, abs=0.005)
    assert (reading.level[0] > 2) == (expected < 0)
    assert "extrapolated" in reading.limit.source


def test_wind_chill_inside_the_chart_is_not_marked(limits: Limits) -> None:
    reading = wind_chill.assess(
        a_stretch(speed_kmh=40.0), fair(air_temperature=0.0), Party(), limits
    )
    assert reading is not None
    assert "extrapolated" not in reading.limit.source


def test_heat_takes_damp_air_into_account(limits: Limits) -> None:
    weather = fair(4, air_temperature=[30, 35, 40, 32], relative_humidity=[30, 20, 15, 80])
    found = levels(heat.assess, a_stretch(), weather, limits)
    # (90 degF, 80 %) feels like 113 degF (NWS chart)
    assert found[:3] == pytest.approx([2.0, 3.0, 4.0], abs=0.15)
    assert found[3] == 4


def test_heat_without_humidity_is_known_only_when_cool_or_hot_anyway(limits: Limits) -> None:
    weather = fair(3, air_temperature=[20.0, 28.0, 36.0], relative_humidity=np.nan)
    found = levels(heat.assess, a_stretch(), weather, limits)
    assert found[0] == 0
    assert np.isnan(found[1])
    assert found[2] > 3


def test_visibility(limits: Limits) -> None:
    # WMO fog 1000 m, thick fog 200 m, Highway Code headlights 100 m
    weather = fair(4, visibility_in_air=[5000.0, 1000.0, 200.0, 100.0])
    assert levels(fog.assess, a_stretch(), weather, limits) == pytest.approx([0.0, 2.0, 3.0, 4.0])
    ridge = a_stretch(exposure=Exposure.EXPOSED)
    assert levels(fog.assess, ridge, weather, limits)[2] == 4


def test_a_code_shows_fog_but_never_its_absence(limits: Limits) -> None:
    weather = fair(3, visibility_in_air=[np.nan, np.nan, 9000.0], weather_code=[45.0, 0.0, 48.0])
    found = levels(fog.assess, a_stretch(), weather, limits)
    assert found[0] == 3
    assert np.isnan(found[1])
    assert found[2] == 2


def test_cloud_base_against_the_summit(limits: Limits) -> None:
    # common practice, no source: under summit + 200 m caution, under the summit avoid
    weather = fair(3, cloud_base_altitude=[1100.0, 800.0, 600.0])
    found = levels(cloud_base.assess, a_stretch(elevation_m=600.0), weather, limits)
    assert found == pytest.approx([0.0, 2.0, 3.0])
    assert cloud_base.assess(a_stretch(climb_m=20.0), weather, Party(), limits) is None


def test_thunder_by_code_or_by_unstable_air(limits: Limits) -> None:
    weather = fair(
        3,
        weather_code=[95.0, 3.0, 3.0],
        atmosphere_convective_available_potential_energy=[0.0, 1250.0, 2500.0],
        precipitation_probability=[0.0, 40.0, 40.0],
    )
    found = levels(thunder.assess, a_stretch(), weather, limits)
    assert found == pytest.approx([3.0, 2.0, 3.0])


def test_thunder_without_cape_is_known_where_rain_is_unlikely(limits: Limits) -> None:
    weather = fair(
        2,
        atmosphere_convective_available_potential_energy=np.nan,
        precipitation_probability=[10.0, 60.0],
    )
    found = levels(thunder.assess, a_stretch(), weather, limits)
    assert found[0] < 2
    assert np.isnan(found[1])


def sun(elevation: float, azimuth: float, **other: object) -> Conditions:
    return fair(sun_elevation=elevation, sun_azimuth=azimuth, **other)


def test_low_sun_ahead_only(limits: Limits) -> None:
    west = a_stretch(headings_deg=(270.0,))
    assert last(low_sun.assess, west, sun(10.0, 280.0), limits) == 2
    assert last(low_sun.assess, west, sun(10.0, 300.0), limits) == 2
    assert last(low_sun.assess, west, sun(10.0, 90.0), limits) == 0
    assert last(low_sun.assess, west, sun(16.0, 270.0), limits) == 0
    assert last(low_sun.assess, west, sun(-3.0, 270.0), limits) == 0
    back = a_stretch(headings_deg=(90.0,))
    assert last(low_sun.assess, back, sun(10.0, 90.0), limits) == 2


def test_low_sun_is_worse_on_a_climb_and_gone_behind_cloud(limits: Limits) -> None:
    climb = a_stretch(headings_deg=(350.0,), steepest_grade_percent=9.0)
    assert last(low_sun.assess, climb, sun(5.0, 0.0), limits) == 3
    assert last(low_sun.assess, climb, sun(9.0, 0.0), limits) == 2
    assert last(low_sun.assess, climb, sun(5.0, 0.0, cloud_area_fraction=90.0), limits) == 0
    hidden = sun(5.0, 0.0, cloud_area_fraction=np.nan)
    assert np.isnan(last(low_sun.assess, climb, hidden, limits))
    high = sun(40.0, 0.0, cloud_area_fraction=np.nan)
    assert last(low_sun.assess, climb, high, limits) == 0


def test_a_road_without_headings_meets_the_sun_somewhere(limits: Limits) -> None:
    assert last(low_sun.assess, a_stretch(headings_deg=()), sun(8.0, 123.0), limits) == 2


def test_darkness(limits: Limits) -> None:
    # common practice, no source: 60 min caution, 30 min avoid, dark no-go where exposed
    weather = fair(4, minutes_to_dusk=[90.0, 60.0, 30.0, -1.0])
    assert levels(darkness.assess, a_stretch(), weather, limits) == pytest.approx([0, 2, 3, 3])
    for where in (a_stretch(exposure=Exposure.EXPOSED), a_stretch(surface="grass")):
        assert levels(darkness.assess, where, weather, limits)[3] == 4


def test_legs_that_end_half_an_hour_before_sunset(limits: Limits) -> None:
    # common practice, no source
    leg = a_stretch(last_light="sunset-30")
    weather = fair(3, minutes_to_sunset=[120.0, 60.0, 29.0], minutes_to_dusk=[150.0, 90.0, 59.0])
    assert levels(darkness.assess, leg, weather, limits) == pytest.approx([0, 2, 4])


def test_the_last_half_hour_of_sun_is_one_of_the_evening(limits: Limits) -> None:
    # common practice, no source: in the morning there is light from civil dawn on, as for all legs
    leg = a_stretch(last_light="sunset-30")
    # an hour before dawn, in the dawn, at sunrise; in the last sun, after sunset, in the night
    weather = fair(6, minutes_to_sunset=[-90.0, -21.0, 700.0, 20.0, -10.0, -300.0],
                   minutes_to_dusk=[-60.0, 760.0, 730.0, 50.0, 20.0, -270.0],
                   sun_azimuth=[80.0, 85.0, 90.0, 270.0, 272.0, 310.0])  # fmt: skip
    assert levels(darkness.assess, leg, weather, limits) == pytest.approx([4, 0, 0, 4, 4, 4])
    # a day on which the sun never rises is no day for such a leg
    no_sun = fair(2, minutes_to_sunset=-np.inf, minutes_to_dusk=[150.0, 60.0],
                  sun_azimuth=[170.0, 190.0])  # fmt: skip
    assert levels(darkness.assess, leg, no_sun, limits) == pytest.approx([4, 4])


def test_the_morning_of_a_real_place_is_free_from_civil_dawn_on(limits: Limits) -> None:
    # INVENTED leg at a real place; dawn and dusk by weather.daylight, which tests/published checks
    here, day = Point(-46.36, 168.02, 0.0), date(2027, 4, 2)
    light = daylight(here, day, ZoneInfo("Pacific/Auckland"))
    assert light.civil_dawn
    assert light.sunrise
    assert light.sunset
    half_an_hour = timedelta(minutes=30)
    moments = {
        light.civil_dawn - timedelta(minutes=2): 4,
        light.civil_dawn: 0,
        light.sunrise - timedelta(minutes=1): 0,
        light.sunrise + timedelta(minutes=1): 0,
        light.sunset - half_an_hour + timedelta(minutes=1): 4,
        light.sunset + timedelta(minutes=1): 4,
    }
    times = np.array([moment.replace(tzinfo=None) for moment in moments], "datetime64[s]")
    weather = conditions_at(here, times, {})
    leg = a_stretch(last_light="sunset-30")
    assert levels(darkness.assess, leg, weather, limits) == pytest.approx(list(moments.values()))


def test_animals_at_dusk(limits: Limits) -> None:
    # Deer collisions peak one hour after sunset (Am. J. Prev. Med. 21, 2001).
    forest = a_stretch(animals=True)
    weather = fair(4, minutes_to_sunset=[90.0, 30.0, -60.0, 600.0],
                   minutes_to_dusk=[120.0, 60.0, -30.0, -20.0])  # fmt: skip
    assert levels(dusk_animals.assess, forest, weather, limits) == pytest.approx([0, 2, 3, 3])
    assert dusk_animals.assess(a_stretch(), weather, Party(), limits) is None
