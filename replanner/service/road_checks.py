"""When the road ahead is looked at during the day: few times, each before it is too late to act."""

from collections.abc import Collection, Iterable
from datetime import datetime, timedelta

from replanner.advice.briefing import Briefing
from replanner.clock import require_aware
from replanner.hazards.model import CAUTION
from replanner.trip.model import Exposure, Leg, LegId

# Time to fetch, to feel the phone, to stop and to read. Assumption.
IN_HAND = timedelta(minutes=15)
# Forecasts change by the hour; a rider who is told more often stops reading. Assumption.
AT_MOST_EVERY = timedelta(minutes=45)


def road_check_times(
    departure: datetime,
    arrival: datetime,
    moments: Iterable[datetime],
    *,
    in_hand: timedelta = IN_HAND,
    at_most_every: timedelta = AT_MOST_EVERY,
) -> tuple[datetime, ...]:
    """Return when to check during a day, in order.

    A check looks at everything ahead, so a moment that follows another closely is served by the
    check of the first. Every moment whose time in hand begins after leaving has a check
    `in_hand` before it, or less than `at_most_every` before that; those of the first minutes
    are served by the morning's check.

    Parameters
    ----------
    moments : iterable of datetime
        The last moments to act (`moments_to_act`).

    Returns
    -------
    tuple of datetime
        UTC, after departure and before arrival, never closer than `at_most_every`.
    """
    first, last = require_aware("departure", departure), require_aware("arrival", arrival)
    checks: list[datetime] = []
    for moment in sorted(require_aware("moment", moment) - in_hand for moment in moments):
        if first < moment < last and (not checks or moment - checks[-1] >= at_most_every):
            checks.append(moment)
    return tuple(checks)


def moments_to_act(briefing: Briefing, exposed: Collection[LegId]) -> tuple[datetime, ...]:
    """Return the last moments at which a changed forecast could still be acted on, in order.

    They are the starts of every leg that has a decision point or lies open, and of every leg and
    plain road judged caution or worse or not known; the latest time of a decision point that is
    earlier. A later one is no such moment: who rides by the plan is past that point long before.

    Parameters
    ----------
    briefing : Briefing
        The plan being ridden.
    exposed : collection of LegId
        The legs that lie open (`exposed_legs`).
    """
    latest = {point.leg: point.latest for point in briefing.decision_points}
    watched = {*exposed, *latest}
    moments = {
        min(leg.start, latest.get(leg.id, leg.start))
        for leg in briefing.legs
        if leg.id in watched or leg.severity >= CAUTION
    }
    moments |= {road.leave for road in briefing.roads or () if road.severity >= CAUTION}
    return tuple(sorted(moments))


def exposed_legs(legs: Iterable[Leg]) -> frozenset[LegId]:
    """Return the legs that lie open to the wind, somewhere on their way at least."""
    return frozenset(leg.id for leg in legs if _most_exposed(leg) >= Exposure.OPEN)


def _most_exposed(leg: Leg) -> Exposure:
    return max((leg.road.exposure, *(section.road.exposure for section in leg.sections)))
