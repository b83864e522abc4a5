"""Which evening plan is due: looked for among the coming days, not remembered as one instant.

A stored instant is wrong once the rider has crossed a zone, or nothing ran over midnight. What
holds is the calendar: some tour day is coming and has no plan yet.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from replanner.clock import local_instant, require_aware
from replanner.people import MemberId
from replanner.service.due import day_before

# An hour of the morning is of the day planned itself, a later one of the evening before.
_NOON = time(12)


@dataclass(frozen=True, slots=True, kw_only=True)
class ComingEvening:
    """A tour day without a plan, and when its plan is due.

    Parameters
    ----------
    due : datetime
        UTC; it may be past: then the plan is late.
    missed : tuple of date
        Tour days left on without a plan, oldest first: dropped, to be told once and counted as
        planned from then on.
    """

    day: date
    due: datetime
    missed: tuple[date, ...]


def evening_key(rider: MemberId, day: date) -> str:
    """Return the key that lets one plan of a day reach a rider once, whoever makes it."""
    return f"plan:{rider}:{day.isoformat()}"


def due_evening(
    zone: ZoneInfo,
    send_at: time,
    now: datetime,
    planned: Collection[date],
    departures: Mapping[date, datetime],
) -> ComingEvening | None:
    """Return the next tour day that has no plan and can still use one.

    The answer hangs on dates alone, so a rider who crosses the date line is planned for neither
    twice nor not at all: a date that comes again is in `planned`, one reached early is looked
    for at once. When there is nothing to do yet, `due` is the instant to wake up at.

    Parameters
    ----------
    zone : ZoneInfo
        Where the rider is now.
    send_at : datetime.time
        When the rider wants the plan, by the wall clock.
    now : datetime
        UTC-aware.
    planned : collection of date
        Days whose plan was made (those with an `evening_key`). All of them rather than the last,
        since a rider may have asked for a later day first.
    departures : mapping of date to datetime
        The days of the tour, each with the instant the rider leaves, or could at the latest;
        for one who joined on the way, those since.

    Returns
    -------
    ComingEvening or None
        None: the tour has no day left to plan.
    """
    now = require_aware("now", now)
    without = sorted(day for day in departures if day not in planned)
    coming = [day for day in without if departures[day] > now]
    if not coming:
        return None
    return ComingEvening(
        day=coming[0],
        due=plan_due(send_at, zone, departures[coming[0]]),
        missed=tuple(day for day in without if departures[day] <= now),
    )


def plan_due(send_at: time, zone: ZoneInfo, departure: datetime) -> datetime:
    """Return when the plan of a day is due: the evening before leaving, where the rider is.

    A rider who wants it in the small hours or the morning gets it on the day of leaving, unless
    he has left by then. Dates are those of the rider's zone, which need not be the tour's.
    """
    day = require_aware("departure", departure).astimezone(zone).date()
    on_the_day = local_instant(day, send_at, zone)
    if send_at < _NOON and on_the_day < departure:
        return on_the_day
    return local_instant(day_before(day, zone), send_at, zone)
