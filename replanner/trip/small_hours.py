"""Hours of an evening that lie past midnight: "00:30" after a day's ride is the next date's."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from replanner.clock import local_instant
from replanner.trip.model import Base, Day

# An hour of arriving or closing before this belongs to the night after the day. Assumption.
SMALL_HOURS_UNTIL = time(5)


def past_midnight(hour: time, *before: time | None) -> bool:
    """Return whether an hour of the evening is in the small hours of the next date.

    Parameters
    ----------
    before : time or None
        Hours of the day that come before it: not all of those given may lie in the night as well.
    """
    given = [one for one in before if one is not None]
    return hour < SMALL_HOURS_UNTIL and all(one > hour for one in given)


def latest_arrival(day: Day, zone: ZoneInfo) -> datetime | None:
    """Return the instant a day wants to be over by; None: it names none."""
    if day.latest_arrival is None:
        return None
    leaving = (day.earliest_departure, day.own_departure, day.latest_departure)
    return _evening(day.date, day.latest_arrival, zone, *leaving)


def reception_closes(base: Base, night: date, zone: ZoneInfo) -> datetime | None:
    """Return when the reception of a base closes in the evening of a night; None: not known."""
    if base.reception_until is None:
        return None
    return _evening(night, base.reception_until, zone, base.check_in_from)


def _evening(day: date, hour: time, zone: ZoneInfo, *before: time | None) -> datetime:
    late = past_midnight(hour, *before)
    return local_instant(day + timedelta(days=1) if late else day, hour, zone)
