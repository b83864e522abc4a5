"""What riders have reported of roads, until it expires: how it bears on the legs of a day.

A report makes a plan stricter, never looser, but for DRY (`hazards.reported`). Who said it is not
kept; it counts for every leg and rider of the tour alike.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from replanner.clock import day_over, local_instant
from replanner.trip.model import (
    Day,
    Ferry,
    Leg,
    LegId,
    LooseChippings,
    Road,
    Sailing,
    SurfaceClass,
    Tour,
    WeeklyWindow,
    WindowEffect,
)
from replanner.trip.underway import Report, ReportKind

REPORTED_CLOSED = "closed"
"""The name of the window of a road closed for part of a day."""


@dataclass(frozen=True, slots=True)
class Usual:
    """What is made of a report of which no more is said.

    Parameters
    ----------
    level : int
        2 caution, 3 avoid, 4 no-go; 0 for DRY.
    hours : float or None
        How long it counts; None: until the local day is over.
    source : str
        "common practice, no source" or "assumption".
    """

    level: int
    hours: float | None
    source: str


USUAL: Mapping[ReportKind, Usual] = {
    ReportKind.CLOSED: Usual(4, None, "until tonight: common practice, no source"),
    ReportKind.NO_SAILING: Usual(4, None, "until tonight: assumption"),
    ReportKind.GRAVEL: Usual(
        3, 7 * 24.0, "swept after about 7 days (UK councils); level: assumption"
    ),
    ReportKind.MUD: Usual(3, 24.0, "assumption"),
    ReportKind.SLIPPERY: Usual(3, 24.0, "assumption"),
    ReportKind.WIND: Usual(2, 2.0, "common practice, no source"),
    ReportKind.WET: Usual(2, 2.0, "assumption, as for wind"),
    ReportKind.FOG: Usual(2, 2.0, "assumption, as for wind"),
    ReportKind.DRY: Usual(0, 2.0, "assumption, as for wind"),
}


def report_of(
    leg: LegId, kind: ReportKind, since: datetime, zone: ZoneInfo, *, level: int | None = None
) -> Report:
    """Make a report of which no more is said than how bad it is, if that.

    Parameters
    ----------
    since : datetime
        When it was seen, UTC.
    level : int, optional
        How bad it was called; DRY has none.
    """
    usual = USUAL[kind]
    if usual.hours is None:
        until = day_over(since.astimezone(zone).date(), zone)
    else:
        until = since + timedelta(hours=usual.hours)
    told = usual.level if level is None or kind is ReportKind.DRY else level
    return Report(leg=leg, kind=kind, level=told, since=since, until=until)


def closed_on(reports: Iterable[Report], day: date, zone: ZoneInfo) -> frozenset[LegId]:
    """Return the legs closed until that local day is over."""
    begins, over = _bounds(day, zone)
    return frozenset(
        one.leg
        for one in reports
        if one.kind is ReportKind.CLOSED and one.since < over and one.until >= over
        and one.until > begins
    )  # fmt: skip


def with_reports(tour: Tour, reports: Iterable[Report], day: date) -> Tour:
    """Return the tour as the reports have it on a local day.

    Gravel lies on the whole leg as loose chippings until it expires; a road that opens again
    during the day is closed until then; boats that leave before a report of no sailing expires do
    not go. What the weather alone decides (wind, wet, dry, fog, mud, ice) stays with the reports,
    and so does what is closed all day: see `closed_on`.
    """
    legs = dict(tour.legs)
    for one in sorted(reports, key=lambda report: (report.leg, report.kind, report.until)):
        if one.leg in legs and _bears_on(one, day, tour.zone):
            legs[one.leg] = _reported(legs[one.leg], one, day, tour.zone)
    return tour if legs == tour.legs else replace(tour, legs=legs)


def bearing_on(reports: Iterable[Report], days: Iterable[Day], zone: ZoneInfo) -> frozenset[Report]:
    """Return the reports that still count on one of the days."""
    dates = [day.date for day in days]
    return frozenset(one for one in reports if any(_bears_on(one, each, zone) for each in dates))


def _bears_on(report: Report, day: date, zone: ZoneInfo) -> bool:
    begins, over = _bounds(day, zone)
    return report.since < over and report.until > begins


def _bounds(day: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    return local_instant(day, time(0), zone), day_over(day, zone)


def _reported(leg: Leg, report: Report, day: date, zone: ZoneInfo) -> Leg:
    if report.kind is ReportKind.GRAVEL:
        return _with_gravel(leg, report, zone)
    over = _bounds(day, zone)[1]
    if report.kind is ReportKind.CLOSED and report.until < over:
        return replace(leg, windows=(*leg.windows, _closed_until(report.until, day, zone)))
    if report.kind is ReportKind.NO_SAILING and leg.ferry is not None:
        return replace(leg, ferry=_not_before(leg.ferry, report.until, day, zone))
    return leg


def _with_gravel(leg: Leg, report: Report, zone: ZoneInfo) -> Leg:
    laid = report.since.astimezone(zone).date()
    loose = LooseChippings(laid=laid, assumed_until=report.until.astimezone(zone).date())
    return replace(
        leg,
        road=_loose(leg.road, loose),
        sections=tuple(replace(part, road=_loose(part.road, loose)) for part in leg.sections),
    )


def _loose(road: Road, loose: LooseChippings) -> Road:
    """Return a road with loose stones; of two dressings the fresher and the longer lasting."""
    if road.surface_class is SurfaceClass.WATER:
        return road
    known = road.chippings
    if known is not None and known.assumed_until >= loose.laid:
        loose = LooseChippings(
            laid=max(known.laid, loose.laid),
            assumed_until=max(known.assumed_until, loose.assumed_until),
        )
    return replace(road, chippings=loose)


def _closed_until(until: datetime, day: date, zone: ZoneInfo) -> WeeklyWindow:
    return WeeklyWindow(
        name=REPORTED_CLOSED,
        effect=WindowEffect.CLOSED,
        weekdays=frozenset({day.weekday()}),
        opens=time(0),
        closes=until.astimezone(zone).time(),
    )


def _not_before(ferry: Ferry, until: datetime, day: date, zone: ZoneInfo) -> Ferry:
    """Return a ferry without the boats of that day that leave before an instant."""
    weekday = frozenset({day.weekday()})
    sailings: list[Sailing] = []
    for one in ferry.sailings:
        if not one.weekdays & weekday:
            sailings.append(one)
            continue
        sailings.append(replace(one, weekdays=one.weekdays - weekday))
        later = tuple(wall for wall in one.departures if local_instant(day, wall, zone) >= until)
        sailings.append(replace(one, weekdays=weekday, departures=later))
    return replace(ferry, sailings=tuple(sailings))
