"""What other days' conversations say of a day."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta, timezone

from replanner.dialogue.events import Memory
from replanner.trip.underway import Report

# A day begins nowhere earlier than there (IANA time zone database: Pacific/Kiritimati).
_EARLIEST_ZONE = timezone(timedelta(hours=14))


def recalled(memories: Mapping[date, Memory], day: date) -> Memory:
    """Return what a day's conversation has to know.

    Parameters
    ----------
    memories : mapping
        Of all days of a tour, the one kept last at the end. Each was begun with what the ones
        kept before it say of its day: what it does not say any more was taken back.
    day : date

    Returns
    -------
    Memory
        The day's own, with all moves and nights, and the reports that may still count on it.
        The zone of the day is not known here: a report is left out only if it has expired
        before the day begins anywhere on earth.
    """
    mine = memories.get(day, Memory())
    *_, newest = (mine, *memories.values())
    reports: frozenset[Report] = frozenset()
    for of_day, memory in memories.items():
        begins = _begins(of_day)  # of what had expired by then nothing was known any more
        older = (report for report in reports if report.until <= begins)
        reports = memory.demands.reports.union(older)
    demands = replace(
        mine.demands,
        moved=newest.demands.moved,
        nights=newest.demands.nights,
        reports=frozenset(report for report in reports if report.until > _begins(day)),
    )
    return replace(
        mine,
        demands=demands,
        cautions_shown=any(memory.cautions_shown for memory in memories.values()),
    )


def _begins(day: date) -> datetime:
    return datetime.combine(day, time(0), _EARLIEST_ZONE).astimezone(UTC)
