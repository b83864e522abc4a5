"""How an answer in Open-Meteo's form becomes the hourly table: pure, no network.

Amounts, probabilities, gusts and radiation are stamped at the *end* of the hour they cover and
go back by one hour; everything else speaks of the instant it is stamped with (Open-Meteo,
Weather Forecast API documentation, table of hourly variables).
"""

from collections import Counter
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from replanner.clock import require_aware
from replanner.errors import ForecastError
from replanner.geodesy import Point
from replanner.sources.open_meteo_parts import (
    Json,
    inside_of,
    places_of,
    require_equal_lengths,
    require_near,
    stamps_of,
)
from replanner.weather.hourly import COLUMNS, Covers, PointId, Window

# variable asked for -> column
VARIABLES: Mapping[str, str] = {
    "temperature_2m": "air_temperature",
    "dew_point_2m": "dew_point_temperature",
    "relative_humidity_2m": "relative_humidity",
    "precipitation": "precipitation_amount",
    "precipitation_probability": "precipitation_probability",
    "wind_speed_10m": "wind_speed",
    "wind_direction_10m": "wind_from_direction",
    "wind_gusts_10m": "wind_speed_of_gust",
    "visibility": "visibility_in_air",
    "cloud_cover": "cloud_area_fraction",
    "weather_code": "weather_code",
    "cape": "atmosphere_convective_available_potential_energy",
    "shortwave_radiation": "surface_downwelling_shortwave_flux_in_air",
}

# names of the same variables before 2023, still seen
OLDER_NAMES: Mapping[str, str] = {
    "dew_point_2m": "dewpoint_2m",
    "relative_humidity_2m": "relativehumidity_2m",
    "wind_speed_10m": "windspeed_10m",
    "wind_direction_10m": "winddirection_10m",
    "wind_gusts_10m": "windgusts_10m",
    "cloud_cover": "cloudcover",
    "weather_code": "weathercode",
}


class ReadAnswer(NamedTuple):
    """The tables of an answer, and what was odd in it."""

    tables: Mapping[PointId, pd.DataFrame]
    remarks: tuple[str, ...]


def read_answer(
    body: str, points: Mapping[PointId, Point], window: Window, *, service: str = "Open-Meteo"
) -> ReadAnswer:
    """Read an answer into one table a point.

    Parameters
    ----------
    body : str
        JSON: an object, or a list of them where several points were asked.
    points : mapping of id to Point
        In the order asked.
    window : Window
        The hours wanted, UTC-aware; hours the answer lacks are NaN.
    service : str
        Who answered, for the rider.

    Raises
    ------
    ForecastError
        If the answer is not sound: not JSON, broken off, an error, not covered, arrays of unequal
        length, units unknown, other places than asked.
    ValueError
        If the window carries no zone or ends before it begins.
    """
    places = places_of(body, service)
    if len(places) != len(points):
        raise ForecastError(
            f"it answered for {len(places)} places, not for the {len(points)} asked",
            where=service,
            mend="try again",
        )
    index = _hours(window)
    counts: Counter[str] = Counter()
    rows = _RowsOfHours(index, service)
    tables = {
        point_id: _table(place, point, rows, counts, service)
        for place, (point_id, point) in zip(places, points.items(), strict=True)
    }
    if not any(table.notna().to_numpy().any() for table in tables.values()):
        raise ForecastError(
            "it has no hourly values for these places and hours",
            where=service,
            mend="check coordinates and dates, or choose another service",
        )
    return ReadAnswer(
        tables, tuple(f"{service}: {remark}" for remark in _told(counts, len(points)))
    )


_UNCOVERED = "no hourly values"


def _told(counts: Counter[str], points: int) -> list[str]:
    return [f"{remark} at {count} of {points} points" for remark, count in sorted(counts.items())]


def _hours(window: Window) -> pd.DatetimeIndex:
    first = require_aware("window.first", window.first)
    last = require_aware("window.last", window.last)
    if last < first:
        raise ValueError(f"window.last {last} is before window.first {first}")
    return pd.date_range(
        pd.Timestamp(first).floor("h"), pd.Timestamp(last).floor("h"), freq="h", name="valid_time"
    )


class _Rows(NamedTuple):
    """For values that cover an instant and those that cover an hour: their rows, -1 outside."""

    stamps: int
    of: Mapping[Covers, NDArray[np.intp]]


class _RowsOfHours:
    """Finds the rows of the stamps of a place; places answered together mostly share them."""

    def __init__(self, index: pd.DatetimeIndex, service: str) -> None:
        self.index = index
        self._service = service
        self._seen: tuple[object, object, _Rows] | None = None

    def of(self, times: object, place: Json) -> _Rows:
        offset = place.get("utc_offset_seconds")
        if self._seen is None or self._seen[:2] != (times, offset):
            stamps = stamps_of(times, place, self._service)
            rows = {each: self.index.get_indexer(_starts(stamps, each)) for each in Covers}
            self._seen = times, offset, _Rows(len(stamps), rows)
        return self._seen[2]


def _table(
    place: Json, point: Point, rows: _RowsOfHours, counts: Counter[str], service: str
) -> pd.DataFrame:
    index = rows.index
    hourly = place.get("hourly")
    if not isinstance(hourly, dict) or not hourly.get("time"):
        counts[_UNCOVERED] += 1
        return pd.DataFrame(np.nan, index=index, columns=list(COLUMNS))
    require_near(place, point, service)
    found = rows.of(hourly["time"], place)
    require_equal_lengths(hourly, found.stamps, service)
    units = place.get("hourly_units")
    units = units if isinstance(units, dict) else {}
    columns = dict.fromkeys(COLUMNS, np.full(len(index), np.nan))
    for variable, column in VARIABLES.items():
        name = variable if variable in hourly else OLDER_NAMES.get(variable, variable)
        values = np.full(found.stamps, np.nan)
        if name in hourly:
            values = inside_of(name, hourly[name], units.get(name), COLUMNS[column], service)
        if np.isnan(values).all():
            counts[f"no {variable}"] += 1
            continue
        odd = (values < COLUMNS[column].lowest) | (values > COLUMNS[column].highest)
        if odd.any():
            counts[f"impossible {variable} dropped"] += 1
            values = np.where(odd, np.nan, values)
        columns[column] = _placed(values, found.of[COLUMNS[column].covers], len(index))
    columns["wind_speed_of_gust"] = _gust(columns["wind_speed_of_gust"], columns["wind_speed"])
    return pd.DataFrame(columns, index=index)


def _placed(
    values: NDArray[np.float64], rows: NDArray[np.intp], length: int
) -> NDArray[np.float64]:
    """Return values put at their rows; rows of -1 lie outside, rows without a value are NaN."""
    column = np.full(length, np.nan)
    column[rows[rows >= 0]] = values[rows >= 0]
    return column


def _gust(gust: NDArray[np.float64], wind: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the larger of gust and mean wind; a missing gust stays missing."""
    return np.where(np.isnan(gust), np.nan, np.fmax(gust, wind))


def _starts(stamps: pd.DatetimeIndex, covers: Covers) -> pd.DatetimeIndex:
    return stamps - pd.Timedelta(hours=1) if covers is Covers.HOUR_FROM_INDEX else stamps
