"""An invented tour and its hourly tables for the benchmark of the leg tables.

Twenty legs between places of one coast: passes with an exposed top, gravel, tracks, coast lanes, a
crossing, a stop, spurs. Some have a stand-in, halts with needs, animals, loose chippings, or may be
ridden one way only. The weather of each point is a run of hours that drifts, with members that
drift away from it, showers, fog, and gaps in which nothing is known. Everything INVENTED.
"""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from replanner.geodesy import Point
from replanner.trip.model import (
    Day,
    Exposure,
    Ferry,
    Halt,
    HaltKind,
    Leg,
    LegKind,
    LooseChippings,
    Place,
    Rider,
    Road,
    Section,
    StandIn,
    Tour,
    Tyres,
)
from replanner.trip.stretches import sample_points
from replanner.weather.hourly import PointHours

Floats = NDArray[np.float64]
Booleans = NDArray[np.bool_]
Instants = NDArray[np.datetime64]

ZONE = ZoneInfo("Pacific/Auckland")
FIRST_DAY = date(2027, 4, 2)
LEGS, DAYS, MEMBERS = 20, 5, 50
SLOT_MINUTES, FIRST_HOUR, LAST_HOUR = 5, 6, 22
# local midnight of the first day, in daylight saving
_MIDNIGHT = np.datetime64("2027-04-01T11:00:00", "s")
_BEFORE, _AFTER = 7 * 24, (DAYS + 1) * 24

_KINDS = (
    "pass", "coast", "valley", "gravel", "track", "pass", "coast", "spur", "ferry", "stop",
)  # fmt: skip

_TOP = Road(exposure=Exposure.EXPOSED, elevation_m=780.0, steepest_grade_percent=9.0, width_m=4.0)
_HEAD = Road(exposure=Exposure.OPEN, width_m=3.5, drop=True)
_BRIDGE = Road(exposure=Exposure.EXPOSED)
_GRAVEL = Road(surface="gravel", exposure=Exposure.OPEN)
_WORKS = Road(
    chippings=LooseChippings(laid=FIRST_DAY - timedelta(days=6), assumed_until=date(2027, 4, 9))
)
_CLAY = Road(surface="clay", trees=True, width_m=2.5, steepest_grade_percent=12.0)


def tour_of(seed: int, legs: int = LEGS) -> Tour:
    """Make up a tour whose only day lists all legs."""
    rng = np.random.default_rng(seed)
    places = {
        f"p{n}": Place(
            id=f"p{n}",
            name=f"Place {n}",
            point=Point(
                -46.0 + float(rng.uniform(-0.5, 0.5)),
                168.5 + float(rng.uniform(-0.7, 0.7)),
                float(rng.uniform(2.0, 90.0)),
            ),
        )
        for n in range(legs + 1)
    }
    made = [_leg(rng, n, _KINDS[n % len(_KINDS)]) for n in range(legs)]
    # every other pass has the valley road two legs on for a stand-in
    ridden = {
        leg.id: replace(leg, stand_in=StandIn(leg=made[n + 2].id))
        if n % 10 == 0 and n + 2 < legs
        else leg
        for n, leg in enumerate(made)
    }
    return Tour(
        name="Invented",
        zone=ZONE,
        places=places,
        legs=ridden,
        riders=(Rider(id="r1"), Rider(id="r2", tyres=Tyres.ROAD)),
        days=(Day(date=FIRST_DAY, start="p0", end="p0", own_order=tuple(ridden)),),
        invented=True,
    )


def _leg(rng: np.random.Generator, number: int, kind: str) -> Leg:
    """Make up a leg; each kind has a road of its own."""
    minutes = float(rng.uniform(25.0, 110.0))
    start, end = f"p{number}", f"p{number + 1}"
    plain = Leg(
        id=f"l{number}",
        name=f"Leg {number}",
        kind=LegKind.TRANSIT,
        start=start,
        end=end,
        riding_minutes=minutes,
        distance_km=minutes * float(rng.uniform(0.8, 1.2)),
        phone=number % 3 != 0,
    )
    cafe = Halt(place=end, fraction=0.3, minutes=25.0, kind=HaltKind.CAFE)
    photo = Halt(
        place=end, fraction=0.55, minutes=10.0, kind=HaltKind.PHOTO, optional=True,
        light_from_deg=(200.0, 340.0),
    )  # fmt: skip
    drone = Halt(
        place=end, fraction=0.55, minutes=25.0, kind=HaltKind.DRONE, optional=True, gust_limit=10.0
    )
    there_and_back: dict[str, Any] = {"kind": LegKind.SPUR, "end": start, "via": (end,)}
    changes: dict[str, dict[str, Any]] = {
        "pass": {
            "kind": LegKind.PASS,
            "sections": (Section(name="Top", from_fraction=0.4, to_fraction=0.7, road=_TOP),),
            "halts": (drone,),
            "last_light": "sunset-30",
        },
        "coast": {
            "kind": LegKind.COAST_LANE,
            "sections": (
                Section(name="Head", from_fraction=0.2, to_fraction=0.45, road=_HEAD),
                Section(name="Bridge", from_fraction=0.8, to_fraction=0.85, road=_BRIDGE),
            ),
            "halts": (photo, cafe),
        },
        "valley": {},
        "gravel": {
            "road": Road(trees=True),
            "animals": True,
            "sections": (
                Section(name="Gravel", from_fraction=0.1, to_fraction=0.5, road=_GRAVEL),
                Section(name="Works", from_fraction=0.5, to_fraction=0.6, road=_WORKS),
            ),
        },
        "track": {
            **there_and_back,
            "animals": True,
            "sections": (Section(name="Clay", from_fraction=0.3, to_fraction=0.7, road=_CLAY),),
            "halts": (photo,),
        },
        "spur": {**there_and_back, "halts": (cafe,)},
        "ferry": {
            "kind": LegKind.CROSSING,
            "riding_minutes": 40.0,
            "road": Road(surface="water", exposure=Exposure.OPEN),
            "ferry": Ferry(sailings=(), boarding_minutes=20.0, gust_limit=20.0),
        },
        "stop": {
            "kind": LegKind.STOP,
            "end": start,
            "riding_minutes": 30.0,
            "distance_km": 0.0,
            "one_way": True,
        },
    }
    return replace(plain, **changes[kind])


def starts_of(days: int = DAYS) -> Instants:
    """Return every slot from the first to the last hour of each day, UTC, shape (S,)."""
    day = np.arange(60 * FIRST_HOUR, 60 * LAST_HOUR + 1, SLOT_MINUTES)
    minutes = (24 * 60 * np.arange(days)[:, None] + day).ravel()
    return _MIDNIGHT + minutes.astype("timedelta64[m]").astype("timedelta64[s]")


def hours_of(tour: Tour, seed: int, members: int = MEMBERS) -> dict[str, PointHours]:
    """Make up the tables of every point of a tour, columns of shape (members, hours)."""
    rng = np.random.default_rng(seed)
    time = _MIDNIGHT + np.arange(-_BEFORE, _AFTER).astype("timedelta64[h]")
    shape = (members, time.size)
    # one front passes all points, each of which has its own way with it
    front = _drift(rng, (1, time.size), 40)
    return {
        point: PointHours(time, _columns(rng, shape, front))
        for point in sample_points(tour, tour.days)
    }


def _columns(rng: np.random.Generator, shape: tuple[int, int], front: Floats) -> dict[str, Floats]:
    bad = 0.6 * front + 0.3 * _drift(rng, shape, 12) + 0.2 * rng.standard_normal(shape)
    hour = np.arange(shape[1]) % 24
    warm = np.cos((hour - 14) / 24.0 * 2.0 * np.pi)
    air = 12.0 + 5.0 * warm - 4.0 * bad + 0.3 * rng.standard_normal(shape)
    mean = np.maximum(5.0 + 5.0 * bad, 0.0)
    rain = np.maximum(bad - 0.9, 0.0) * 4.0 * rng.uniform(size=shape)
    fog = (bad < -1.2) & (hour < 9)
    columns = {
        "air_temperature": air,
        "dew_point_temperature": air - np.maximum(6.0 - 4.0 * bad, 0.2),
        "relative_humidity": np.clip(70.0 + 20.0 * bad, 5.0, 100.0),
        "wind_speed": mean,
        "wind_from_direction": (230.0 + 60.0 * _drift(rng, shape, 20)) % 360.0,
        "wind_speed_of_gust": mean * (1.4 + 0.4 * rng.uniform(size=shape)),
        "precipitation_amount": np.round(rain, 1),
        "precipitation_probability": np.clip(30.0 + 40.0 * bad, 0.0, 100.0),
        "visibility_in_air": np.where(fog, 300.0, 25000.0 - 5000.0 * np.maximum(bad, 0.0)),
        "cloud_area_fraction": np.clip(50.0 + 40.0 * bad, 0.0, 100.0),
        "weather_code": np.where(fog, 45.0, np.where(bad > 2.0, 95.0, 2.0)),
        "atmosphere_convective_available_potential_energy": np.maximum(600.0 * bad, 0.0),
        "surface_downwelling_shortwave_flux_in_air": np.maximum(600.0 * warm - 150.0 * bad, 0.0),
    }
    return {name: np.where(_gaps(rng, shape), np.nan, values) for name, values in columns.items()}


def _drift(rng: np.random.Generator, shape: tuple[int, int], hours: int) -> Floats:
    """Return a run of about unit spread that turns within some hours, shape (members, hours)."""
    noise = rng.standard_normal((shape[0], shape[1] + hours))
    running = np.cumsum(noise, axis=1)
    return np.asarray((running[:, hours:] - running[:, :-hours]) / np.sqrt(hours))


def _gaps(rng: np.random.Generator, shape: tuple[int, int]) -> Booleans:
    """Return where nothing is known: three hours on end, now and then."""
    begins = rng.uniform(size=shape) < 0.001
    gaps = begins.copy()
    for later in (1, 2):
        gaps[:, later:] |= begins[:, :-later]
    return gaps
