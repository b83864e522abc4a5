"""The slots of a day: when leaving may begin, when all must be over, what being late costs."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta

import numpy as np

from replanner.clock import day_over, local_instant, require_aware
from replanner.errors import NoPlanError
from replanner.planning.problem import Minutes
from replanner.planning.rules import Rules
from replanner.trip.edits import Demands
from replanner.trip.model import Day, Tour
from replanner.trip.passage import Instants, instant64
from replanner.trip.small_hours import latest_arrival, reception_closes
from replanner.weather.daylight import Daylight

# Where the sun knows no dawn that day (polar day and night) somebody has to name an hour.
# Assumption.
EARLIEST_WITHOUT_DAWN = time(6)


@dataclass(frozen=True, slots=True, kw_only=True)
class DayClock:
    """The slots of a day and its limits.

    Parameters
    ----------
    instants : ndarray of datetime64[s], shape (T,)
        The slots, UTC; the last is the last one to be in.
    first_slot : datetime
    earliest, latest : int
        First and last slot of leaving.
    by : datetime
        The hard limit of arrival.
    by_cause : str
        What sets it: "latest arrival", "reception", "darkness" or "end of the day".
    sunset, civil_dusk : datetime or None
        Of that evening at the end of the day; None: does not occur.
    """

    slot_minutes: int
    instants: Instants
    first_slot: datetime
    earliest: int
    latest: int
    by: datetime
    by_cause: str
    sunset: datetime | None
    civil_dusk: datetime | None


def day_clock(
    tour: Tour,
    day: Day,
    light_start: Daylight,
    light_end: Daylight,
    rules: Rules,
    demands: Demands,
    earliest_now: datetime | None = None,
) -> DayClock:
    """Lay the slots over a local day, be it of 23, 24 or 25 hours.

    Slots lie on whole multiples of `rules.slot_minutes` in UTC, unless the rider names a minute
    of leaving: they count from that then.

    Parameters
    ----------
    light_start, light_end : Daylight
        At the start of the day and at its end.
    demands : Demands
        A `departure` on this local day is the only slot of leaving.
    earliest_now : datetime or None
        Nothing starts before this any more.

    Raises
    ------
    NoPlanError
        If nothing of the day is left.
    """
    zone = tour.zone
    by, cause = hard_limit(tour, day, light_end, rules)
    departure = _asked(demands, day, tour)
    if departure is not None:
        first = departure
    else:
        dawn = light_start.civil_dawn or local_instant(day.date, EARLIEST_WITHOUT_DAWN, zone)
        if day.earliest_departure is not None:
            dawn = local_instant(day.date, day.earliest_departure, zone)
        first = _rounded_up(dawn, rules.slot_minutes)
    step = timedelta(minutes=rules.slot_minutes)
    slots = (by - first) // step + 1
    latest = slots - 1
    if departure is not None:
        latest = 0
    elif day.latest_departure is not None:
        last_leaving = local_instant(day.date, day.latest_departure, zone)
        latest = min(latest, (last_leaving - first) // step)
    earliest = 0
    if earliest_now is not None and earliest_now > first:
        earliest = -((first - require_aware("earliest_now", earliest_now)) // step)
    if earliest_now is not None and earliest_now > by:
        raise NoPlanError(
            f"the day is over: it had to be in by {_wall(by, tour)}",
            where=day.date.isoformat(),
            mend="ask for a day to come",
        )
    if slots < 1 or earliest > latest:
        raise NoPlanError(
            "nothing is left of the day: "
            f"leaving by {_wall(first + latest * step, tour)}, in by {_wall(by, tour)}",
            where=day.date.isoformat(),
            mend="leave earlier, or arrive later",
        )
    return DayClock(
        slot_minutes=rules.slot_minutes,
        instants=instant64(first) + np.arange(slots) * np.timedelta64(rules.slot_minutes * 60, "s"),
        first_slot=first,
        earliest=earliest,
        latest=latest,
        by=by,
        by_cause=cause,
        sunset=light_end.sunset,
        civil_dusk=light_end.civil_dusk,
    )


def late_prices(clock: DayClock, rules: Rules) -> Minutes:
    """Return the price of finishing in each slot, shape (T,). [min].

    Without a dusk nothing is late but the hard limit.
    """
    if clock.civil_dusk is None:
        return np.zeros(clock.instants.shape)
    after_dusk = _minutes(clock.instants - instant64(clock.civil_dusk))
    after_wish = after_dusk + rules.wished_before_dusk_minutes
    late = rules.late_cost * np.maximum(after_wish, 0.0)
    return np.asarray(late + rules.dark_cost * np.maximum(after_dusk, 0.0))


def _asked(demands: Demands, day: Day, tour: Tour) -> datetime | None:
    """Return the minute of leaving the rider named, if it is one of this local day."""
    if demands.departure is None:
        return None
    departure = require_aware("departure", demands.departure)
    return departure if departure.astimezone(tour.zone).date() == day.date else None


def hard_limit(tour: Tour, day: Day, light: Daylight, rules: Rules) -> tuple[datetime, str]:
    """Return the instant a day has to be over by, and what sets it: see `DayClock.by_cause`."""
    named = [(latest_arrival(day, tour.zone), "latest arrival")]
    named += [
        (reception_closes(base, day.date, tour.zone), "reception")
        for base in tour.bases
        if base.place == day.end and day.date in base.nights
    ]
    limits = [(limit, cause) for limit, cause in named if limit is not None]
    if limits:
        return min(limits)
    if light.civil_dusk is not None:
        after = timedelta(minutes=rules.latest_after_dusk_minutes)
        return light.civil_dusk + after, "darkness"
    return day_over(day.date, tour.zone), "end of the day"


def _rounded_up(moment: datetime, slot_minutes: int) -> datetime:
    seconds = slot_minutes * 60
    return moment + timedelta(seconds=-moment.timestamp() % seconds)


def _minutes(spans: np.ndarray[tuple[int, ...], np.dtype[np.timedelta64]]) -> Minutes:
    return np.asarray(spans / np.timedelta64(60, "s"), dtype=np.float64)


def _wall(moment: datetime, tour: Tour) -> str:
    return moment.astimezone(tour.zone).strftime("%H:%M")
