"""A forecast service that answers with INVENTED weather: fair, but for what a test says of it."""

import json
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from urllib.parse import parse_qs, urlsplit

from tests.loopback import Loopback, Reply

# Column: its unit and a fair day's figure, all invented.
_FAIR: Mapping[str, tuple[str, float]] = {
    "temperature_2m": ("°C", 16.0),
    "dew_point_2m": ("°C", 8.0),
    "relative_humidity_2m": ("%", 60.0),
    "precipitation": ("mm", 0.0),
    "precipitation_probability": ("%", 5.0),
    "wind_speed_10m": ("m/s", 3.0),
    "wind_direction_10m": ("°", 270.0),
    "wind_gusts_10m": ("m/s", 5.0),
    "visibility": ("m", 24000.0),
    "cloud_cover": ("%", 60.0),
    "weather_code": ("wmo code", 2.0),
    "cape": ("J/kg", 0.0),
    "shortwave_radiation": ("W/m²", 200.0),
}

Otherwise = Callable[[float, datetime], Mapping[str, float | None]]


def _nothing(_: float, __: datetime) -> Mapping[str, float | None]:
    return {}


class FairWeather(Loopback):
    """Gives fair weather everywhere.

    Parameters
    ----------
    otherwise : callable
        For a latitude and an hour as stamped (UTC), the columns that are not fair.
    """

    def __init__(self, otherwise: Otherwise = _nothing) -> None:
        super().__init__()
        self._otherwise = otherwise

    def reply_to(self, path: str) -> Reply:
        query = parse_qs(urlsplit(path).query)
        asked = zip(
            *(
                map(float, query[key][0].split(","))
                for key in ("latitude", "longitude", "elevation")
            ),
            strict=True,
        )
        first = datetime.fromisoformat(query["start_date"][0]).replace(tzinfo=UTC)
        last = datetime.fromisoformat(query["end_date"][0]).replace(tzinfo=UTC)
        hours = [first + timedelta(hours=n) for n in range(24 * ((last - first).days + 1))]
        answers = []
        for latitude, longitude, elevation in asked:
            rows = [self._otherwise(latitude, hour) for hour in hours]
            columns = {
                name: [row.get(name, fair) for row in rows] for name, (_, fair) in _FAIR.items()
            }
            answers.append(
                {
                    "latitude": latitude,
                    "longitude": longitude,
                    "elevation": elevation,
                    "utc_offset_seconds": 0,
                    "timezone": "GMT",
                    "hourly_units": {"time": "unixtime"} | {n: u for n, (u, _) in _FAIR.items()},
                    "hourly": {"time": [int(hour.timestamp()) for hour in hours]} | columns,
                }
            )
        return Reply(json.dumps(answers if len(answers) > 1 else answers[0]))
