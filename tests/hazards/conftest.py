"""An invented stretch of road under invented weather, and the shipped limits."""

from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from numpy.typing import NDArray

from replanner.files.limits_toml import read_limits
from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Stretch
from replanner.trip.model import LegKind, Road, Way

Floats = NDArray[np.float64]

# Fair weather: every hazard is clear of it. INVENTED.
FAIR = {
    "air_temperature": 18.0,
    "dew_point_temperature": 8.0,
    "relative_humidity": 52.0,
    "wind_speed": 2.0,
    "wind_from_direction": 200.0,
    "wind_speed_of_gust": 4.0,
    "precipitation_amount": 0.0,
    "precipitation_probability": 0.0,
    "visibility_in_air": 30000.0,
    "cloud_area_fraction": 20.0,
    "weather_code": 1.0,
    "atmosphere_convective_available_potential_energy": 0.0,
    "surface_downwelling_shortwave_flux_in_air": 400.0,
    "cloud_base_altitude": 3000.0,
}


def fair(hours: int = 1, **other: object) -> Conditions:
    """Return fair conditions from 2027-04-02 00:00 UTC on, some columns or lights otherwise.

    The light is that of noon: the sun high in the north, hours to dusk.
    """
    columns = {name: np.full(hours, value) for name, value in FAIR.items()}
    light = {
        "sun_elevation": np.full(hours, 40.0),
        "sun_azimuth": np.full(hours, 0.0),
        "minutes_to_dusk": np.full(hours, 400.0),
        "minutes_to_sunset": np.full(hours, 370.0),
    }
    for name, value in other.items():
        array = np.asarray(value, np.float64)
        if array.ndim == 0:
            array = np.full(hours, float(array))
        (light if name in light else columns)[name] = array
    start = np.datetime64("2027-04-02T00:00:00", "s")
    time = start + np.arange(hours).astype("timedelta64[h]")
    return Conditions(time=time, columns=columns, **light)


def a_stretch(**other: object) -> Stretch:
    """Return a sealed, open stretch heading east, with some things otherwise; road keys too."""
    own = {"headings_deg", "elevation_m"}  # the stretch has these itself
    on_the_road = [name for name in other if name in Road.__slots__ and name not in own]
    road_keys = {name: other.pop(name) for name in on_the_road}
    given = {
        "name": "ridge",
        "leg_kind": LegKind.PASS,
        "way": Way.FORWARD,
        "road": replace(Road(), **road_keys),
        "headings_deg": (90.0,),
        "elevation_m": 600.0,
        "speed_kmh": 60.0,
        "duration_minutes": 20.0,
        "animals": False,
        "last_light": "civil dusk",
        "latitude": -46.0,
        "longitude": 168.0,
        "zone": ZoneInfo("Pacific/Auckland"),
        "climb_m": 500.0,
    }
    return Stretch(**(given | other))


@pytest.fixture(scope="session")
def limits() -> Limits:
    return read_limits(Path(__file__).parents[2] / "config" / "limits.toml")
