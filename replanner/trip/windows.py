"""What windows of the week, tide tables and sailings say of riding a leg at each start.

Points are met at the fraction where they lie, mirrored when the leg is ridden in reverse, and as
late as halts and slow windows before them make the rider.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from replanner.clock import local_instant
from replanner.trip.model import Ferry, Leg, LegKind, TideTable, Way, WeeklyWindow, WindowEffect
from replanner.trip.passage import Instants, Passage, in_way, instant64, moment_of
from replanner.trip.spans import Flags, Spans, weekly_spans


class BanKind(StrEnum):
    """What can forbid starting a leg at some hour."""

    HAZARD = "hazard"
    WINDOW = "window"
    TIDE = "tide"
    SAILING = "sailing"
    LIGHT = "light"
    ARRIVAL = "arrival"


class Ban(NamedTuple):
    """Why a start is forbidden: the kind, and the name of the window or limit."""

    kind: BanKind
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowVerdict:
    """What the windows make of a leg, for each of S starts and K pieces.

    Parameters
    ----------
    passage : Passage
        The passage with the minutes added by slow windows and by waiting for the boat.
    added_minutes : ndarray, shape (S,)
        By slow windows. [min]
    avoid : ndarray of bool, shape (K, S)
        Pieces that a window says are better not ridden then.
    bans : tuple of (Ban, ndarray of bool shape (S,))
        Each window that forbids some start, with the starts it forbids.
    departure : ndarray of datetime64[s], shape (S,)
        The sailing boarded when started then; NaT where there is none.
    slow, avoided : tuple of (str, ndarray of bool shape (S,))
        Names of the windows that slow or are better avoided, with the starts that meet them.
    """

    passage: Passage
    added_minutes: NDArray[np.float64]
    avoid: Flags
    bans: tuple[tuple[Ban, Flags], ...]
    departure: Instants
    slow: tuple[tuple[str, Flags], ...]
    avoided: tuple[tuple[str, Flags], ...]

    @property
    def allowed(self) -> Flags:
        """Return where nothing forbids the start; shape (S,)."""
        allowed = np.ones(self.passage.starts.shape, dtype=np.bool_)
        for _, forbidden in self.bans:
            allowed &= ~forbidden
        return allowed


def judge_windows(leg: Leg, passage: Passage, zone: ZoneInfo, quay_minutes: float) -> WindowVerdict:
    """Judge every start of a leg by its windows, tides and sailings.

    Parameters
    ----------
    leg : Leg
    passage : Passage
        The leg as ridden from each of S starts, halts included.
    zone : ZoneInfo
        In which weekly windows and sailings are told.
    quay_minutes : float
        A sailing is boarded from starts in time for it, less than this before the last moment to
        board; at least the step of the starts. [min]

    Returns
    -------
    WindowVerdict
    """
    windows = [window for window in leg.windows if window.way in (None, passage.way)]
    departure = np.full(passage.starts.shape, np.datetime64("NaT"), dtype="datetime64[s]")
    bans: list[tuple[Ban, Flags]] = []
    if leg.ferry is not None:
        departure = boarded(leg.ferry, passage.way, passage.starts, zone, quay_minutes)
        sails = ~np.isnat(departure)
        bans.append((Ban(BanKind.SAILING, leg.name), ~sails))
        waiting = np.zeros(sails.shape)
        waiting[sails] = (departure[sails] - passage.starts[sails]) / np.timedelta64(60, "s")
        passage = passage.delayed(0.0, waiting)
    before = passage.minutes
    slow, passage = _slowed(windows, passage, zone)
    for window in _with(windows, WindowEffect.CLOSED):
        inside = _touched(window, passage, weekly_spans([window], zone, _around(passage)))
        bans.append((Ban(BanKind.WINDOW, window.name), inside))
    bans += _not_open(leg, _with(windows, WindowEffect.OPEN), passage, zone)
    if leg.tides is not None:
        bans.append((Ban(BanKind.TIDE, leg.name), _flooded(leg.tides, passage)))
    avoided, avoid = _avoided(_with(windows, WindowEffect.AVOID), passage, zone)
    return WindowVerdict(
        passage=passage,
        added_minutes=passage.minutes - before,
        avoid=avoid,
        bans=tuple((ban, forbidden) for ban, forbidden in bans if forbidden.any()),
        departure=departure,
        slow=slow,
        avoided=avoided,
    )


def halts_open(leg: Leg, passage: Passage, zone: ZoneInfo) -> Flags:
    """Return where each halt of a leg is open all the while it is made; always without hours.

    Returns
    -------
    ndarray of bool, shape (H, S)
    """
    found = np.ones((len(leg.halts), passage.starts.size), dtype=np.bool_)
    for number, halt in enumerate(leg.halts):
        if halt.hours is not None:
            spans = weekly_spans([halt.hours], zone, _around(passage))
            found[number] = _held(spans, passage, halt.fraction)
    return found


def boarded(
    ferry: Ferry, way: Way, starts: Instants, zone: ZoneInfo, quay_minutes: float
) -> Instants:
    """Return the sailing each start boards, the first it is in time for; NaT: none.

    Parameters
    ----------
    starts : ndarray of datetime64[s], shape (S,)
        Instants at the quay.
    quay_minutes : float
        As `judge_windows` has it. [min]

    Returns
    -------
    ndarray of datetime64[s], shape (S,)
    """
    longest = np.timedelta64(round(quay_minutes * 60), "s")
    found = np.full(starts.shape, np.datetime64("NaT"), dtype="datetime64[s]")
    for departure in reversed(departures(ferry, way, starts, zone)):
        latest = departure - np.timedelta64(round(ferry.boarding_minutes * 60), "s")
        boards = (starts <= latest) & (starts > latest - longest)
        found[boards] = departure
    return found


def departures(
    ferry: Ferry, way: Way, around: Instants, zone: ZoneInfo
) -> tuple[np.datetime64, ...]:
    """Return the sailings of that way from the day before to the day after, in order, UTC."""
    first = moment_of(around.min()).astimezone(zone).date() - timedelta(days=1)
    last = moment_of(around.max()).astimezone(zone).date() + timedelta(days=1)
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    return tuple(
        sorted(
            {
                instant64(local_instant(day, wall, zone))
                for sailing in ferry.sailings
                if sailing.way is way
                for day in days
                if day.weekday() in sailing.weekdays
                for wall in sailing.departures
            }
        )
    )


def _with(windows: Iterable[WeeklyWindow], effect: WindowEffect) -> list[WeeklyWindow]:
    return [window for window in windows if window.effect is effect]


def _around(passage: Passage) -> Instants:
    return np.concatenate([passage.starts, passage.ends])


def _slowed(
    windows: Sequence[WeeklyWindow], passage: Passage, zone: ZoneInfo
) -> tuple[tuple[tuple[str, Flags], ...], Passage]:
    """Add the minutes of slow windows, in the order they are met; each once."""
    way = passage.way
    met: list[tuple[str, Flags]] = []

    def first_met(window: WeeklyWindow) -> float:
        return min((in_way(fraction, way) for fraction in window.fractions), default=-1.0)

    for window in sorted(_with(windows, WindowEffect.SLOW), key=first_met):
        spans = weekly_spans([window], zone, _around(passage))
        inside = _touched(window, passage, spans)
        minutes = np.where(inside, window.added_minutes, 0.0)
        if window.fractions:
            passage = passage.delayed(first_met(window), minutes)
        else:
            passage = passage.slowed(minutes)
        met.append((window.name, inside))
    return tuple(met), passage


def _touched(window: WeeklyWindow, passage: Passage, spans: Spans) -> Flags:
    """Return where any of the window's points, or any of the leg, is met inside the spans."""
    if not window.fractions:
        return spans.touch(passage.starts, passage.ends)
    points = [in_way(fraction, passage.way) for fraction in window.fractions]
    inside = [spans.touch(passage.reaching(point), passage.leaving(point)) for point in points]
    return np.asarray(np.any(inside, axis=0))


def _not_open(
    leg: Leg, windows: Sequence[WeeklyWindow], passage: Passage, zone: ZoneInfo
) -> list[tuple[Ban, Flags]]:
    """Return for each name of windows the starts that meet one of its points closed."""
    found: list[tuple[Ban, Flags]] = []
    for name in dict.fromkeys(window.name for window in windows):
        named = [window for window in windows if window.name == name]
        closed = np.zeros(passage.starts.shape, dtype=np.bool_)
        for point in dict.fromkeys(point for window in named for point in _points(leg, window)):
            alternatives = [window for window in named if point in _points(leg, window)]
            spans = weekly_spans(alternatives, zone, _around(passage))
            closed |= ~_held(spans, passage, point)
        found.append((Ban(BanKind.WINDOW, name), closed))
    return found


def _points(leg: Leg, window: WeeklyWindow) -> tuple[float | None, ...]:
    """Return the points a window binds; None: the whole leg, as with the hours of a stop."""
    return window.fractions if window.fractions and leg.kind is not LegKind.STOP else (None,)


def _held(spans: Spans, passage: Passage, point: float | None) -> Flags:
    if point is None:
        return spans.hold(passage.starts, passage.ends)
    met = in_way(point, passage.way)
    return spans.hold(passage.reaching(met), passage.leaving(met))


def _flooded(tides: TideTable, passage: Passage) -> Flags:
    margin = timedelta(minutes=tides.margin_minutes)
    spans = Spans.of((opens + margin, closes - margin) for opens, closes in tides.open_utc)
    dry = [_held(spans, passage, point) for point in tides.fractions or (None,)]
    return np.asarray(~np.all(dry, axis=0))


def _avoided(
    windows: Sequence[WeeklyWindow], passage: Passage, zone: ZoneInfo
) -> tuple[tuple[tuple[str, Flags], ...], Flags]:
    """Return which windows are met at which starts, and the pieces they bear on."""
    avoid = np.zeros(passage.piece_minutes.shape, dtype=np.bool_)
    met: list[tuple[str, Flags]] = []
    for window in windows:
        spans = weekly_spans([window], zone, _around(passage))
        inside = _touched(window, passage, spans)
        met.append((window.name, inside))
        for k, (first, last) in enumerate(
            zip(passage.fractions[:-1], passage.fractions[1:], strict=True)
        ):
            if not window.fractions:
                avoid[k] |= spans.touch(passage.reaching(first), passage.reaching(last))
                continue
            for fraction in window.fractions:
                point = in_way(fraction, passage.way)
                if first <= point <= last:
                    instants = passage.reaching(point)
                    avoid[k] |= spans.touch(instants, instants)
    return tuple(met), avoid
