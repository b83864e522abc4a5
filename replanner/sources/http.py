"""One way to ask a service over HTTP, with retries, time-outs and a cache.

Whatever goes wrong on the way becomes a ForecastError of one plain line. Addresses are never
printed: they may hold a key.
"""

import contextlib
import logging
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from ipaddress import ip_address
from pathlib import Path
from typing import Any, Self
from urllib.parse import urlsplit

import requests
from requests.adapters import HTTPAdapter
from urllib3.exceptions import MaxRetryError
from urllib3.util.retry import Retry

from replanner.errors import ForecastError
from replanner.sources.refusals import Refused, refusal_of_exception, refusal_of_status

USER_AGENT = f"replanner/{version('replanner')} (weather for motorcycle tours)"

# Assumption: a rider in a car park waits this long, not longer.
LONGEST_RETRY_AFTER_SECONDS = 10
_TOO_MANY_REQUESTS = 429
_WORTH_ASKING_AGAIN = (_TOO_MANY_REQUESTS, 500, 502, 503, 504)


@dataclass(frozen=True, slots=True)
class Answer:
    """The text a service gave, when it gave it, and whether it had expired in the cache."""

    body: str
    fetched: datetime
    stale: bool


class _PatientRetry(Retry):
    """Asks again as urllib3 does, but gives up at once where waiting would be too long.

    A 429 without a `Retry-After` is not asked again either: each attempt counts against the
    allowance that is used up.
    """

    def increment(self, *args: Any, **kwargs: Any) -> Self:
        response = kwargs.get("response")
        if response is not None and not self._is_worth_waiting(response):
            raise MaxRetryError(kwargs["_pool"], "", Refused("would have to wait too long"))
        return super().increment(*args, **kwargs)

    def _is_worth_waiting(self, response: Any) -> bool:
        wait = self.get_retry_after(response)
        if wait is None:
            return bool(response.status != _TOO_MANY_REQUESTS)
        return wait <= LONGEST_RETRY_AFTER_SECONDS


def make_session(
    cache_directory: Path | None = None, *, expire_after_seconds: int = 3600, retries: int = 3
) -> requests.Session:
    """Make the one session all services are asked with.

    Parameters
    ----------
    cache_directory : Path or None
        Where answers are kept; made if missing. None, or a place that cannot be written, means
        no cache.
    expire_after_seconds : int
        How long an answer is served without asking again. Older ones are served only when
        nothing fresher answers, marked stale.
    retries : int
        How often a question is asked again before it has failed.
    """
    session = _cached_session(cache_directory, expire_after_seconds) or requests.Session()
    retry = _PatientRetry(
        total=retries,
        read=min(retries, 1),  # each costs a whole time-out
        status_forcelist=_WORTH_ASKING_AGAIN,
        backoff_factor=0.5,
        backoff_jitter=0.5,
        backoff_max=5,
        raise_on_status=False,
        retry_after_max=LONGEST_RETRY_AFTER_SECONDS + 1,
    )
    adapter = HTTPAdapter(max_retries=retry)
    session.mount("https://", adapter)
    session.mount("http://", adapter)
    session.headers["User-Agent"] = USER_AGENT
    # Both write whole addresses into their warnings; what they warn of, our error says.
    for name in ("urllib3", "requests_cache"):
        logging.getLogger(name).setLevel(logging.ERROR)
    return session


def fetch(
    session: requests.Session,
    url: str,
    *,
    service: str,
    check: Callable[[str], object],
    timeout_seconds: float = 10.0,
) -> Answer:
    """Get a text that passes a check, or a stale one from the cache when nothing sound comes.

    Parameters
    ----------
    session : requests.Session
        From `make_session`.
    url : str
        Whole address, query included.
    service : str
        The service's name, for the rider.
    check : callable
        Raises ForecastError where a body is not sound. A body that fails is never cached, and
        an expired sound one in the cache is preferred to it.
    timeout_seconds : float
        For connecting, and for each pause while reading. [s]

    Raises
    ------
    ForecastError
        One line: the service, what went wrong, what to do.
    """

    def refuse_unsound(response: requests.Response, **_: object) -> None:
        if response.status_code == requests.codes.ok:
            try:
                check(_text(response))
            except ForecastError as error:
                raise Refused(error) from None

    def get() -> requests.Response:
        return session.get(
            url,
            timeout=timeout_seconds,
            hooks={"response": refuse_unsound},
            proxies=_no_proxies if _is_on_this_machine(url) else None,
        )

    try:
        try:
            response = get()
        except sqlite3.Error:  # a cache that cannot be used must not keep the rider from his plan
            response = _without_cache(session, get)
    except Refused as refused:
        raise refused.error from None
    except requests.RequestException as error:
        raise refusal_of_exception(error, service, timeout_seconds) from None
    if response.status_code != requests.codes.ok:
        raise refusal_of_status(response, service)
    fetched = getattr(response, "created_at", None) or datetime.now(UTC)
    stale = bool(getattr(response, "from_cache", False) and getattr(response, "is_expired", False))
    return Answer(_text(response), fetched.astimezone(UTC), stale)


def _text(response: requests.Response) -> str:
    # JSON is UTF-8 (RFC 8259); the header's charset is often missing or wrong.
    return response.content.decode("utf-8", errors="replace")


def _cached_session(directory: Path | None, expire_after_seconds: int) -> requests.Session | None:
    if directory is None:
        return None
    with contextlib.suppress(OSError, sqlite3.Error):
        import requests_cache  # noqa: PLC0415 - slow to import, and only a cache needs it

        directory.mkdir(parents=True, exist_ok=True)
        return requests_cache.CachedSession(
            str(directory / "answers.sqlite"),
            backend="sqlite",
            serializer="json",
            expire_after=expire_after_seconds,
            stale_if_error=True,
            allowable_codes=(200,),
            ignored_parameters=("apikey",),
        )
    return None


def _without_cache(
    session: requests.Session, get: Callable[[], requests.Response]
) -> requests.Response:
    import requests_cache  # noqa: PLC0415 - as above

    if isinstance(session, requests_cache.CachedSession):
        with session.cache_disabled():
            return get()
    return get()


_no_proxies: dict[str, Any] = {"http": None, "https": None, "all": None}


def _is_on_this_machine(url: str) -> bool:
    """Tell a loopback address: a proxy of the rider's network cannot reach it."""
    host = urlsplit(url).hostname or ""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
