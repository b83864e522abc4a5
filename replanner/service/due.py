"""When a rider's clock next shows an hour: once on every date, right through clock changes.

A trigger that walks the wall clock fires twice in the hour that autumn repeats and not at all in
the one that spring skips. Here every local date has one instant for an hour of the day, worked
out from the zone each time; nothing is remembered but the instant that was done last.
"""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from replanner.clock import local_instant, require_aware

# How long before leaving the plan is looked at once more.
BEFORE_DEPARTURE = timedelta(minutes=45)

_DAY = timedelta(days=1)


def next_due(at: time, zone: ZoneInfo, after: datetime) -> datetime:
    """Return the first instant after `after` at which it is `at` on some date of the zone.

    Each local date has one such instant:

    - a wall time skipped in spring: the instant the clocks jump to;
    - a wall time shown twice in autumn: the first showing. The second is never due, also when
      `after` lies between the two;
    - a date shown twice, its zone having been set back by most of a day: its first showing;
    - a date that does not exist, its zone having skipped it to change sides of the date line:
      none. Nothing is due for it, neither early nor late.

    Parameters
    ----------
    at : datetime.time
        Wall time in the zone.
    after : datetime
        UTC-aware. The instant itself does not count.

    Returns
    -------
    datetime
        UTC.
    """
    after = require_aware("after", after)
    day = after.astimezone(zone).date()
    while local_instant(day, at, zone) <= after or not day_exists(day, zone):
        day += _DAY
    return local_instant(day, at, zone)


def day_exists(day: date, zone: ZoneInfo) -> bool:
    """Return whether a calendar in the zone has that date.

    Samoa had no 30 December 2011: the first instant not before its midnight is of the 31st.
    """
    return local_instant(day, time.min, zone).astimezone(zone).date() == day


def day_before(day: date, zone: ZoneInfo) -> date:
    """Return the date that came before that one in the zone: dates that do not exist left out."""
    return _neighbour(day, -_DAY, zone)


def day_after(day: date, zone: ZoneInfo) -> date:
    """Return the date that came after that one in the zone, likewise."""
    return _neighbour(day, _DAY, zone)


def _neighbour(day: date, step: timedelta, zone: ZoneInfo) -> date:
    day += step
    while not day_exists(day, zone):
        day += step
    return day


def morning_due(departure: datetime, before: timedelta = BEFORE_DEPARTURE) -> datetime:
    """Return when to look at the plan once more: elapsed time before leaving, not wall time."""
    return require_aware("departure", departure) - before
