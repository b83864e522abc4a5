"""The wall clock of a zone read minute by minute: what a patient man with a list would see.

Shares nothing with the code under test but the zone's offset at an instant: no `fold`, no turning
of wall time into an instant.
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np

EPOCH_ORDINAL = date(1970, 1, 1).toordinal()
DAY = 1440


def _minute(moment: datetime) -> int:
    return int(moment.timestamp()) // 60


def _offset(zone: ZoneInfo, minute: int) -> int:
    shift = datetime.fromtimestamp(minute * 60, tz=zone).utcoffset()
    assert shift is not None
    assert shift.seconds % 60 == 0, "scanned by the minute: whole minutes only"
    return shift.days * DAY + shift.seconds // 60


def _read(zone: ZoneInfo, first: int, last: int, steps: tuple[int, ...]) -> Iterator[np.ndarray]:
    """Yield the offset of every minute; a stretch is read finer only where its ends differ."""
    step, *finer = steps
    for begin in range(first, last, step):
        at_begin = _offset(zone, begin)
        if finer and at_begin != _offset(zone, begin + step):
            yield from _read(zone, begin, begin + step, tuple(finer))
        else:
            yield np.full(step, at_begin, dtype=np.int32)


@lru_cache(maxsize=16)
def wall_minutes(name: str, year: int) -> tuple[int, np.ndarray]:
    """Return the first UTC minute of the scan, and what the wall clock shows in each minute.

    Days and hours that begin and end with one offset are taken to keep it between.
    """
    first = _minute(datetime(year, 1, 1, tzinfo=UTC) - timedelta(days=3))
    last = _minute(datetime(year + 1, 1, 1, tzinfo=UTC) + timedelta(days=3))
    offsets = np.concatenate(list(_read(ZoneInfo(name), first, last, (DAY, 60, 1))))
    return first, np.arange(first, last, dtype=np.int32) + offsets


def firings(name: str, year: int, at: time) -> dict[date, datetime]:
    """Return, for every date shown in the year, the first minute that shows the hour or later."""
    first, wall = wall_minutes(name, year)
    highest = np.maximum.accumulate(wall)
    earliest = int(wall.min()) // DAY
    shown = np.flatnonzero(np.bincount(wall // DAY - earliest)) + earliest
    dates = [date.fromordinal(EPOCH_ORDINAL + int(n)) for n in shown]
    wanted = shown * DAY + at.hour * 60 + at.minute
    minutes = np.searchsorted(highest, wanted.astype(highest.dtype))
    return {
        day: datetime.fromtimestamp((first + int(minute)) * 60, tz=UTC)
        for day, minute in zip(dates, minutes, strict=True)
        if day.year == year
    }
