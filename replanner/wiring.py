"""The only file that knows every adapter by name: it puts the parts together.

An adapter is imported where it is built: they bring the libraries that take longest to import
(pandas, sqlalchemy, pydantic), and a command that builds none of them need not wait for those.
"""
# ruff: noqa: PLC0415 - said above

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from replanner.advice.briefing import Briefing
from replanner.clock import local_instant
from replanner.dialogue.events import Replan
from replanner.errors import ForecastError, InputError
from replanner.files.resources import demo_file
from replanner.hazards.limits import Limits
from replanner.planning.build import BuiltDay
from replanner.ports import ForecastSource
from replanner.service.evening import Evening, plan_day
from replanner.service.last_plan import last_plan_stale
from replanner.service.one_rider import Store
from replanner.service.planner import Means
from replanner.trip.edits import Demands
from replanner.trip.model import Tour

if TYPE_CHECKING:
    from replanner.files.settings import Settings

EVENING = time(19, 30)  # when tomorrow is decided


@dataclass(frozen=True, slots=True, kw_only=True)
class House:
    """All parts, put together for one tour.

    `now` tells the present instant, UTC-aware; a replay holds it still.
    """

    tour: Tour
    tour_key: str
    means: Means
    store: Store
    now: Callable[[], datetime]

    def plan(self, day: date, demands: Demands) -> Evening:
        """Plan a day; nothing is stored.

        Raises
        ------
        InputError
            If the tour has no such day.
        ForecastError, NoPlanError
            As `service.evening.plan_day`.
        """
        try:
            found = self.tour.day(day)
        except KeyError:
            raise no_such_day(self.tour, day) from None
        return plan_day(self.tour, found, self.now(), demands, self.means)

    def plan_or_last(self, request: Replan) -> tuple[Briefing, BuiltDay | None]:
        """Plan as a conversation asks for it; without a forecast the last plan, marked stale.

        A wish cannot be met by the last plan: without a forecast it fails.

        Returns
        -------
        tuple of (Briefing, BuiltDay or None)
            With the day as it was solved; None where it is the last plan.
        """
        try:
            evening = self.plan(request.day, request.demands)
        except ForecastError as error:
            last = last_plan_stale(self.store, self.tour_key, request.day, error)
            if last is None or request.wish:
                raise
            return last, None
        if not request.trial:
            self.store.keep_plan(
                self.tour_key, evening.briefing, accepted=False, demands=request.demands
            )
        return evening.briefing, evening.built


def no_such_day(tour: Tour, day: date) -> InputError:
    """Return the error for a date the tour has not."""
    days = ", ".join(day.date.isoformat() for day in tour.days)
    return InputError(
        f"{tour.name} has no day {day.isoformat()}", where="--date", mend=f"choose one of {days}"
    )


def present() -> datetime:
    """Return the present instant: the one place where the clock on the wall is read."""
    return datetime.now(UTC)


@contextmanager
def own_house(path: Path, now: datetime | None) -> Iterator[House]:
    """Put together a rider's own tour: the real forecast service, the state kept on disk."""
    from replanner.sources.http import make_session
    from replanner.sources.open_meteo import OpenMeteo
    from replanner.store.store import open_store

    settings, limits, tour = checked_tour(path)
    session = make_session(
        settings.cache_directory,
        expire_after_seconds=round(settings.cache_hours * 3600),
        retries=settings.retries,
    )
    passing_session = make_session(retries=settings.retries)
    source, passing = (
        OpenMeteo(one, base_url=settings.forecast_address, timeout_seconds=settings.timeout_seconds)
        for one in (session, passing_session)
    )
    store = open_store(settings.state_address, present)
    try:
        yield _house(tour, settings, limits, source, store, now, passing)
    finally:
        store.close()
        session.close()
        passing_session.close()


def checked_tour(path: Path) -> "tuple[Settings, Limits, Tour]":
    """Read a tour, with the settings and limits it is read under."""
    from replanner.files.limits_toml import load_limits
    from replanner.files.settings import load_settings
    from replanner.files.tour_toml import load_tour

    settings, limits = load_settings(), load_limits()
    return settings, limits, load_tour(path, settings.speeds, limits.limits)


@contextmanager
def demo_house(state: Path, day: date) -> Iterator[House]:
    """Put together the invented tour on the evening before a day.

    Its own week of weather is fetched over HTTP on this machine only.
    """
    from replanner.sources import invented
    from replanner.sources.http import make_session
    from replanner.sources.open_meteo import OpenMeteo
    from replanner.store.store import open_store

    settings, limits, tour = checked_tour(demo_file("tour.toml"))
    now = local_instant(day - timedelta(days=1), EVENING, tour.zone)
    store = open_store(str(state), lambda: now)
    with invented.InventedWeek(demo_file("week.toml")) as week, make_session() as session:
        source = OpenMeteo(
            session,
            base_url=week.base_url,
            service=invented.SERVICE,
            credit=invented.CREDIT,
            invented=True,
        )
        try:
            fetched = invented.FetchedAt(source, now)
            yield _house(tour, settings, limits, fetched, store, now)
        finally:
            store.close()


def _house(
    tour: Tour,
    settings: "Settings",
    limits: Limits,
    source: ForecastSource,
    store: Store,
    now: datetime | None,
    passing: ForecastSource | None = None,
) -> House:
    means = Means(
        forecasts=source,
        passing=passing,
        limits=limits,
        rules=settings.rules,
        speeds=settings.speeds,
        detour_factor=settings.detour_factor,
        language=settings.language,
    )
    return House(
        tour=tour,
        tour_key=tour_key(tour),
        means=means,
        store=store,
        now=present if now is None else lambda: now,
    )


def tour_key(tour: Tour) -> str:
    """Return what tells a tour apart in the store: its name and its first day."""
    return f"{tour.name}, {min(day.date for day in tour.days).isoformat()}"
