"""What a worker process makes: plans, pictures, tracks. Each worker keeps what it has read.

A worker is started afresh, so everything here is found by import and what it is given is plain
data. Settings, limits and the session are read once a process, tours once a text. The talking
process knows this module too but makes nothing itself: what only makers need is imported where it
is used, which takes a second off its start.
"""
# ruff: noqa: PLC0415 - said above

from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import TYPE_CHECKING

from replanner.advice.briefing import Briefing
from replanner.dialogue.events import Replan
from replanner.files.limits_toml import load_limits
from replanner.files.settings import load_settings
from replanner.files.tour_toml import parse_tour
from replanner.hazards.limits import Limits
from replanner.trip.model import Tour

if TYPE_CHECKING:
    from replanner.service.planner import Means

_TOURS_KEPT = 64
# What plans, pictures and tracks need, what is imported only when used too: it is shared by all
# workers; numba where it is installed.
IMPORTS = (
    "numba",
    "replanner.files.gpx_out",
    "replanner.making",
    "replanner.pictures.day",
    "replanner.service.evening",
    "replanner.sources.http",
    "replanner.sources.open_meteo",
    "replanner.wiring",
    "requests_cache",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """A plan to make: the tour file's text, what is asked, and when it is asked."""

    tour_text: str
    request: Replan
    now: datetime


def plan(order: Order) -> Briefing:
    """Make a plan.

    Raises
    ------
    InputError, ForecastError, NoPlanError
        With the line for the rider.
    """
    from replanner.service.evening import plan_day
    from replanner.wiring import no_such_day

    tour = read_tour(order.tour_text)
    try:
        day = tour.day(order.request.day)
    except KeyError:
        raise no_such_day(tour, order.request.day) from None
    return plan_day(tour, day, order.now, order.request.demands, _means()).briefing


def picture(briefing: Briefing) -> bytes:
    """Draw the picture of a plan, as PNG."""
    from replanner.advice.day_hours import hours_unknown
    from replanner.pictures.day import day_picture

    return day_picture(briefing, briefing.hours or hours_unknown(briefing))


def track(briefing: Briefing, tour_text: str) -> bytes:
    """Write the GPX file of a plan."""
    from replanner.files.gpx_out import day_gpx

    return day_gpx(briefing, read_tour(tour_text))


def warm() -> None:
    """Read what every plan needs, before the first one is asked for."""
    _means()


@lru_cache(maxsize=_TOURS_KEPT)
def read_tour(text: str) -> Tour:
    """Read a tour file's text; raises InputError with every mistake."""
    return parse_tour(text.encode(), "tour file", load_settings().speeds, _limits().limits)


@lru_cache(maxsize=1)
def _limits() -> Limits:
    return load_limits()


@lru_cache(maxsize=1)
def _means() -> "Means":
    from replanner.service.planner import Means
    from replanner.sources.http import make_session
    from replanner.sources.open_meteo import OpenMeteo

    settings = load_settings()
    session = make_session(
        settings.cache_directory,
        expire_after_seconds=round(settings.cache_hours * 3600),
        retries=settings.retries,
    )
    kept, passing = (
        OpenMeteo(one, base_url=settings.forecast_address, timeout_seconds=settings.timeout_seconds)
        for one in (session, make_session(retries=settings.retries))
    )
    return Means(
        forecasts=kept,
        passing=passing,
        limits=_limits(),
        rules=settings.rules,
        speeds=settings.speeds,
        detour_factor=settings.detour_factor,
        language=settings.language,
    )
