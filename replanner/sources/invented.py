"""A forecast service of invented weather, on this machine only, for the demo.

It answers over real HTTP in Open-Meteo's form and with its conventions, so that the demo goes
through the same client as a real evening. What it tells is made up, from `demo/week.toml`.
"""

import json
import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from types import TracebackType
from typing import Any, Self
from urllib.parse import parse_qs, urlsplit

import numpy as np

from replanner.geodesy import Point
from replanner.sources.invented_week import InventedWeather, load_invented
from replanner.weather.hourly import Forecast, ForecastSource, PointId, Window

SERVICE = "Invented weather"
CREDIT = "Invented weather, from no service"

_UNITS: Mapping[str, str] = {
    "temperature_2m": "°C",
    "dew_point_2m": "°C",
    "relative_humidity_2m": "%",
    "precipitation": "mm",
    "precipitation_probability": "%",
    "wind_speed_10m": "m/s",
    "wind_direction_10m": "°",
    "wind_gusts_10m": "m/s",
    "visibility": "m",
    "cloud_cover": "%",
    "weather_code": "wmo code",
    "cape": "J/kg",
    "shortwave_radiation": "W/m²",
}
_DIGITS: Mapping[str, int] = {"precipitation": 2, "wind_speed_10m": 2, "wind_gusts_10m": 2}


class InventedWeek:
    """The service, running while the `with` block lasts.

    Examples
    --------
    >>> with InventedWeek(Path("demo/week.toml")) as week:  # doctest: +SKIP
    ...     print(week.base_url)
    http://127.0.0.1:41234
    """

    def __init__(self, path: Path) -> None:
        self._weather = load_invented(path)

    def __enter__(self) -> Self:
        weather = self._weather

        class Handler(_Handler):
            invented = weather

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        self._thread = Thread(
            target=self._server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True
        )
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()

    @property
    def base_url(self) -> str:
        """Scheme, host and port to ask at."""
        return f"http://127.0.0.1:{self._server.server_address[1]}"


class FetchedAt:
    """A source whose answers count as fetched at one moment: in an invented week, that evening."""

    def __init__(self, source: ForecastSource, fetched: datetime) -> None:
        self._source = source
        self._fetched = fetched

    def hourly(self, points: Mapping[PointId, Point], window: Window) -> Forecast:
        """Fetch from the source; see `weather.hourly.ForecastSource`."""
        forecast = self._source.hourly(points, window)
        return replace(forecast, origin=replace(forecast.origin, fetched=self._fetched))


class _Handler(BaseHTTPRequestHandler):
    invented: InventedWeather

    def do_GET(self) -> None:
        parts = urlsplit(self.path)
        if parts.path != "/v1/forecast":
            self._send(HTTPStatus.NOT_FOUND, {"error": True, "reason": "Not Found"})
            return
        query = {name: values[-1] for name, values in parse_qs(parts.query).items()}
        try:
            answer = answer_of(self.invented, query)
        except ValueError as error:
            self._send(HTTPStatus.BAD_REQUEST, {"error": True, "reason": str(error)})
        else:
            self._send(HTTPStatus.OK, answer)

    def log_message(self, *_: object) -> None:
        """Stay silent: the terminal belongs to the rider."""

    def _send(self, status: HTTPStatus, content: Any) -> None:
        body = json.dumps(content, ensure_ascii=False).encode()
        self.send_response(status)
        self.send_header("Content-Type", "application/json; charset=utf-8")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)


def answer_of(weather: InventedWeather, query: Mapping[str, str]) -> Any:
    """Answer a question in Open-Meteo's parameters: an object, or a list for several points.

    Understands latitude, longitude, elevation, hourly, start_date, end_date, timeformat, and only
    timezone=GMT and wind_speed_unit=ms. Hours outside the invented days are null.

    Raises
    ------
    ValueError
        With the reason of the refusal, for an answer of status 400.
    """
    _require(query, "timezone", ("GMT", "UTC"), "GMT")
    _require(query, "wind_speed_unit", ("ms",), "kmh")
    time_format = _require(query, "timeformat", ("unixtime", "iso8601"), "iso8601")
    names = query.get("hourly", "").split(",")
    unknown = [name for name in names if name not in _UNITS]
    if unknown:
        raise ValueError(f"invalid hourly variable {unknown[0]!r}")
    seconds = _hours(weather, query)
    places = [_place(weather, point, names, seconds, time_format) for point in _points(query)]
    return places[0] if len(places) == 1 else places


def _require(query: Mapping[str, str], name: str, allowed: tuple[str, ...], default: str) -> str:
    value = query.get(name, default)
    if value not in allowed:
        raise ValueError(f"this service knows {name} only as {' or '.join(allowed)}")
    return value


def _points(query: Mapping[str, str]) -> list[Point]:
    columns = [
        [float(number) for number in query.get(name, "").split(",")]
        for name in ("latitude", "longitude", "elevation")
    ]
    return [Point(*row) for row in zip(*columns, strict=True)]


def _hours(
    weather: InventedWeather, query: Mapping[str, str]
) -> np.ndarray[Any, np.dtype[np.float64]]:
    first = date.fromisoformat(query.get("start_date", weather.first_day.isoformat()))
    last = date.fromisoformat(query.get("end_date", weather.last_day.isoformat()))
    if last < first or last < weather.first_day or first > weather.last_day:
        raise ValueError(
            f"start_date and end_date must lie within {weather.first_day} to {weather.last_day}"
        )
    begin = datetime.combine(first, datetime.min.time(), UTC).timestamp()
    return begin + 3600.0 * np.arange(24 * ((last - first) / timedelta(days=1) + 1))


def _place(
    weather: InventedWeather,
    point: Point,
    names: list[str],
    seconds: np.ndarray[Any, np.dtype[np.float64]],
    time_format: str,
) -> dict[str, Any]:
    values = weather.hourly(point, seconds)
    stamps: list[Any] = [int(second) for second in seconds]
    if time_format == "iso8601":
        stamps = [datetime.fromtimestamp(stamp, UTC).strftime("%Y-%m-%dT%H:%M") for stamp in stamps]
    return {
        "latitude": point.latitude,
        "longitude": point.longitude,
        "elevation": point.elevation,
        "generationtime_ms": 0.0,
        "utc_offset_seconds": 0,
        "timezone": "GMT",
        "timezone_abbreviation": "GMT",
        "hourly_units": {"time": time_format, **{name: _UNITS[name] for name in names}},
        "hourly": {"time": stamps, **{name: _numbers(values[name], name) for name in names}},
    }


def _numbers(values: np.ndarray[Any, np.dtype[np.float64]], name: str) -> list[float | None]:
    digits = _DIGITS.get(name, 1)
    return [None if math.isnan(value) else round(float(value), digits) for value in values]
