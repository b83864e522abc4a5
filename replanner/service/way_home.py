"""The safest quick way in from where the riders are, told with every plan of a day under way."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from replanner.errors import NoPlanError
from replanner.planning.build import BuiltDay
from replanner.planning.day_clock import hard_limit
from replanner.planning.rules import Rules
from replanner.planning.way_home import WayIn, way_in
from replanner.service.day_ahead import DayAhead, day_ahead, without_limit
from replanner.trip.edits import Demands
from replanner.trip.model import Day, Tour
from replanner.trip.timing import Speeds
from replanner.trip.underway import Underway
from replanner.weather.daylight import daylight


@dataclass(frozen=True, slots=True, kw_only=True)
class WayHome:
    """The safest quick way to the day's end.

    Parameters
    ----------
    turning_back : bool
        Back over the leg the riders are on; False: on to its end, or they are on none.
    limit : datetime
        The day's own hard limit: reception, dusk, an hour of arrival. UTC.
    """

    way: WayIn
    turning_back: bool
    limit: datetime

    @property
    def in_time(self) -> bool:
        """Whether it keeps the day's own hard limit."""
        return self.way.arrival <= self.limit


def ways_to_weigh(
    tour: Tour, day: Day, now: datetime, demands: Demands, speeds: Speeds, detour_factor: float
) -> tuple[DayAhead, ...]:
    """Return the days to weigh for the way home: on from where the riders are, and turning back.

    Empty for a day that is not under way.

    Raises
    ------
    NoPlanError
        If the riders ride on only on another local day.
    """
    underway = demands.underway
    if underway is None:
        return ()
    choices: tuple[Underway, ...] = (underway,)
    if underway.on_leg is not None and not underway.turning_back:
        choices = (underway, replace(underway, turning_back=True))
    found = [
        day_ahead(tour, day, now, replace(demands, underway=one), speeds, detour_factor)
        for one in choices
    ]
    return tuple({one.first: one for one in found}.values())


def best_way_home(
    ways: Iterable[DayAhead], build: Callable[[DayAhead], BuiltDay], rules: Rules
) -> WayHome | None:
    """Return the best of the ways home, the first of equals; None: none is known.

    Parameters
    ----------
    build : callable
        Builds the day of a way.
    """
    found: list[WayHome] = []
    for ahead in ways:
        try:
            way = way_in(build(without_limit(ahead)), ahead.first)
        except NoPlanError:  # the local day is over, or no road leads there
            continue
        if way is not None:
            end = daylight(ahead.tour.places[ahead.day.end].point, ahead.day.date, ahead.tour.zone)
            limit, _ = hard_limit(ahead.tour, ahead.day, end, rules)
            found.append(WayHome(way=way, turning_back=ahead.turning_back, limit=limit))
    return min(found, key=lambda one: one.way.price, default=None)
