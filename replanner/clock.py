"""The one way to say what time it is: UTC-aware inside, local only at the edges.

Nothing in the core asks for the present moment; it is handed a `now`. Local wall times that a
clock change skips are moved to the next valid instant; doubled ones mean the first.
"""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo


def require_aware(name: str, moment: datetime) -> datetime:
    """Return the moment in UTC; raise ValueError naming the argument if it carries no zone."""
    if moment.tzinfo is None:
        raise ValueError(f"{name} must carry a time zone, got {moment.isoformat()}")
    return moment.astimezone(UTC)


def local_instant(day: date, wall: time, zone: ZoneInfo) -> datetime:
    """Return the UTC instant of a wall time on a local day.

    A wall time skipped in spring becomes the instant the clocks jumped to; a doubled one in
    autumn means its first occurrence (PEP 495, fold=0).
    """
    naive = datetime.combine(day, wall.replace(tzinfo=None, fold=0))
    first = naive.replace(tzinfo=zone)
    back = first.astimezone(UTC).astimezone(zone).replace(tzinfo=None)
    if back == naive:
        return first.astimezone(UTC)
    return _jump_between(naive, zone)


def day_over(day: date, zone: ZoneInfo) -> datetime:
    """Return the UTC instant a local day is over: the midnight of the next, as `local_instant`."""
    return local_instant(day + timedelta(days=1), time(0), zone)


def _jump_between(naive: datetime, zone: ZoneInfo) -> datetime:
    low = naive.replace(tzinfo=zone, fold=1).astimezone(UTC)
    high = naive.replace(tzinfo=zone, fold=0).astimezone(UTC)
    offset = low.astimezone(zone).utcoffset()
    while (high - low).total_seconds() > 1:
        middle = low + (high - low) / 2
        if middle.astimezone(zone).utcoffset() == offset:
            low = middle
        else:
            high = middle
    return high.replace(microsecond=0)
