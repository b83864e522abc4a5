"""The invented week of the demo: rows of a TOML file made into hourly weather anywhere.

Everything here is made up; the figures only have to be plausible to a rider, and to hang
together: temperature falls with height, dew point follows the cloud base, fog hides the sun.
"""

import tomllib
from dataclasses import dataclass
from datetime import date, time
from pathlib import Path
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from replanner.clock import local_instant
from replanner.errors import InputError
from replanner.geodesy import Point, geodesic
from replanner.weather.daylight import sun_position

Floats = NDArray[np.float64]

LAPSE_PER_METRE = 0.0065  # ICAO standard atmosphere [K/m]
METRES_OF_BASE_PER_KELVIN = 125.0  # rule of thumb for spread and cloud base, from memory
FOG_BELOW_METRES = 1000.0  # WMO fog
MODERATE_RAIN, HEAVY_RAIN = 2.5, 7.6  # AMS Glossary of Meteorology, "Rain" [mm/h]
MAINLY_CLEAR, PARTLY_CLOUDY, OVERCAST = 15.0, 45.0, 85.0  # assumption [%]
CLEAR_SKY_WATTS = 1000.0  # sun overhead, rough

COLUMNS = (
    "hour",
    "wind_ms",
    "gust_ms",
    "from_deg",
    "rain_mm_per_hour",
    "chance_percent",
    "temperature_c",
    "cloud_base_m",
    "visibility_km",
)


class ZoneRows(NamedTuple):
    """One zone: where it lies, and its rows by instant [s since 1970], shape (R,) each."""

    elevation_m: float
    centres: tuple[Point, ...]
    seconds: Floats
    rows: dict[str, Floats]


@dataclass(frozen=True)
class InventedWeather:
    """The weather of all zones."""

    zones: tuple[ZoneRows, ...]

    @property
    def first_day(self) -> date:
        """First UTC day that has weather."""
        return _utc_day(min(zone.seconds[0] for zone in self.zones))

    @property
    def last_day(self) -> date:
        """Last UTC day that has weather."""
        return _utc_day(max(zone.seconds[-1] for zone in self.zones))

    def zone_at(self, point: Point) -> ZoneRows:
        """Return the zone with the nearest centre."""
        return min(
            self.zones,
            key=lambda zone: min(geodesic(point, centre).distance for centre in zone.centres),
        )

    def hourly(self, point: Point, stamps: Floats) -> dict[str, Floats]:
        """Return all variables at hourly stamps, as Open-Meteo names and stamps them, in m/s.

        Parameters
        ----------
        point : Point
        stamps : ndarray, shape (N,)
            Whole hours. [s since 1970 UTC]

        Returns
        -------
        dict of ndarray, shape (N,)
            NaN outside the invented days. Amounts, chances, gusts and radiation are those of the
            hour before the stamp.
        """
        zone = self.zone_at(point)
        before = stamps - 3600.0
        temperature = zone_line(zone, "temperature_c", stamps) - LAPSE_PER_METRE * (
            point.elevation - zone.elevation_m
        )
        base = zone_line(zone, "cloud_base_m", stamps)
        spread = np.maximum(0.0, (base - point.elevation) / METRES_OF_BASE_PER_KELVIN)
        visibility = np.where(
            base < point.elevation, 100.0, 1000.0 * zone_line(zone, "visibility_km", stamps)
        )
        cloud = _cloud_percent(zone_step(zone, "chance_percent", stamps), visibility)
        gust = np.maximum(zone_line(zone, "gust_ms", before), zone_line(zone, "gust_ms", stamps))
        rain = zone_step(zone, "rain_mm_per_hour", before)
        return {
            "temperature_2m": temperature,
            "dew_point_2m": temperature - spread,
            "relative_humidity_2m": _humidity(temperature, temperature - spread),
            "precipitation": rain,
            "precipitation_probability": zone_step(zone, "chance_percent", before),
            "wind_speed_10m": zone_line(zone, "wind_ms", stamps),
            "wind_direction_10m": zone_direction(zone, stamps),
            "wind_gusts_10m": gust,
            "visibility": visibility,
            "cloud_cover": cloud,
            "weather_code": _weather_code(
                zone_step(zone, "rain_mm_per_hour", stamps), cloud, visibility
            ),
            "cape": np.where(np.isnan(temperature), np.nan, 0.0),
            "shortwave_radiation": _shortwave(point, stamps - 1800.0, cloud),
        }


def load_invented(path: Path) -> InventedWeather:
    """Read the week's file.

    Raises
    ------
    InputError
        If it cannot be read or a part of it is missing; names the part.
    """
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
        zone = ZoneInfo(content["time_zone"])
        if tuple(content["columns"]) != COLUMNS:
            raise InputError(f"columns must be {', '.join(COLUMNS)}", where=str(path))
        zones = tuple(_zone_rows(part, zone) for part in content["zones"].values())
    except (OSError, ValueError, TypeError, LookupError) as error:
        raise InputError(
            f"the invented week cannot be read ({type(error).__name__}: {error})", where=str(path)
        ) from error
    return InventedWeather(zones)


def _zone_rows(part: dict[str, Any], zone: ZoneInfo) -> ZoneRows:
    table: list[list[float]] = []
    for day, rows in sorted(part["days"].items()):
        for row in rows:
            local = local_instant(date.fromisoformat(day), time(int(row[0])), zone)
            table.append([local.timestamp(), *row[1:]])
    array = np.array(table, dtype=np.float64)
    if array.shape[1:] != (len(COLUMNS),) or np.any(np.diff(array[:, 0]) <= 0):
        raise ValueError("rows must be as long as columns and in order of time")
    elevation = float(part["elevation_m"])
    return ZoneRows(
        elevation,
        tuple(Point(float(lat), float(lon), elevation) for lat, lon in part["centres"]),
        array[:, 0],
        {name: array[:, at] for at, name in enumerate(COLUMNS) if at > 0},
    )


def zone_line(zone: ZoneRows, name: str, seconds: Floats) -> Floats:
    """Return a figure that runs straight from row to row; NaN outside the rows."""
    return np.asarray(np.interp(seconds, zone.seconds, zone.rows[name], left=np.nan, right=np.nan))


def zone_step(zone: ZoneRows, name: str, seconds: Floats) -> Floats:
    """Return a figure that holds from its row to the next; NaN outside the rows."""
    at = np.searchsorted(zone.seconds, seconds, side="right") - 1
    inside = (seconds >= zone.seconds[0]) & (seconds <= zone.seconds[-1])
    return np.where(inside, zone.rows[name][np.maximum(at, 0)], np.nan)


def zone_direction(zone: ZoneRows, seconds: Floats) -> Floats:
    """Return the wind direction, turned the short way from row to row."""
    turned = np.unwrap(zone.rows["from_deg"], period=360.0)
    return np.asarray(np.interp(seconds, zone.seconds, turned, left=np.nan, right=np.nan) % 360.0)


def _utc_day(seconds: float) -> date:
    return date.fromisoformat(str(np.datetime64(int(seconds), "s").astype("datetime64[D]")))


def _cloud_percent(chance: Floats, visibility: Floats) -> Floats:
    """Return a cloud cover that goes with the chance of rain; fog covers all."""
    return np.where(visibility < FOG_BELOW_METRES, 100.0, np.minimum(100.0, 10.0 + 1.5 * chance))


def _humidity(temperature: Floats, dew_point: Floats) -> Floats:
    """Return relative humidity by the Magnus formula (coefficients from memory), in percent."""

    def vapour(celsius: Floats) -> Floats:
        return np.asarray(np.exp(17.625 * celsius / (celsius + 243.04)))

    return np.asarray(100.0 * vapour(dew_point) / vapour(temperature))


def rain_code(rain: Floats) -> Floats:
    """Return the code of WMO table 4677 for rain of those mm/h, by AMS classes; NaN if none."""
    return np.select(
        [rain > HEAVY_RAIN, rain > MODERATE_RAIN, rain > 0.0], [65.0, 63.0, 61.0], np.nan
    )


def _weather_code(rain: Floats, cloud: Floats, visibility: Floats) -> Floats:
    """Return the code of WMO table 4677: rain, else fog, else cloud."""
    sky = np.select(
        [cloud > OVERCAST, cloud > PARTLY_CLOUDY, cloud > MAINLY_CLEAR], [3.0, 2.0, 1.0], 0.0
    )
    dry = np.where(visibility < FOG_BELOW_METRES, 45.0, sky)
    raining = rain_code(rain)
    return np.where(np.isnan(rain), np.nan, np.where(np.isnan(raining), dry, raining))


def _shortwave(point: Point, seconds: Floats, cloud: Floats) -> Floats:
    """Return a rough global radiation of the hour around an instant, in W/m2."""
    elevation = sun_position(point, seconds.astype("datetime64[s]")).elevation
    clear = CLEAR_SKY_WATTS * np.maximum(0.0, np.sin(np.radians(elevation)))
    return np.asarray(clear * (1.0 - 0.75 * (cloud / 100.0) ** 3))
