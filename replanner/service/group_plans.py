"""The plan a conversation asks for: made anew, of a moment ago, or the last good one."""

from collections.abc import Callable
from datetime import datetime, timedelta

from replanner.advice.briefing import Briefing
from replanner.dialogue.events import Replan
from replanner.errors import ForecastError
from replanner.ports import PlanStore
from replanner.service.desk import Planner
from replanner.service.last_plan import last_plan_stale

# The riders of a group get their evening within minutes of each other; one plan serves them all.
_STILL_NEW = timedelta(minutes=60)

Maker = Callable[[Replan], Briefing]


def planner_for(
    make: Maker, store: PlanStore, tour_key: str, now: datetime, *, shared: bool
) -> Planner:
    """Return what answers the plans a conversation asks for.

    A wish is always planned anew. Without a forecast what is no wish gets the last plan, marked
    stale; a wish fails then.

    Parameters
    ----------
    make : callable
        Plans; raises ReplannerError.
    shared : bool
        Whether a plan made within the hour, for another rider of the group, will do.
    """

    def plan(request: Replan) -> tuple[Briefing, bool]:
        if shared and not request.wish:
            recent = store.newest_plan(tour_key, request.day)
            in_force = store.last_plan(tour_key, request.day)
            if recent is not None and recent == in_force and _is_new(recent, now):
                return recent, False
        try:
            return make(request), True
        except ForecastError as error:
            last = last_plan_stale(store, tour_key, request.day, error)
            if last is None or request.wish:
                raise
            return last, False

    return plan


def _is_new(plan: Briefing, now: datetime) -> bool:
    return timedelta(0) <= now - plan.made_at < _STILL_NEW
