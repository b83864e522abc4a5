"""The asking: one call for all points, in the agreed parameters, through the real client."""

import json
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest

from replanner.errors import ForecastError
from replanner.geodesy import Point
from replanner.sources.http import make_session
from replanner.sources.open_meteo import CREDIT, LONGEST_ADDRESS, OpenMeteo
from replanner.weather.hourly import COLUMNS, Window
from tests.loopback import Loopback, Reply, composed, expire, recorded

COAST = Point(-37.75, 144.875, 19.0)
COAST_FILE = "coast_windy_rain_168h.json"
WEEK = Window(datetime(2025, 10, 25, tzinfo=UTC), datetime(2025, 10, 31, 23, tzinfo=UTC))


def source(service: Loopback, cache: Path | None = None, **more: object) -> OpenMeteo:
    return OpenMeteo(make_session(cache, retries=0), base_url=service.url, **more)


def asked(service: Loopback, at: int = 0) -> dict[str, str]:
    return {name: value[0] for name, value in parse_qs(urlsplit(service.asked[at]).query).items()}


def test_one_call_for_all_points_in_the_agreed_parameters() -> None:
    points = {"coast": COAST, "inland": Point(-37.5, 145.123456, 650.4)}
    with Loopback(Reply(composed(COAST_FILE, COAST_FILE))) as service:
        forecast = source(service).hourly(points, WEEK)
        assert len(service.asked) == 1
        assert urlsplit(service.asked[0]).path == "/v1/forecast"
        query = asked(service)
    assert query["latitude"] == "-37.7500,-37.5000"
    assert query["longitude"] == "144.8750,145.1235"
    assert query["elevation"] == "19,650"
    assert query["timezone"] == "GMT"
    assert query["timeformat"] == "unixtime"
    assert query["wind_speed_unit"] == "ms"
    # the value of the hour from 23 h on is stamped at midnight of the next day
    assert (query["start_date"], query["end_date"]) == ("2025-10-25", "2025-11-01")
    assert len(query["hourly"].split(",")) == len(COLUMNS)
    assert "apikey" not in query
    assert set(forecast.tables) == {"coast", "inland"}
    indexes = [table.index for table in forecast.tables.values()]
    assert indexes[0].equals(indexes[1])


def test_origin() -> None:
    before = datetime.now(UTC)
    with Loopback(Reply(recorded(COAST_FILE))) as service:
        origin = source(service).hourly({"coast": COAST}, WEEK).origin
    assert origin.service == "Open-Meteo"
    assert origin.credit == CREDIT
    assert "CC BY 4.0" in origin.credit
    assert "https://" in origin.credit
    assert before <= origin.fetched <= datetime.now(UTC)
    assert (origin.issued, origin.stale, origin.invented) == (None, False, False)


def test_a_whole_address_is_taken_as_it_is() -> None:
    with Loopback(Reply(recorded(COAST_FILE))) as service:
        session = make_session(retries=0)
        other = OpenMeteo(session, base_url=f"{service.url}/other/forecast", api_key="k1")
        other.hourly({"coast": COAST}, WEEK)
        assert urlsplit(service.asked[0]).path == "/other/forecast"
        assert asked(service)["apikey"] == "k1"


def test_many_points_are_split_into_addresses_that_servers_take() -> None:
    """COMPOSED of one recorded answer over and over; half the points each time."""
    points = {f"p{at}": COAST._replace(longitude=144.0 + at / 1000) for at in range(320)}
    quarter = Reply(composed(*[COAST_FILE] * 160))
    with Loopback(quarter) as service:
        forecast = source(service).hourly(points, WEEK)
        assert len(service.asked) == 2
        assert all(len(url) <= LONGEST_ADDRESS for url in service.asked)
        longitudes = [asked(service, at)["longitude"].split(",") for at in (0, 1)]
    assert longitudes[0] + longitudes[1] == [f"{p.longitude:.4f}" for p in points.values()]
    assert list(forecast.tables) == list(points)


def test_sixty_points_are_one_call() -> None:
    points = {f"p{at}": COAST._replace(longitude=144.0 + at / 100) for at in range(60)}
    with Loopback(Reply(composed(*[COAST_FILE] * 60))) as service:
        assert len(source(service).hourly(points, WEEK).tables) == 60
        assert len(service.asked) == 1


def test_no_point_is_a_programming_mistake() -> None:
    with Loopback(Reply("")) as service, pytest.raises(ValueError, match="points must not be"):
        source(service).hourly({}, WEEK)


def test_answers_from_the_cache_keep_their_age_and_grow_stale(tmp_path: Path) -> None:
    session = make_session(tmp_path, retries=0)
    with Loopback(Reply(recorded(COAST_FILE))) as service:
        asking = OpenMeteo(session, base_url=service.url)
        first = asking.hourly({"coast": COAST}, WEEK)
        done = datetime.now(UTC)
        again = asking.hourly({"coast": COAST}, WEEK)
        assert len(service.asked) == 1
    assert not again.origin.stale
    assert again.origin.fetched <= done
    expire(session)
    stale = asking.hourly({"coast": COAST}, WEEK)
    assert stale.origin.stale
    assert stale.origin.fetched <= done
    assert stale.tables["coast"].equals(first.tables["coast"])
    # the cache speaks only of the question it was given: other hours are another question
    later = Window(datetime(2025, 11, 2, tzinfo=UTC), datetime(2025, 11, 3, tzinfo=UTC))
    with pytest.raises(ForecastError, match="cannot be reached"):
        asking.hourly({"coast": COAST}, later)


def test_hours_beyond_the_answer_are_unknown() -> None:
    longer = Window(WEEK.first, datetime(2025, 11, 2, tzinfo=UTC))
    with Loopback(Reply(recorded(COAST_FILE))) as service:
        table = source(service).hourly({"coast": COAST}, longer).tables["coast"]
    assert table.loc["2025-11-01T00:00":].isna().all(axis=None)


@pytest.mark.parametrize(
    ("reply", "line"),
    [
        (Reply(recorded("BROKEN_unequal_lengths_168_176.json")), "176 values for 168 hours"),
        (Reply(recorded("NOT_COVERED_nan.txt")), "no hourly values for these places"),
        (Reply(recorded("daily_only_nulls.json")), "no hourly values for these places"),
        (Reply(recorded("error_400_5c7be9.json"), status=400), "Cannot initialize Temperature"),
        (Reply(recorded("error_429_minutely.json"), status=429), "asked too often: Minutely"),
        (Reply(recorded(COAST_FILE)[:4000]), "may have broken off"),
        (Reply(recorded(COAST_FILE)[:4000], cut_off=True), ""),
        (Reply("<html>log in</html>", headers={"Content-Type": "text/html"}), "a web page came"),
        (Reply("oops", status=500), "in trouble (status 500)"),
        (Reply("", delay=4.0), "no answer within 0.5 seconds"),
    ],
)
def test_every_failure_is_one_line(reply: Reply, line: str) -> None:
    with Loopback(reply) as service:
        asking = source(service, timeout_seconds=0.5)
        with pytest.raises(ForecastError) as caught:
            asking.hourly({"coast": COAST}, WEEK)
    told = str(caught.value)
    assert told.startswith("Open-Meteo: ")
    assert line in told
    assert "\n" not in told
    assert service.url not in told


def test_an_unsound_answer_does_not_replace_a_sound_one(tmp_path: Path) -> None:
    broken = Reply(recorded("BROKEN_unequal_lengths_168_176.json"))
    session = make_session(tmp_path, retries=0)
    with Loopback(Reply(recorded(COAST_FILE)), broken) as service:
        asking = OpenMeteo(session, base_url=service.url)
        asking.hourly({"coast": COAST}, WEEK)
        expire(session)
        stale = asking.hourly({"coast": COAST}, WEEK)
        assert len(service.asked) == 2
    assert stale.origin.stale
    assert stale.tables["coast"]["air_temperature"].notna().all()


def test_recorded_answers_are_what_they_are_said_to_be() -> None:
    """The composed list is the recorded answer twice and nothing else."""
    twice = json.loads(composed(COAST_FILE, COAST_FILE))
    assert twice == [json.loads(recorded(COAST_FILE))] * 2
