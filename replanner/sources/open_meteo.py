"""Open-Meteo's forecast service: no key for private use, the whole world, all points in one call.

Its answers are read by `open_meteo_answer`; here is only the asking.
"""

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from urllib.parse import urlencode, urlsplit

import pandas as pd
import requests

from replanner.geodesy import Point
from replanner.sources.http import Answer, fetch
from replanner.sources.open_meteo_answer import VARIABLES, ReadAnswer, read_answer
from replanner.weather.hourly import Forecast, Origin, PointId, Window

BASE_URL = "https://api.open-meteo.com"
PATH = "/v1/forecast"
SERVICE = "Open-Meteo"
CREDIT = "Weather data by Open-Meteo.com (CC BY 4.0) https://open-meteo.com/"

# Servers commonly refuse addresses above 8 kB; assumption: stay well below.
LONGEST_ADDRESS = 6000
MOST_POINTS = 300


class OpenMeteo:
    """Asks Open-Meteo, or any service that answers in its form.

    Parameters
    ----------
    session : requests.Session
        From `sources.http.make_session`.
    base_url : str
        Scheme and host, or the whole address where the service answers under another path.
    service, credit : str
        What the rider is told about the origin of the data.
    api_key : str
        For commercial use; goes with another base_url.
    invented : bool
        True where what answers makes its weather up.
    timeout_seconds : float
    """

    def __init__(
        self,
        session: requests.Session,
        *,
        base_url: str = BASE_URL,
        service: str = SERVICE,
        credit: str = CREDIT,
        api_key: str = "",
        invented: bool = False,
        timeout_seconds: float = 10.0,
    ) -> None:
        self._session = session
        self._address = _with_path(base_url)
        self._service = service
        self._credit = credit
        self._api_key = api_key
        self._invented = invented
        self._timeout_seconds = timeout_seconds

    def hourly(self, points: Mapping[PointId, Point], window: Window) -> Forecast:
        """Fetch all points in one go; see `weather.hourly.ForecastSource`.

        Raises
        ------
        ForecastError
            With one line for the rider.
        ValueError
            If there is no point, or the window ends before it begins or carries no zone.
        """
        if not points:
            raise ValueError("points must not be empty")
        tables: dict[PointId, pd.DataFrame] = {}
        remarks: dict[str, None] = {}
        answers = []
        for url, some in self._questions(points, window):
            answer, read = self._ask(url, some, window)
            tables |= read.tables
            remarks |= dict.fromkeys(read.remarks)
            answers.append(answer)
        origin = Origin(
            service=self._service,
            credit=self._credit,
            fetched=min(answer.fetched for answer in answers),
            stale=any(answer.stale for answer in answers),
            invented=self._invented,
        )
        return Forecast(tables=tables, origin=origin, remarks=tuple(remarks))

    def _ask(
        self, url: str, points: Mapping[PointId, Point], window: Window
    ) -> tuple[Answer, ReadAnswer]:
        # The reader is the check of soundness; what it has read once is not read again.
        read: dict[str, ReadAnswer] = {}

        def check(body: str) -> None:
            if body not in read:
                read[body] = read_answer(body, points, window, service=self._service)

        answer = fetch(
            self._session,
            url,
            service=self._service,
            check=check,
            timeout_seconds=self._timeout_seconds,
        )
        return answer, read[answer.body]

    def _questions(
        self, points: Mapping[PointId, Point], window: Window
    ) -> Iterator[tuple[str, Mapping[PointId, Point]]]:
        """Split the points until each address is short enough; mostly one question."""
        url = f"{self._address}?{self._query(list(points.values()), window)}"
        if len(points) == 1 or (len(url) <= LONGEST_ADDRESS and len(points) <= MOST_POINTS):
            yield url, points
            return
        ids = list(points)
        middle = len(ids) // 2
        for half in (ids[:middle], ids[middle:]):
            yield from self._questions({point_id: points[point_id] for point_id in half}, window)

    def _query(self, points: list[Point], window: Window) -> str:
        # A value of the hour that starts at the last row is stamped one hour later.
        last = window.last.astimezone(UTC) + timedelta(hours=1)
        query = {
            "latitude": ",".join(f"{point.latitude:.4f}" for point in points),
            "longitude": ",".join(f"{point.longitude:.4f}" for point in points),
            "elevation": ",".join(f"{point.elevation:.0f}" for point in points),
            "hourly": ",".join(VARIABLES),
            "wind_speed_unit": "ms",
            "timezone": "GMT",
            "timeformat": "unixtime",
            "start_date": _day(window.first),
            "end_date": _day(last),
        }
        if self._api_key:
            query["apikey"] = self._api_key
        return urlencode(query, safe=",")


def _with_path(base_url: str) -> str:
    bare = base_url.rstrip("/")
    return bare if urlsplit(bare).path else f"{bare}{PATH}"


def _day(moment: datetime) -> str:
    return moment.astimezone(UTC).date().isoformat()
