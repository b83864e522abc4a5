"""Stretches of time: weekly windows told in local wall time, as UTC spans that do not overlap."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from replanner.clock import local_instant
from replanner.trip.model import WeeklyWindow, WindowEffect
from replanner.trip.passage import Instants, instant64, moment_of

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Spans:
    """Spans of time in order, none touching the next; datetime64[s] UTC, shapes (N,)."""

    opens: Instants
    closes: Instants

    @classmethod
    def of(cls, pairs: Iterable[tuple[datetime, datetime]]) -> "Spans":
        """Join spans that meet; empty ones are dropped."""
        merged: list[tuple[datetime, datetime]] = []
        for opens, closes in sorted(pair for pair in pairs if pair[0] < pair[1]):
            if merged and opens <= merged[-1][1]:
                merged[-1] = (merged[-1][0], max(merged[-1][1], closes))
            else:
                merged.append((opens, closes))
        return cls(
            np.array([instant64(opens) for opens, _ in merged], dtype="datetime64[s]"),
            np.array([instant64(closes) for _, closes in merged], dtype="datetime64[s]"),
        )

    def hold(self, first: Instants, last: Instants) -> Flags:
        """Return where first and last lie in one span, its ends included."""
        return self._latest_closing(first) >= last

    def touch(self, first: Instants, last: Instants) -> Flags:
        """Return where a span has begun by `last` and not ended by `first`."""
        return self._latest_closing(last) > first

    def _latest_closing(self, instants: Instants) -> Instants:
        """Return when the last span that opens by each instant closes; long ago if none has."""
        long_ago = np.datetime64("0001-01-01T00:00:00", "s")
        closes = np.concatenate([[long_ago], self.closes])
        return np.asarray(closes[np.searchsorted(self.opens, instants, side="right")])


def weekly_spans(windows: Sequence[WeeklyWindow], zone: ZoneInfo, around: Instants) -> Spans:
    """Return the spans of weekly windows that can matter to the instants.

    A wall time a clock change doubles is taken on the safe side: what is open opens at the second
    and closes at the first, everything else begins at the first and ends at the second. A
    `closes` at or before `opens` is on the next day.
    """
    first = moment_of(around.min()).astimezone(zone).date() - timedelta(days=1)
    last = moment_of(around.max()).astimezone(zone).date() + timedelta(days=1)
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    return Spans.of(
        span_of_day(window, day, zone)
        for window in windows
        for day in days
        if day.weekday() in window.weekdays
    )


def span_of_day(window: WeeklyWindow, day: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """Return the span of a window that begins on a local day, UTC; its weekdays are not asked."""
    is_open = window.effect is WindowEffect.OPEN
    past_midnight = window.closes <= window.opens
    last_day = day + timedelta(days=1) if past_midnight else day
    opens = _second_instant if is_open else local_instant
    closes = local_instant if is_open else _second_instant
    return opens(day, window.opens, zone), closes(last_day, window.closes, zone)


def _second_instant(day: date, wall: time, zone: ZoneInfo) -> datetime:
    """Return the UTC instant of a wall time, the second one where a clock change doubles it."""
    first = local_instant(day, wall, zone)
    naive = datetime.combine(day, wall.replace(tzinfo=None, fold=1))
    second = naive.replace(tzinfo=zone).astimezone(UTC)
    there_and_back = second.astimezone(zone).replace(tzinfo=None, fold=1)
    return max(first, second) if there_and_back == naive else first
