"""What a forecast service was asked is kept; where riders were at the moment is not in it.

The whole corridor runs, cache and all, on the invented tour against its own weather on loopback.
"""

import logging
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest
import requests
import requests_cache

from replanner.files.resources import demo_file
from replanner.geodesy import Point
from replanner.service.evening import plan_day
from replanner.sources.http import make_session
from replanner.sources.invented import InventedWeek
from replanner.sources.open_meteo import OpenMeteo
from replanner.trip.edits import Demands
from replanner.trip.underway import Underway
from tests.dialogue.road_day import FRIDAY, TOUR, Ride, at


class Noted(requests.Session):
    """A session without a cache that notes what it asks for."""

    def __init__(self) -> None:
        super().__init__()
        self.asked: list[str] = []

    def get(self, url: str | bytes, **more: object) -> requests.Response:
        self.asked.append(str(url))
        return super().get(url, **more)  # type: ignore[arg-type]


def test_no_answer_kept_tells_where_riders_were(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    near = next(iter(TOUR.places.values())).point
    spots = [
        Point(near.latitude + 0.0312347 * n, near.longitude + 0.0298765 * n, 30.0) for n in (1, 2)
    ]
    passing, now = Noted(), at(FRIDAY, 12)
    kept = []
    with InventedWeek(demo_file("week.toml")) as week, make_session(tmp_path) as session:
        means = replace(
            Ride(FRIDAY).means,
            forecasts=OpenMeteo(session, base_url=week.base_url),
            passing=OpenMeteo(passing, base_url=week.base_url),
        )
        assert isinstance(session, requests_cache.CachedSession)
        for spot in spots:
            demands = Demands(underway=Underway(at=now, ready=now, point=spot))
            found = plan_day(TOUR, TOUR.day(FRIDAY), now + timedelta(minutes=1), demands, means)
            assert found.briefing.way_home is not None
            kept.append(sorted(session.cache.responses))
    assert len(kept[0]) == 1
    assert kept[0] == kept[1]  # what is kept is the same wherever they are
    assert len(passing.asked) == 2
    for asked in passing.asked:  # and the service is told to a kilometre
        told = parse_qs(urlsplit(asked).query)
        for figure in (told["latitude"] + told["longitude"])[0].split(","):
            assert figure.endswith("00"), figure
    exact = [f"{abs(figure):.4f}" for spot in spots for figure in spot[:2]]
    held = b"".join(path.read_bytes() for path in tmp_path.rglob("*") if path.is_file())
    assert b"latitude" in held
    assert not [one for one in exact if one.encode() in held or one in caplog.text]
