"""The parts of an answer in Open-Meteo's form, each checked before it is used.

Whatever is not as agreed is refused with a line for the rider: a guessed hour or unit is a wrong
forecast.
"""

import json
import re
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from replanner.errors import ForecastError
from replanner.geodesy import Point, geodesic
from replanner.units import to_inside
from replanner.weather.hourly import Column

Json = dict[str, Any]

# A grid cell's centre lies within tens of kilometres of the point; further off, it is the answer
# to another question. Assumption.
FURTHEST_CELL_METRES = 150_000.0

_BARE_NAN = re.compile(r":\s*nan\b")


def places_of(body: str, service: str) -> list[Json]:
    """Return the places of an answer: an object alone, or a list of them."""
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


def stamps_of(times: object, place: Json, service: str) -> pd.DatetimeIndex:
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


def require_near(place: Json, point: Point, service: str) -> None:
    """Refuse a place that is not the one asked for."""
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


def require_equal_lengths(hourly: Json, length: int, service: str) -> None:
    """Refuse arrays that do not fit the hours: nobody can tell which hours they mean."""
    for name, values in hourly.items():
        if not isinstance(values, list) or len(values) != length:
            found = len(values) if isinstance(values, list) else "no"
            raise ForecastError(
                f"{name} has {found} values for {length} hours; nothing of the answer is used",
                where=service,
                mend="try again",
            )


def inside_of(
    name: str, values: list[object], unit: object, column: Column, service: str
) -> NDArray[np.float64]:
    """Return a variable's values in the unit of a column; null becomes NaN."""
    try:
        numbers = np.array([np.nan if value is None else value for value in values], np.float64)
    except (TypeError, ValueError):
        raise ForecastError(f"{name} holds something that is no number", where=service) from None
    if not isinstance(unit, str):
        raise ForecastError(f"{name} comes without a unit", where=service)
    try:
        return to_inside(numbers, unit, column.unit)
    except ValueError as error:
        raise ForecastError(f"{name}: {error}", where=service) from None
