"""How long a plan has had its riders in the saddle since their last break."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

from replanner.advice.briefing import PlannedLeg
from replanner.trip.model import LegKind
from replanner.trip.timing import BREAK_MINUTES
from replanner.trip.underway import Underway

_BREAK = timedelta(minutes=BREAK_MINUTES)
_OFF_THE_BIKE = (LegKind.STOP.value, LegKind.CROSSING.value)

Still = tuple[datetime, datetime]


def ridden_minutes(
    legs: Iterable[PlannedLeg], leaving: datetime, moment: datetime, before: float = 0.0
) -> float:
    """Return the minutes ridden in one go by an instant of a plan.

    Between legs they ride, but for breaks that are planned there.

    Parameters
    ----------
    legs : iterable of PlannedLeg
    leaving : datetime
        When the plan begins.
    moment : datetime
    before : float
        Ridden in one go when it begins. [min]
    """
    if moment <= leaving:
        return before
    since, ridden = leaving, timedelta(minutes=before)
    for begin, end in _still(legs):
        if begin >= moment:
            break
        ridden += begin - since
        since = min(end, moment)
        if end - begin >= _BREAK:
            ridden = timedelta(0)
    return (ridden + (moment - since)) / timedelta(minutes=1)


def rested_until(known: Underway, moment: datetime) -> float:
    """Return the minutes ridden in one go by riders who ride on from where they were known to be.

    A halt that was told is a rest if it lasted; where none was told nobody knows.
    """
    halted = replace(known, ready=moment) if known.ready > known.at else known
    return halted.ridden_in_one_go(BREAK_MINUTES)


def rest_over(leg: PlannedLeg, moment: datetime) -> datetime:
    """Return when they ride on who have a break at an instant, on a leg or after it; else that."""
    ends = (begins + _BREAK for _, begins in leg.breaks if begins <= moment < begins + _BREAK)
    return max(ends, default=moment)


def _still(legs: Iterable[PlannedLeg]) -> Iterator[Still]:
    """Give every standstill of a plan in order, those that meet as one."""
    found: list[Still] = []
    for leg in legs:
        if leg.kind in _OFF_THE_BIKE:
            found.append((leg.start, leg.end))
            continue
        found += [(a, b) for (here, a), (there, b) in pairwise(leg.course) if here == there]
        found += [(begins, begins + _BREAK) for _, begins in leg.breaks]
    joined: list[Still] = []
    for begin, end in sorted(found):
        if joined and begin <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((begin, end))
    yield from joined
