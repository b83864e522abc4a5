"""What is planned of a day: the whole of it, or the rest from where the riders are.

The rider's demands are turned into a tour and a day here; from then on a day under way is planned
like any other.
"""

from dataclasses import dataclass, replace
from datetime import datetime

from replanner.clock import require_aware
from replanner.planning.rules import Rules
from replanner.trip.edits import Demands
from replanner.trip.homeward import homeward
from replanner.trip.model import Day, LegId, PlaceId, Tour
from replanner.trip.nights import with_nights
from replanner.trip.reported import closed_on, with_reports
from replanner.trip.rest_of_day import HERE, RestOfDay, back_over, rest_of_day
from replanner.trip.timing import Speeds


@dataclass(frozen=True, slots=True, kw_only=True)
class DayAhead:
    """A day as it is planned.

    Parameters
    ----------
    now : datetime
        Nothing starts before this, UTC.
    first : LegId or None
        The leg the riders are on, or their way back over it: ridden first and at once.
    leaving : datetime or None
        When they leave and no other; None: as `demands` and the day say.
    """

    tour: Tour
    day: Day
    demands: Demands
    now: datetime
    first: LegId | None = None
    leaving: datetime | None = None

    @property
    def turning_back(self) -> bool:
        """Whether they ride back over the leg they are on."""
        underway = self.demands.underway
        on = None if underway is None else underway.on_leg
        return on is not None and self.first == back_over(on.leg)

    @property
    def no_wait(self) -> frozenset[PlaceId]:
        """Where nobody waits: on the leg they are on."""
        return frozenset() if self.first is None else frozenset({HERE})


def day_ahead(
    tour: Tour, day: Day, now: datetime, demands: Demands, speeds: Speeds, detour_factor: float
) -> DayAhead:
    """Return what is left to be planned of a day under the rider's demands.

    Raises
    ------
    NoPlanError
        As `trip.rest_of_day.rest_of_day`.
    """
    tour = with_nights(tour, demands.nights)
    day = _changed(tour, day)
    underway = demands.underway
    if underway is None:
        return DayAhead(tour=tour, day=day, demands=demands, now=now)
    shut = closed_on(demands.reports, day.date, tour.zone)
    demands = replace(demands, closed=demands.closed | shut)
    rest = rest_of_day(tour, day, demands, speeds, detour_factor)
    ready = require_aware("ready", rest.start)
    return DayAhead(
        tour=rest.tour,
        day=rest.day,
        demands=rest.demands,
        now=ready if rest.first is not None else max(ready, now),
        first=rest.first,
        leaving=_leaving(rest, now),
    )


def _changed(tour: Tour, day: Day) -> Day:
    """Return the day as the edited tour has it; one the tour does not have stays as it is."""
    return next((one for one in tour.days if one.date == day.date), day)


def _leaving(rest: RestOfDay, now: datetime) -> datetime | None:
    """Return when the riders leave for sure: at once on a leg, and when only the way in counts."""
    if rest.first is not None:
        return rest.start
    if rest.demands.homeward and rest.demands.departure is None:
        return max(rest.start, now)
    return None


def as_demanded(
    tour: Tour, day: Day, demands: Demands, first: LegId | None
) -> tuple[Tour, Demands]:
    """Return the tour and the demands of one day with what was reported, and only the way in."""
    tour = with_reports(tour, demands.reports, day.date)
    if demands.homeward:
        tour = homeward(tour, first)
    shut = closed_on(demands.reports, day.date, tour.zone)
    # the leg under way is not closed any more: the riders are on it, or on their way back
    return tour, replace(demands, closed=(demands.closed | shut) - {first})


def rules_for(rules: Rules, demands: Demands) -> Rules:
    """Return the prices of a day; where only the way in counts, every minute costs one."""
    if not demands.homeward:
        return rules
    return replace(
        rules,
        riding_cost=rules.connector_cost,
        waiting_cost=rules.connector_cost,
        order_cost=0.0,
        left_out_cost=0.0,
        departure_cost=0.0,
        new_leg_bonus=0.0,
    )
