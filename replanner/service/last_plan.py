"""A night without a new plan: the last good one is sent again, marked stale."""

from dataclasses import replace
from datetime import date

from replanner.advice.briefing import Briefing
from replanner.errors import ForecastError
from replanner.ports import PlanStore


def last_plan_stale(
    store: PlanStore, tour_key: str, day: date, cause: ForecastError
) -> Briefing | None:
    """Return the last plan of a day, marked old with the cause; None where there is none."""
    last = store.last_plan(tour_key, day)
    if last is None:
        return None
    fault = cause.faults[0]
    told = f"{fault.where}: {fault.what}" if fault.where else fault.what
    return replace(last, plan_stale=True, stale_cause=told)
