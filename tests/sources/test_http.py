"""What can go wrong between us and a service, over loopback: one line each, nothing cached."""

import logging
import sqlite3
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
import requests

from replanner.errors import ForecastError
from replanner.sources.http import Answer, fetch, make_session
from tests.loopback import Loopback, Reply, expire, recorded

SOUND = Reply('{"sound": true}')
KEY = "?apikey=secret-key"


def sound(body: str) -> None:
    if "sound" not in body:
        raise ForecastError("its answer is not sound", where="Test service")


def ask(session: requests.Session, url: str, *, timeout: float = 5.0) -> Answer:
    return fetch(session, url, service="Test service", check=sound, timeout_seconds=timeout)


def refused(*replies: Reply, timeout: float = 5.0, retries: int = 0) -> tuple[str, int]:
    """Return the line a rider reads, and how often the service was asked."""
    with Loopback(*replies) as service:
        with pytest.raises(ForecastError) as caught:
            ask(make_session(retries=retries), service.url + KEY, timeout=timeout)
        line = str(caught.value)
        assert line.startswith("Test service: ")
        assert "\n" not in line
        assert "secret" not in line
        assert "127.0.0.1" not in line
        return line, len(service.asked)


def test_sound_answer() -> None:
    before = datetime.now(UTC)
    with Loopback(SOUND) as service:
        answer = ask(make_session(), service.url)
        assert (service.agents[0] or "").startswith("replanner/")
    assert answer.body == '{"sound": true}'
    assert before <= answer.fetched <= datetime.now(UTC)
    assert not answer.stale


def test_bytes_are_utf_8_whatever_the_header_says() -> None:
    reply = Reply('{"sound": "°C"}'.encode(), headers={"Content-Type": "text/plain"})
    with Loopback(reply) as service:
        assert "°C" in ask(make_session(), service.url).body


def test_no_network() -> None:
    with Loopback(SOUND) as service:
        url = service.url
    with pytest.raises(ForecastError, match=r"Test service: it cannot be reached: no network"):
        ask(make_session(retries=0), url)


def test_time_out() -> None:
    line, _ = refused(Reply("", delay=5.0), timeout=0.2)
    assert "no answer within 0.2 seconds" in line


def test_time_out_after_asking_again() -> None:
    line, asked = refused(Reply("", delay=5.0), timeout=0.2, retries=1)
    assert "no answer within 0.2 seconds" in line
    assert asked == 2


def test_cut_off_body() -> None:
    line, _ = refused(Reply('{"sound": tr', cut_off=True), timeout=0.5)
    assert "the answer broke off" in line or "no answer within" in line


def test_unsound_body_tells_the_check() -> None:
    line, asked = refused(Reply("<html>log in to the hotel</html>"), retries=3)
    assert line == "Test service: its answer is not sound"
    assert asked == 1


def test_400_tells_the_services_reason() -> None:
    """Body recorded in 2023, see tests/data/README.md."""
    line, asked = refused(Reply(recorded("error_400_5c7be9.json"), status=400), retries=3)
    assert "status 400): Cannot initialize TemperatureUnit from invalid String value" in line
    assert asked == 1


def test_429_tells_when_to_ask_again_and_is_not_hammered() -> None:
    body = recorded("error_429_minutely.json")
    line, asked = refused(Reply(body, status=429, headers={"Retry-After": "3600"}), retries=3)
    assert "asked too often: Minutely API request limit exceeded" in line
    assert line.endswith("try again in 60 minutes")
    assert asked == 1
    line, asked = refused(Reply(body, status=429), retries=3)
    assert line.endswith("try again later")
    assert asked == 1


def test_short_retry_after_is_waited_for() -> None:
    begin = time.monotonic()
    busy = Reply(recorded("error_429_minutely.json"), status=429, headers={"Retry-After": "1"})
    with Loopback(busy, SOUND) as service:
        assert "sound" in ask(make_session(), service.url).body
        assert len(service.asked) == 2
    assert time.monotonic() - begin >= 1.0


def test_5xx_is_asked_again() -> None:
    with Loopback(Reply("oops", status=503), SOUND) as service:
        assert "sound" in ask(make_session(), service.url).body
        assert len(service.asked) == 2


def test_5xx_for_ever() -> None:
    line, asked = refused(Reply("oops", status=502), retries=1)
    assert "in trouble (status 502)" in line
    assert asked == 2


def test_address_that_is_none() -> None:
    with pytest.raises(ForecastError, match="base address is not a web address"):
        ask(make_session(retries=0), "api.example/forecast")


def test_proxy_of_the_network_is_not_asked_for_this_machine(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("http_proxy", "http://127.0.0.1:1")
    monkeypatch.setenv("HTTP_PROXY", "http://127.0.0.1:1")
    monkeypatch.delenv("no_proxy", raising=False)
    monkeypatch.delenv("NO_PROXY", raising=False)
    with Loopback(SOUND) as service:
        assert "sound" in ask(make_session(retries=0), service.url).body


def test_second_question_is_answered_from_the_cache_with_its_true_age(tmp_path: Path) -> None:
    with Loopback(SOUND) as service:
        ask(make_session(tmp_path), service.url)
        done = datetime.now(UTC)
        again = ask(make_session(tmp_path), service.url)
        assert len(service.asked) == 1
    assert again.fetched <= done
    assert not again.stale


@pytest.mark.parametrize(
    "failure",
    [
        Reply("<html>log in</html>"),
        Reply("oops", status=500),
        Reply('{"sou', cut_off=True),
        Reply("{}", status=429, headers={"Retry-After": "3600"}),
    ],
)
def test_expired_answer_is_served_stale_when_nothing_sound_comes(
    tmp_path: Path, failure: Reply
) -> None:
    with Loopback(SOUND, failure) as service:
        session = make_session(tmp_path, retries=0)
        first = ask(session, service.url)
        done = datetime.now(UTC)
        expire(session)
        stale = ask(session, service.url, timeout=1.0)
        assert len(service.asked) == 2
        assert stale.stale
        assert stale.body == first.body
        assert stale.fetched <= done
        # nor has the failure spoilt the cache
        assert ask(session, service.url, timeout=1.0).body == first.body


def test_server_gone_serves_stale(tmp_path: Path) -> None:
    session = make_session(tmp_path, retries=0)
    with Loopback(SOUND) as service:
        url = service.url
        ask(session, url)
    expire(session)
    assert ask(session, url).stale


def test_unsound_body_is_never_cached(tmp_path: Path) -> None:
    with Loopback(Reply("<html>log in</html>"), SOUND) as service:
        session = make_session(tmp_path)
        with pytest.raises(ForecastError):
            ask(session, service.url)
        assert "sound" in ask(session, service.url).body


def test_key_is_not_kept_in_the_cache(tmp_path: Path) -> None:
    with Loopback(SOUND) as service:
        ask(make_session(tmp_path), service.url + KEY)
        assert service.asked == ["/" + KEY]
    for file in tmp_path.iterdir():
        assert b"secret-key" not in file.read_bytes()


def test_key_is_not_logged(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.DEBUG), Loopback(SOUND, Reply("oops", status=503)) as service:
        session = make_session(tmp_path, retries=1)
        ask(session, service.url + KEY)
        expire(session)
        assert ask(session, service.url + KEY).stale
    assert "secret-key" not in caplog.text


def test_broken_cache_does_not_keep_the_rider_from_an_answer(tmp_path: Path) -> None:
    (tmp_path / "answers.sqlite").write_bytes(b"this is no database, but longer than a header" * 40)
    with Loopback(SOUND) as service:
        assert "sound" in ask(make_session(tmp_path), service.url).body


def test_cache_that_cannot_be_made_is_done_without(tmp_path: Path) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.write_text("not a folder")
    with Loopback(SOUND) as service:
        assert "sound" in ask(make_session(in_the_way), service.url).body


def test_cache_is_a_plain_database(tmp_path: Path) -> None:
    with Loopback(SOUND) as service:
        ask(make_session(tmp_path), service.url)
    with sqlite3.connect(tmp_path / "answers.sqlite") as connection:
        assert connection.execute("select count(*) from responses").fetchone() == (1,)
    connection.close()
