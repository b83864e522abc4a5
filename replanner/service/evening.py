"""The corridor of one evening: from the tour to the briefing, one call a step."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from functools import partial
from typing import TypeVar

from replanner.advice.assemble import Setting, brief, planned_roads
from replanner.advice.briefing import Briefing
from replanner.advice.case import Case
from replanner.advice.day_hours import day_hours
from replanner.advice.no_way import brief_no_way, brief_own_run
from replanner.advice.second_plan import second_plan
from replanner.clock import local_instant
from replanner.errors import NoPlanError
from replanner.planning.build import BuiltDay
from replanner.planning.demand import Clash, Demand, DemandKind
from replanner.planning.holding import Held, as_found, best_that_holds
from replanner.planning.own_run import own_plan, own_run
from replanner.planning.problem import DaySolution
from replanner.planning.tank import Tank
from replanner.planning.tank_blame import tank_blame
from replanner.planning.timetable import timetable
from replanner.service.day_ahead import (
    DayAhead,
    day_ahead,
)
from replanner.service.over_days import with_over_days
from replanner.service.planner import LONGER_RIDES, Means, Planner, SharedDay, moved_to, tank_begun
from replanner.service.way_home import best_way_home, home_by, limit_of, ways_to_weigh
from replanner.service.weather_asked import weather_for
from replanner.trip.edits import Demands
from replanner.trip.fuel import km_since_full
from replanner.trip.model import Day, LegId, Tour
from replanner.trip.swaps import loops_of_other_days, loops_to_swap
from replanner.weather.hourly import Window, hours_of

# Rain two days back still lies on an unsealed road (limits.toml, wet track): the table has to
# begin that much earlier than the day.
_BEFORE = timedelta(hours=48)
# Past midnight of the day's end: a late arrival, and the hours after a passage.
_AFTER = timedelta(hours=30)
Found = TypeVar("Found")

# How far ahead days are weighed against each other: forecasts beyond are little better than
# climate. Assumption.
_DAYS_AHEAD = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Evening:
    """A planned day: the briefing, and the problem it was solved as (for a dump)."""

    briefing: Briefing
    built: BuiltDay


def plan_day(tour: Tour, day: Day, now: datetime, demands: Demands, means: Means) -> Evening:
    """Plan a day: fetch, assess, build, search, explain.

    Parameters
    ----------
    now : datetime
        UTC-aware: what is past is no longer planned.
    demands : Demands
        What the rider has asked for. With `underway` only the rest of the day is planned, and the
        way home is told; a day too late to be planned is briefed as one without a way then.

    Raises
    ------
    ForecastError
        If no forecast can be had.
    NoPlanError
        If nothing is left of the day, or no road leads to its end.
    """
    ahead = day_ahead(tour, day, now, demands, means.speeds, means.detour_factor)
    days = days_to_weigh(ahead.tour, ahead.day, ahead.demands)
    ways = ways_to_weigh(tour, day, now, demands, means.speeds, means.detour_factor)
    forecast = weather_for(
        ahead,
        days,
        [way.ahead for way in ways],
        window_of(ahead.tour, days),
        means.forecasts,
        means.passing or means.forecasts,
    )

    hours = {point: hours_of(table) for point, table in forecast.tables.items()}

    def build(longer_rides: float, one: DayAhead) -> BuiltDay:
        return Planner(one, means, hours).build(one.day, one.demands, longer_rides)

    home = _with_most_breaks(
        lambda longer: best_way_home(ways, partial(build, longer), means.rules),
        lambda found: found is not None,
    )
    if home is not None and demands.homeward:
        ahead = home_by(ways, home)
        days = days_to_weigh(ahead.tour, ahead.day, ahead.demands)
    setting = Setting(made_at=now, language=means.language, origin=forecast.origin)
    planner = Planner(ahead, means, hours)
    try:
        planned = _with_breaks(planner, days, ahead.demands, setting)
        unknown = _without_tank(ahead.demands)
        if unknown != ahead.demands and _may_lack_fuel(planned.briefing, ahead.demands):
            # What is left in the tank is only reckoned: it bars no day, a caution tells of it.
            planned = _with_breaks(planner, days, unknown, setting)
    except NoPlanError:
        if home is None:
            raise
        late = build(1.0, ways[0].ahead)
        over = Demand(kind=DemandKind.END_BY, by=limit_of(ahead, means.rules))
        clash = Clash((over,), fewest=True)
        briefing = brief_no_way(late, own_run(late), clash, ahead.demands, setting)
        return Evening(briefing=replace(briefing, way_home=home), built=late)
    by_hour = day_hours(planned.briefing, planned.built, hours)
    return replace(planned, briefing=replace(planned.briefing, hours=by_hour, way_home=home))


def _with_breaks(
    planner: "Planner", days: Sequence[Day], demands: Demands, setting: Setting
) -> Evening:
    """Plan a day with its breaks; one that has no plan then, with as few less as can be.

    A day without a plan on any account is told as it is with all of them.
    """

    def searched(longer_rides: float) -> tuple[SearchedDay, Setting]:
        shared = planner.share(days, demands, longer_rides)
        lacks = longer_rides > LONGER_RIDES[0]
        return search_day(shared), replace(setting, moved=shared.moves, breaks_lack=lacks)

    found, told = _with_most_breaks(searched, lambda found: found[0].plan is not None)
    evening, weigh = tell_day(found, told), found.day.weighed
    weighed = None if weigh is None else weigh()
    if weighed is None:
        return evening
    return replace(evening, briefing=with_over_days(evening.briefing, weighed))


def _with_most_breaks(made: Callable[[float], Found], holds: Callable[[Found], bool]) -> Found:
    """Return what is made with the shortest rides with which it holds, else with those wanted."""
    as_wanted, *between, loosest = LONGER_RIDES
    asked = made(as_wanted)
    if holds(asked):
        return asked
    last = made(loosest)
    if not holds(last):  # then nothing between does
        return asked
    return next((found for found in map(made, between) if holds(found)), last)


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchedDay:
    """A day searched: nobody is blamed yet, since another day may be told.

    Parameters
    ----------
    day : SharedDay
    tank : Tank or None
    held : Held
    plan : DaySolution or None
        The one to tell, with `Demands.own_order` that order; None: there is none.
    """

    day: SharedDay
    tank: Tank | None
    held: Held
    plan: DaySolution | None


def search_day(day: SharedDay) -> SearchedDay:
    """Search a built day for the plan to tell."""
    demands, own = day.demands, day.own
    tank = tank_begun(day.built, demands)

    def plan_b(held: Held) -> tuple[DaySolution | None, ...]:
        kept = own_plan(held.built, held.search) if demands.own_order else None
        plan = kept or held.found.solution
        if plan is None:
            return ()
        case = Case(
            built=held.built,
            search=held.search,
            solution=plan,
            own=own,
            demands=demands,
        )
        return (second_plan(case),)

    search = as_found if demands.own_order else best_that_holds
    held = search(day.built, tank, plan_b)
    plan = own_plan(held.built, held.search) if demands.own_order else held.found.solution
    return SearchedDay(day=day, tank=tank, held=held, plan=plan)


def tell_day(searched: SearchedDay, setting: Setting) -> Evening:
    """Brief a searched day; of one without a plan tell what cannot hold together.

    Where the best plan rides plain road that is no-go, so do all others: there is none to follow.
    """
    day, held, plan = searched.day, searched.held, searched.plan
    demands, own, found = day.demands, day.own, held.found
    if plan is None and demands.own_order:
        return Evening(briefing=brief_own_run(day.built, own, setting), built=day.built)
    if plan is None:
        none = brief_no_way(day.built, own, _clash(searched), demands, setting)
        return Evening(briefing=none, built=held.built)
    times = timetable(held.built, plan)
    if not demands.own_order and times.no_go_road:
        roads = planned_roads(held.built, times)
        none = brief_no_way(day.built, own, Clash((), fewest=False), demands, setting, roads)
        return Evening(briefing=none, built=held.built)
    if found.solution is not None and found.solution.value > plan.value:
        plan = replace(plan, bound=found.bound, proven=False)  # kept, though another is better
    case = Case(built=held.built, search=held.search, solution=plan, own=own, demands=demands)
    second = second_plan(case) if held.told is None else held.told[0]
    return Evening(briefing=brief(case, second, setting), built=held.built)


def _clash(searched: SearchedDay) -> Clash[Demand]:
    """Return what cannot hold together on a day without a plan, on its tank or on any."""
    tank = searched.tank
    on_tank = None if tank is None else tank_blame(searched.day.built, tank)
    if on_tank is not None:
        return on_tank
    none = searched.held.search.best()
    return Clash(none.blame, none.blame_fewest)


def _may_lack_fuel(briefing: Briefing, demands: Demands) -> bool:
    """Return whether a day may have no plan for want of fuel; of an own order nobody is blamed."""
    lacks = any(one.kind is DemandKind.TANK for one in briefing.blame)
    return briefing.value_minutes is None and (lacks or demands.own_order)


def _without_tank(demands: Demands) -> Demands:
    """Return the demands of riders who do not know what is left in their tanks; full is known."""
    if demands.underway is None or km_since_full(demands.underway) == 0.0:
        return demands
    return replace(demands, underway=replace(demands.underway, tank_km=None))


def days_to_weigh(tour: Tour, day: Day, demands: Demands) -> tuple[Day, ...]:
    """Return the day, and the days after it that could take a leg of it or give it one.

    Legs the rider asks for from elsewhere count as legs of the day, and so do loops of the days
    left that swap with it: in the evening, since on the road the other days are settled.
    """
    horizon = day.date + timedelta(days=_DAYS_AHEAD)
    left = tuple(other for other in tour.days if day.date <= other.date <= horizon)
    today = _with_legs(day, demands.forced | moved_to(day, demands))
    if demands.own_order or demands.homeward:
        return (today,)
    swapped = () if demands.underway is not None else left
    loops = loops_to_swap(tour, swapped)
    today = _with_legs(today, loops & {*loops_of_other_days(tour, day, swapped)})
    later = tuple(
        _with_legs(
            other,
            moved_to(other, demands) | loops & {*loops_of_other_days(tour, other, swapped)},
        )
        for other in left
        if other.date != day.date
    )
    return (today, *(other for other in later if set(other.legs) & set(today.legs)))


def _with_legs(day: Day, legs: frozenset[LegId]) -> Day:
    return replace(day, optional=(*day.optional, *sorted(legs - set(day.legs))))


def window_of(tour: Tour, days: Sequence[Day]) -> Window:
    """Return the hours of weather needed: two days before the first day to past the last."""
    first = local_instant(days[0].date, time(0), tour.zone) - _BEFORE
    last = local_instant(days[-1].date, time(0), tour.zone) + _AFTER
    return Window(first, last)
