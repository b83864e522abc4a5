"""What other days' conversations say of a day."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta, timezone

from replanner.dialogue.events import Memory
from replanner.trip.model import LegId, PlaceId
from replanner.trip.underway import Report, ReportKind

# A day begins nowhere earlier than there (IANA time zone database: Pacific/Kiritimati).
_EARLIEST_ZONE = timezone(timedelta(hours=14))


def recalled(memories: Mapping[date, Memory], day: date) -> Memory:
    """Return what a day's conversation has to know.

    Parameters
    ----------
    memories : mapping
        Of all days of a tour, the one kept last at the end: the later word on a leg's day, on a
        night, on what a rider met on a leg takes the place of the earlier one.
    day : date

    Returns
    -------
    Memory
        The day's own, with all moves and nights, and the reports that may still count on it.
        The zone of the day is not known here: a report is left out only if it has expired
        before the day begins anywhere on earth.
    """
    mine = memories.get(day, Memory())
    moved: dict[LegId, date] = {}
    nights: dict[date, PlaceId] = {}
    reports: dict[tuple[LegId, ReportKind], frozenset[Report]] = {}
    for memory in memories.values():
        moved |= dict(memory.demands.moved)
        nights |= dict(memory.demands.nights)
        reports |= _by_leg_and_kind(memory.demands.reports)
    begins = datetime.combine(day, time(0), _EARLIEST_ZONE).astimezone(UTC)
    demands = replace(
        mine.demands,
        moved=frozenset(moved.items()),
        nights=frozenset(nights.items()),
        reports=frozenset(
            report for same in reports.values() for report in same if report.until > begins
        ),
    )
    return replace(
        mine,
        demands=demands,
        cautions_shown=any(memory.cautions_shown for memory in memories.values()),
    )


def _by_leg_and_kind(
    reports: frozenset[Report],
) -> dict[tuple[LegId, ReportKind], frozenset[Report]]:
    keys = {(report.leg, report.kind) for report in reports}
    return {
        key: frozenset(report for report in reports if (report.leg, report.kind) == key)
        for key in keys
    }
