"""The value of waiting: whether the decision can be left to the morning, and until when."""

from datetime import datetime, time, timedelta

from replanner.advice.briefing import Odds, Waiting
from replanner.advice.case import Case
from replanner.clock import local_instant
from replanner.planning.problem import DaySolution
from replanner.planning.waiting import gain_of_waiting, in_members

# How long before leaving the plan is looked at once more, and the riders have to know.
BEFORE_DEPARTURE = timedelta(minutes=45)
# Plan B has to win in this share of members at least: waiting for what hardly ever comes is no
# advice. Assumption.
WINS_AT_LEAST = 0.2


def value_of_waiting(
    case: Case,
    second: DaySolution,
    departures: tuple[datetime, datetime],
    odds: Odds,
    now: datetime,
) -> Waiting | None:
    """Return what choosing between plan and plan B in the morning gains, where worth telling.

    Both plans begin with leaving, so that nothing of either has to be done before the earlier
    departure: a first boat counts by the leaving for its quay, a loop tonight is of a day that has
    come. None on the day itself (its morning is here), under way, where the rider has chosen
    already, or where the gain is too small.

    Parameters
    ----------
    departures : tuple of datetime
        Of the plan and of plan B.
    odds : Odds
        Those told of the plan: where members cannot tell odds they cannot tell this.
    now : datetime
        When this is asked.
    """
    built, demands = case.built, case.demands
    decide_by = min(departures) - BEFORE_DEPARTURE
    midnight = local_instant(built.day.date, time.min, built.tour.zone)
    if demands.own_order or demands.homeward or demands.underway is not None:
        return None
    if now >= min(midnight, decide_by):
        return None
    gain = gain_of_waiting(in_members(built, case.solution), in_members(built, second))
    if gain.minutes <= built.rules.worth_waiting_minutes or gain.other_share < WINS_AT_LEAST:
        return None
    return Waiting(
        gain_minutes=gain.minutes,
        decide_by=decide_by,
        members=gain.members,
        other_share=gain.other_share,
        estimated=odds.estimated,
    )
