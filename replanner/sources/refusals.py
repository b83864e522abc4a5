"""What went wrong with a question, in one line for the rider: the way there, or the service."""

import json

import requests
from urllib3.exceptions import ReadTimeoutError

from replanner.errors import ForecastError

_SERVER_FAULT = 500
_LONGEST_REASON = 200
_TOLD_IN_SECONDS = 120


class Refused(requests.RequestException):
    """Carries our error through the libraries below, which know how to fall back on the cache."""

    def __init__(self, error: ForecastError | str) -> None:
        self.error = error if isinstance(error, ForecastError) else ForecastError(error)
        super().__init__(str(error))


def refusal_of_status(response: requests.Response, service: str) -> ForecastError:
    """Make the rider's line of an answer whose status is not 200."""
    status, reason = response.status_code, _reason(response)
    because = f": {reason}" if reason else ""
    if status == requests.codes.too_many_requests:
        return ForecastError(
            f"it was asked too often{because}", where=service, mend=_when_again(response)
        )
    if status >= _SERVER_FAULT:
        return ForecastError(
            f"the service itself is in trouble (status {status}){because}",
            where=service,
            mend="try again later",
        )
    return ForecastError(
        f"it refused the question (status {status}){because}",
        where=service,
        mend="check dates, coordinates and settings",
    )


def refusal_of_exception(
    error: requests.RequestException, service: str, timeout_seconds: float
) -> ForecastError:
    """Make the rider's line of what the HTTP library raised."""
    reason = getattr(error.args[0], "reason", None) if error.args else None
    match error:
        case _ if isinstance(error, requests.Timeout) or isinstance(reason, ReadTimeoutError):
            what, mend = (
                f"no answer within {timeout_seconds:g} seconds",
                "try again later; the last plan still holds what it held",
            )
        case requests.exceptions.SSLError():
            what, mend = (
                "the secure connection failed",
                "check this machine's clock, and whether the network wants you to log in",
            )
        case (
            requests.exceptions.ChunkedEncodingError() | requests.exceptions.ContentDecodingError()
        ):
            what, mend = "the answer broke off", "try again"
        case (
            requests.exceptions.InvalidURL()
            | requests.exceptions.MissingSchema()
            | requests.exceptions.InvalidSchema()
        ):
            what, mend = (
                "its base address is not a web address",
                "mend it in the settings; it begins with https://",
            )
        case requests.ConnectionError():
            what, mend = (
                "it cannot be reached: no network here, or the service is down",
                "try again when there is signal",
            )
        case _:
            what, mend = f"it could not be asked ({type(error).__name__})", "try again later"
    return ForecastError(what, where=service, mend=mend)


def _reason(response: requests.Response) -> str:
    """Return the `reason` of a JSON error body, on one line and not endless."""
    try:
        body = json.loads(response.content)
    except ValueError:
        return ""
    reason = body.get("reason") if isinstance(body, dict) else None
    return " ".join(reason.split())[:_LONGEST_REASON].rstrip(".") if isinstance(reason, str) else ""


def _when_again(response: requests.Response) -> str:
    wait = response.headers.get("Retry-After", "")
    if wait.isdecimal():
        seconds = int(wait)
        told = (
            f"{seconds} seconds" if seconds < _TOLD_IN_SECONDS else f"{-(-seconds // 60)} minutes"
        )
        return f"try again in {told}"
    return f"try again after {wait}" if wait else "try again later"
