"""When nothing unasked is said: the rider's quiet hours, and what "mute until ..." means."""

from datetime import datetime, time, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from replanner.clock import local_instant, require_aware
from replanner.service.due import day_after, day_exists, next_due

_DAY = timedelta(days=1)


class Until(StrEnum):
    """Until when a rider wants quiet."""

    MORNING = "morning"
    EVENING = "evening"


def hushed(now: datetime, quiet_from: time, quiet_to: time, zone: ZoneInfo) -> bool:
    """Return whether it is quiet now. From and to alike: no quiet hours at all."""
    return quiet_until(now, quiet_from, quiet_to, zone) is not None


def quiet_until(now: datetime, quiet_from: time, quiet_to: time, zone: ZoneInfo) -> datetime | None:
    """Return when the quiet hours that hold now are over; None: it is not quiet.

    Quiet begins at the first showing of `quiet_from` on a date and ends at the first showing of
    `quiet_to` after it, on the same date or, past midnight, the next: a clock change makes one
    quiet time longer or shorter by its shift. (A date shown twice is one long date.)

    Returns
    -------
    datetime or None
        UTC.
    """
    now = require_aware("now", now)
    if quiet_from == quiet_to:
        return None
    same_date = quiet_from < quiet_to
    today = now.astimezone(zone).date()
    for day in (today - 2 * _DAY, today - _DAY, today):  # two: yesterday may not exist
        begins = local_instant(day, quiet_from, zone)
        ends = local_instant(day if same_date else day_after(day, zone), quiet_to, zone)
        if begins <= now < ends and day_exists(day, zone):
            return ends
    return None


def mute_until(
    until: Until, now: datetime, zone: ZoneInfo, *, morning: time, evening: time
) -> datetime:
    """Return when a rider who asked for quiet is spoken to again: the next such hour of his."""
    return next_due(morning if until is Until.MORNING else evening, zone, now)
