"""The safest quick way in from where the riders are, told with every plan of a day under way."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime, time

from replanner.advice.briefing import HomeWay
from replanner.advice.case import note_of
from replanner.errors import NoPlanError
from replanner.planning.build import BuiltDay
from replanner.planning.day_clock import hard_limit
from replanner.planning.rules import Rules
from replanner.planning.way_home import WayIn, way_in
from replanner.service.day_ahead import DayAhead, day_ahead
from replanner.trip.connectors import connect, day_places
from replanner.trip.edits import Demands
from replanner.trip.fuel import fill_ups, ridden_since_full, usable_km
from replanner.trip.model import Day, Tour
from replanner.trip.plain_road import PlainRoads, roads_to
from replanner.trip.timing import Speeds
from replanner.trip.underway import Underway
from replanner.weather.daylight import daylight

# The way in is looked for until the local day is over.
_UNTIL = time(23, 59)


@dataclass(frozen=True, slots=True, kw_only=True)
class HomeDay:
    """A day of which only the way in counts.

    Parameters
    ----------
    ahead : DayAhead
        Without the day's own limits: the way in is told even when they are missed.
    limited : DayAhead
        With them.
    roads : PlainRoads
        Plain road to the day's end, among the legs of `ahead`.
    since_full : float or None
        Ridden since the tank was full; None: not known. [km]
    """

    ahead: DayAhead
    limited: DayAhead
    roads: PlainRoads
    since_full: float | None = None


def ways_to_weigh(
    tour: Tour, day: Day, now: datetime, demands: Demands, speeds: Speeds, detour_factor: float
) -> tuple[HomeDay, ...]:
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
    different = {one.first: one for one in found}.values()
    since_full = ridden_since_full(day, underway)
    return tuple(
        replace(only_the_way_in(one, speeds, detour_factor), since_full=since_full)
        for one in different
    )


def only_the_way_in(ahead: DayAhead, speeds: Speeds, detour_factor: float) -> HomeDay:
    """Return what is left of a day with only the legs that lead somewhere, and the plain roads in.

    Receptions and hours of arrival are no limit to it, nor is what else the rider wants.
    """
    first, tour = ahead.first, ahead.tour
    there = ahead.day.start == ahead.day.end  # nothing leads them home any more
    kept = tuple(
        leg
        for leg in ahead.day.legs
        if leg == first or not (there or tour.legs[leg].start == tour.legs[leg].end)
    )
    day = replace(ahead.day, own_order=kept, optional=(), latest_arrival=_UNTIL)
    connectors = connect(tour, day_places(tour, day), speeds, detour_factor)
    ends = (end for leg in kept for end in (tour.legs[leg].start, tour.legs[leg].end))
    roads = roads_to(tour, day.end, (day.start, *ends), connectors)
    day = replace(day, own_order=(*kept, *roads.legs))
    home = replace(
        tour,
        legs={**tour.legs, **roads.legs},
        days=tuple(day if one.date == day.date else one for one in tour.days),
        bases=(),
    )
    demands = replace(
        ahead.demands, homeward=True, own_order=False, forced=frozenset(), before=frozenset()
    )
    return HomeDay(
        ahead=replace(ahead, tour=home, day=day, demands=demands), limited=ahead, roads=roads
    )


def best_way_home(
    ways: Iterable[HomeDay], build: Callable[[DayAhead], BuiltDay], rules: Rules
) -> HomeWay | None:
    """Return the best of the ways home, the first of equals; None: none is known.

    Parameters
    ----------
    build : callable
        Builds the day of a way.
    """
    found: list[tuple[WayIn, HomeDay]] = []
    for home in ways:
        try:
            way = way_in(build(home.ahead), home.ahead.first, home.roads)
        except NoPlanError:  # the local day is over, or no road leads there
            continue
        if way is not None:
            found.append((way, home))
    if not found:
        return None
    way, home = min(found, key=lambda one: one[0].price)
    limit = limit_of(home.limited, rules)
    fill_up_at, short_km = _fuel(way, home)
    return HomeWay(
        departure=way.departure,
        arrival=way.arrival,
        legs=tuple(home.ahead.tour.legs[leg].name for leg in way.legs),
        severity=way.severity,
        worst=note_of(way.worst),
        turning_back=home.limited.turning_back,
        in_time=way.arrival <= limit,
        limit=limit,
        road_minutes=way.road_minutes,
        estimated=way.estimated,
        km=way.km,
        fill_up_at=fill_up_at,
        short_km=short_km,
    )


def _fuel(way: WayIn, home: HomeDay) -> tuple[tuple[str, ...], float | None]:
    """Return where to fill up on the way in, and how far the tank falls short. [km].

    Nowhere and 0.0 where no rider says how far a tank lasts, and None where it is not known what
    is left in it.
    """
    tour, usable = home.ahead.tour, usable_km(home.ahead.tour)
    if usable is None:
        return (), 0.0
    if home.since_full is None:
        return (), None
    pumps = [(km, tour.places[place].name) for km, place in way.pumps]
    return fill_ups(way.km, pumps, usable - home.since_full, usable)


def home_by(ways: Iterable[HomeDay], home: HomeWay) -> DayAhead:
    """Return the day, with its own limits, that goes on or turns back as the way home does."""
    return next(one.limited for one in ways if one.limited.turning_back is home.turning_back)


def limit_of(ahead: DayAhead, rules: Rules) -> datetime:
    """Return the hard limit of a day: reception, dusk or an hour of arrival, UTC."""
    end = ahead.tour.places[ahead.day.end].point
    light = daylight(end, ahead.day.date, ahead.tour.zone)
    return hard_limit(ahead.tour, ahead.day, light, rules)[0]
