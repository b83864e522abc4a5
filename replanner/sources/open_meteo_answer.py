"""How an answer in Open-Meteo's form becomes the hourly table: pure, no network.

Amounts, probabilities, gusts and radiation are stamped at the *end* of the hour they cover and
go back by one hour; everything else speaks of the instant it is stamped with (Open-Meteo,
Weather Forecast API documentation, table of hourly variables).
"""

import json
import re
from collections import Counter
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from replanner.clock import require_aware
from replanner.errors import ForecastError
from replanner.geodesy import Point, geodesic
from replanner.units import to_inside
from replanner.weather.hourly import COLUMNS, Covers, PointId, Window, empty_table

Json = dict[str, Any]

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

# A grid cell's centre lies within tens of kilometres of the point; further off, it is the answer
# to another question. Assumption.
FURTHEST_CELL_METRES = 150_000.0

_BARE_NAN = re.compile(r":\s*nan\b")


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
    places = _places(body, service)
    if len(places) != len(points):
        raise ForecastError(
            f"it answered for {len(places)} places, not for the {len(points)} asked",
            where=service,
            mend="try again",
        )
    index = _hours(window)
    counts: Counter[str] = Counter()
    tables = {
        point_id: _table(place, point, index, counts, service)
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


def _places(body: str, service: str) -> list[Json]:
    answer = _parsed(body, service)
    places = answer if isinstance(answer, list) else [answer]
    for place in places:
        if not isinstance(place, dict):
            raise ForecastError("its answer has another form than agreed", where=service)
        if place.get("error"):
            raise ForecastError(
                f"it refused the question: {place.get('reason', 'no reason given')}", where=service
            )
    return places


def _parsed(body: str, service: str) -> Any:
    # Outside a model's cover the service writes a bare nan, which is not JSON (seen 2025).
    text = _BARE_NAN.sub(":null", body)
    try:
        return json.loads(text, parse_constant=_refuse_constant)
    except ValueError:
        pass
    if text.lstrip().startswith("<"):
        raise ForecastError(
            "a web page came instead of data",
            where=service,
            mend="the network may want you to log in first",
        )
    raise ForecastError(
        "its answer is not sound JSON; it may have broken off", where=service, mend="try again"
    )


def _refuse_constant(name: str) -> float:
    raise ValueError(f"{name} is not JSON")


def _table(
    place: Json, point: Point, index: pd.DatetimeIndex, counts: Counter[str], service: str
) -> pd.DataFrame:
    table = empty_table(list(index))
    hourly = place.get("hourly")
    if not isinstance(hourly, dict) or not hourly.get("time"):
        counts[_UNCOVERED] += 1
        return table
    _require_near(place, point, service)
    stamps = _stamps(hourly["time"], place, service)
    _require_equal_lengths(hourly, len(stamps), service)
    units = place.get("hourly_units")
    for variable, column in VARIABLES.items():
        name = variable if variable in hourly else OLDER_NAMES.get(variable, variable)
        if name not in hourly:
            counts[f"no {variable}"] += 1
            continue
        unit = units.get(name) if isinstance(units, dict) else None
        values = _inside(name, hourly[name], unit, column, service)
        known = np.isfinite(values)
        odd = known & ((values < COLUMNS[column].lowest) | (values > COLUMNS[column].highest))
        if odd.any():
            counts[f"impossible {variable} dropped"] += 1
        if not known.any():
            counts[f"no {variable}"] += 1
        series = pd.Series(np.where(odd, np.nan, values), index=_rows(stamps, column))
        table[column] = series.reindex(index).to_numpy()
    table["wind_speed_of_gust"] = _gust(table)
    return table


def _gust(table: pd.DataFrame) -> NDArray[np.float64]:
    """Return the larger of gust and mean wind; a missing gust stays missing."""
    gust = table["wind_speed_of_gust"].to_numpy(np.float64)
    larger = np.fmax(gust, table["wind_speed"].to_numpy(np.float64))
    return np.where(np.isnan(gust), np.nan, larger)


def _rows(stamps: pd.DatetimeIndex, column: str) -> pd.DatetimeIndex:
    ends_at_stamp = COLUMNS[column].covers is Covers.HOUR_FROM_INDEX
    return stamps - pd.Timedelta(hours=1) if ends_at_stamp else stamps


def _stamps(times: object, place: Json, service: str) -> pd.DatetimeIndex:
    """Return the stamps in UTC: Unix seconds as they are, local ones less the answer's one offset.

    The service applies the offset of the moment of asking to every hour, also across a clock
    change, so that one offset takes every stamp back to UTC.
    """
    try:
        if all(isinstance(stamp, str) for stamp in times):  # type: ignore[attr-defined]
            local = pd.DatetimeIndex(pd.to_datetime(times, format="ISO8601")).tz_localize("UTC")  # type: ignore[call-overload]
            stamps = local - pd.Timedelta(seconds=float(place["utc_offset_seconds"]))
        else:
            stamps = pd.DatetimeIndex(pd.to_datetime(times, unit="s", utc=True))  # type: ignore[call-overload]
    except (ValueError, TypeError, KeyError, OverflowError):
        raise ForecastError("its hours cannot be read", where=service) from None
    if not stamps.is_monotonic_increasing or not stamps.is_unique:
        raise ForecastError("its hours are out of order", where=service)
    if (stamps != stamps.floor("h")).any():
        raise ForecastError("its hours are not whole hours of UTC", where=service)
    return stamps


def _require_near(place: Json, point: Point, service: str) -> None:
    try:
        cell = Point(float(place["latitude"]), float(place["longitude"]), 0.0)
    except (KeyError, TypeError, ValueError):
        raise ForecastError("it does not say where its hours hold", where=service) from None
    if geodesic(point, cell).distance > FURTHEST_CELL_METRES:
        raise ForecastError(
            f"it answered for {cell.latitude:.2f}, {cell.longitude:.2f}, far from"
            f" {point.latitude:.2f}, {point.longitude:.2f}",
            where=service,
            mend="try again",
        )


def _require_equal_lengths(hourly: Json, length: int, service: str) -> None:
    for name, values in hourly.items():
        if not isinstance(values, list) or len(values) != length:
            found = len(values) if isinstance(values, list) else "no"
            raise ForecastError(
                f"{name} has {found} values for {length} hours; nothing of the answer is used",
                where=service,
                mend="try again",
            )


def _inside(
    name: str, values: list[object], unit: object, column: str, service: str
) -> NDArray[np.float64]:
    try:
        numbers = np.array([np.nan if value is None else value for value in values], np.float64)
    except (TypeError, ValueError):
        raise ForecastError(f"{name} holds something that is no number", where=service) from None
    if not isinstance(unit, str):
        raise ForecastError(f"{name} comes without a unit", where=service)
    try:
        return to_inside(numbers, unit, COLUMNS[column].unit)
    except ValueError as error:
        raise ForecastError(f"{name}: {error}", where=service) from None
