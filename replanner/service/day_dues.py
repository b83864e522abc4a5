"""What is to be looked at, and when, once a day has a plan."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from replanner.advice.briefing import Briefing
from replanner.post import DueKind
from replanner.service.due import morning_due
from replanner.service.road_checks import exposed_legs, moments_to_act, road_check_times
from replanner.trip.model import Tour

# How long after the planned arrival somebody is asked after. Assumption.
OVERDUE_AFTER = timedelta(minutes=60)


def day_dues(
    plan: Briefing, tour: Tour, now: datetime, *, over: bool
) -> dict[DueKind, datetime | None]:
    """Return when each kind of look at a day is due next; None: not at all.

    The road is looked at on the day itself: the evening before, the day that is being ridden
    still has its own.

    Parameters
    ----------
    plan : Briefing
        The plan in force.
    over : bool
        The riders are in.
    """
    dues: dict[DueKind, datetime | None] = {}
    if plan.departure is None or plan.arrival is None:
        return dues
    morning = morning_due(plan.departure)
    if morning > now:
        dues[DueKind.MORNING] = morning
    if now.astimezone(ZoneInfo(plan.zone)).date() != plan.date:
        return dues
    if over:
        return {DueKind.MORNING: None, DueKind.ROAD_CHECK: None, DueKind.OVERDUE: None}
    dues[DueKind.ROAD_CHECK] = next_road_check(plan, tour, now)
    overdue = plan.arrival + OVERDUE_AFTER
    dues[DueKind.OVERDUE] = overdue if overdue > now else None
    return dues


def next_road_check(plan: Briefing, tour: Tour, now: datetime) -> datetime | None:
    """Return when the road ahead is looked at next on a day; None: not any more."""
    if plan.departure is None or plan.arrival is None:
        return None
    moments = moments_to_act(plan, exposed_legs(tour.legs.values()))
    checks = road_check_times(plan.departure, plan.arrival, moments)
    return next((check for check in checks if check > now), None)
