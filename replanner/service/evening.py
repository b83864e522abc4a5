"""The corridor of one evening: from the tour to the briefing, one call a step."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import partial
from math import inf, isinf
from typing import NamedTuple, TypeVar

from replanner.advice.assemble import Move, Setting, brief, planned_roads
from replanner.advice.briefing import Briefing
from replanner.advice.case import Case
from replanner.advice.day_hours import day_hours
from replanner.advice.no_way import brief_no_way, brief_own_run
from replanner.advice.second_plan import second_plan
from replanner.clock import local_instant
from replanner.errors import NoPlanError
from replanner.hazards.assess import assess_day
from replanner.hazards.limits import Limits
from replanner.hazards.party import party_of
from replanner.hazards.plain_road import RoadWeather, road_weather
from replanner.hazards.resting import Resting
from replanner.planning.build import Assessed, BuiltDay, build_day
from replanner.planning.day_clock import DayClock, day_clock
from replanner.planning.demand import Clash, Demand, DemandKind
from replanner.planning.fuelled_day import tank_of
from replanner.planning.holding import Held, as_found, best_that_holds
from replanner.planning.own_run import OwnRun, own_plan, own_run
from replanner.planning.plain_roads import RoadsWeather
from replanner.planning.problem import DaySolution
from replanner.planning.rested_day import rested
from replanner.planning.rules import Rules
from replanner.planning.sharing import Legs, Shared, share_legs, shared_legs
from replanner.planning.tank import Tank
from replanner.planning.tank_blame import tank_blame
from replanner.planning.timetable import timetable
from replanner.ports import ForecastSource
from replanner.service.day_ahead import (
    DayAhead,
    as_demanded,
    day_ahead,
    rules_for,
)
from replanner.service.over_days import Weighed, with_over_days
from replanner.service.way_home import best_way_home, home_by, limit_of, ways_to_weigh
from replanner.service.weather_asked import weather_for
from replanner.trip.connectors import connect, day_places
from replanner.trip.edits import Demands
from replanner.trip.fuel import km_since_full
from replanner.trip.model import Day, LegId, PlaceId, Tour
from replanner.trip.plain_road import road_points
from replanner.trip.swaps import loops_of_other_days
from replanner.trip.timing import Speeds
from replanner.weather.daylight import daylight
from replanner.weather.hourly import PointHours, PointId, Window, hours_of
from replanner.weather.members import neighbours

# Rain two days back still lies on an unsealed road (limits.toml, wet track): the table has to
# begin that much earlier than the day.
_BEFORE = timedelta(hours=48)
# Past midnight of the day's end: a late arrival, and the hours after a passage.
_AFTER = timedelta(hours=30)
Found = TypeVar("Found")

# How many times longer is ridden in one go where a day has no plan with all its breaks: three
# hours, four, on and on. Better than no way in at all. Assumption.
_LONGER_RIDES = (1.0, 1.5, 2.0, inf)
# How far ahead days are weighed against each other: forecasts beyond are little better than
# climate. Assumption.
_DAYS_AHEAD = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """What an evening is planned with, beside the tour.

    `passing` answers for where riders are at this moment: nothing of it is kept. None: as
    `forecasts`.
    """

    forecasts: ForecastSource
    limits: Limits
    rules: Rules
    speeds: Speeds
    detour_factor: float
    language: str
    passing: ForecastSource | None = None


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
        return _Planner(one, means, hours).build(one.day, one.demands, longer_rides)

    home = _with_most_breaks(
        lambda longer: best_way_home(ways, partial(build, longer), means.rules),
        lambda found: found is not None,
    )
    if home is not None and demands.homeward:
        ahead = home_by(ways, home)
        days = days_to_weigh(ahead.tour, ahead.day, ahead.demands)
    setting = Setting(made_at=now, language=means.language, origin=forecast.origin)
    planner = _Planner(ahead, means, hours)
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
    planner: "_Planner", days: Sequence[Day], demands: Demands, setting: Setting
) -> Evening:
    """Plan a day with its breaks; one that has no plan then, with as few less as can be.

    A day without a plan on any account is told as it is with all of them.
    """

    def searched(longer_rides: float) -> tuple[SearchedDay, Setting]:
        shared = planner.share(days, demands, longer_rides)
        lacks = longer_rides > _LONGER_RIDES[0]
        return search_day(shared), replace(setting, moved=shared.moves, breaks_lack=lacks)

    found, told = _with_most_breaks(searched, lambda found: found[0].plan is not None)
    evening, weigh = tell_day(found, told), found.day.weighed
    weighed = None if weigh is None else weigh()
    if weighed is None:
        return evening
    return replace(evening, briefing=with_over_days(evening.briefing, weighed))


def _with_most_breaks(made: Callable[[float], Found], holds: Callable[[Found], bool]) -> Found:
    """Return what is made with the shortest rides with which it holds, else with those wanted."""
    as_wanted, *between, loosest = _LONGER_RIDES
    asked = made(as_wanted)
    if holds(asked):
        return asked
    last = made(loosest)
    if not holds(last):  # then nothing between does
        return asked
    return next((found for found in map(made, between) if holds(found)), last)


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedDay:
    """The day asked about, with what the days after it give it or take from it.

    Parameters
    ----------
    built : BuiltDay
    demands : Demands
        Those it is built under: those given, with each leg that another day rides kept there.
    own : OwnRun
        The rider's own order on the day as given, before anything was dealt to another day.
    moves : tuple of Move
        Legs that change days.
    weighed : callable or None
        Weighs the days anew, where one of them has no plan to follow and that is to be told.
    """

    built: BuiltDay
    demands: Demands
    own: OwnRun
    moves: tuple[Move, ...] = ()
    weighed: Callable[[], Weighed | None] | None = None


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
    tank = _tank(day.built, demands)

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


def _tank(built: BuiltDay, demands: Demands) -> Tank | None:
    """Return the tank of a day; on the road what is left is at best reckoned, and that is told."""
    begun = km_since_full(demands.underway)
    return None if begun is None else tank_of(built, begun)


def _tanks(days: Sequence[BuiltDay], demands: Demands) -> list[Tank | None]:
    """Return the tanks of the days left: each morning after today's it is full."""
    return [_tank(days[0], demands), *(tank_of(built) for built in days[1:])]


def days_to_weigh(tour: Tour, day: Day, demands: Demands) -> tuple[Day, ...]:
    """Return the day, and the days after it that could take a leg of it or give it one.

    Legs the rider asks for from elsewhere count as legs of the day, and so do loops of the days
    left that swap with it: in the evening, since on the road the other days are settled.
    """
    horizon = day.date + timedelta(days=_DAYS_AHEAD)
    left = tuple(other for other in tour.days if day.date <= other.date <= horizon)
    today = _with_legs(day, demands.forced | _moved_to(day, demands))
    if demands.own_order or demands.homeward:
        return (today,)
    swapped = () if demands.underway is not None else left
    today = _with_legs(today, frozenset(loops_of_other_days(tour, day, swapped)))
    later = tuple(
        _with_legs(other, _moved_to(other, demands) | {*loops_of_other_days(tour, other, swapped)})
        for other in left
        if other.date != day.date
    )
    return (today, *(other for other in later if set(other.legs) & set(today.legs)))


def _moved_to(day: Day, demands: Demands) -> frozenset[LegId]:
    return frozenset(leg for leg, at in demands.moved if at == day.date)


def _with_legs(day: Day, legs: frozenset[LegId]) -> Day:
    return replace(day, optional=(*day.optional, *sorted(legs - set(day.legs))))


def _without_legs(day: Day, legs: Legs) -> Day:
    return replace(day, optional=tuple(leg for leg in day.optional if leg not in legs))


def window_of(tour: Tour, days: Sequence[Day]) -> Window:
    """Return the hours of weather needed: two days before the first day to past the last."""
    first = local_instant(days[0].date, time(0), tour.zone) - _BEFORE
    last = local_instant(days[-1].date, time(0), tour.zone) + _AFTER
    return Window(first, last)


class _Terms(NamedTuple):
    """How days are weighed.

    `longer`: how many times as long as wanted is ridden without a break. `as_told` are later days
    judged by the forecast as it stands, whatever else it may turn out to be, and with as few breaks
    as can be.
    """

    longer: float
    as_told: frozenset[date] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Dealt:
    """The days left, their shared legs dealt out.

    Parameters
    ----------
    weighed : tuple of BuiltDay
        As given, before any leg was kept from a day.
    days : tuple of Day
        As dealt.
    shared : Shared
        A must that no day can ride is dealt to its own day.
    terms : _Terms
    without_plan : tuple of date
        The days after the one asked about that have no plan.
    no_go_roads : tuple of date
        Those that have none but over plain road that is no-go.
    """

    weighed: tuple[BuiltDay, ...]
    days: tuple[Day, ...]
    shared: Shared
    terms: _Terms
    without_plan: tuple[date, ...]
    no_go_roads: tuple[date, ...]

    def musts(self, tour: Tour) -> Iterator[tuple[Day, Legs]]:
        """Yield the days after the one asked about with what each must ride as dealt."""
        listing = Counter(leg for day in self.days for leg in day.legs)
        for day, dealt in zip(self.days[1:], self.shared.dealt[1:], strict=True):
            own = {leg for leg in day.legs if tour.legs[leg].must and listing[leg] == 1}
            yield day, dealt | own


class _Planner:
    """Builds days of one tour on one forecast."""

    def __init__(self, ahead: DayAhead, means: Means, hours: Mapping[PointId, PointHours]) -> None:
        self._ahead, self._means = ahead, means
        self._tour, self._now = ahead.tour, ahead.now
        self._hours = hours
        self._assessed: dict[
            tuple[date, datetime, int, int, bool, float, bool], tuple[Day, Assessed]
        ] = {}
        self._roads_known: dict[tuple[datetime, int, int, bool], dict[PlaceId, RoadWeather]] = {}

    def share(self, days: Sequence[Day], demands: Demands, longer_rides: float = 1.0) -> SharedDay:
        """Build the first day with what the days left give it or take from it.

        Parameters
        ----------
        longer_rides : float
            How many times as long as the rider wants may be ridden without a break.
        """
        terms = _Terms(longer_rides)
        built = self._build_all(days, demands, terms)
        own = own_run(built[0], _tank(built[0], demands))
        if len(built) == 1 or not shared_legs(built):
            return SharedDay(built=built[0], demands=demands, own=own)
        found = self._settled(days, demands, built, terms)
        shared = found.shared
        moves = tuple(
            Move(
                leg=leg,
                from_day=here,
                to_day=there,
                worth_minutes=self._worth(found, demands, leg, here),
            )
            for leg, here, there in shared.moved
        )
        spared = self._lent(days[0], demands) - shared.dealt[0]
        dealt = _pinned(demands, built, shared, spared)
        kept = dealt == demands and not spared
        today = (
            built[0] if kept else self.rested(_without_legs(days[0], spared), dealt, longer_rides)
        )
        weighed = self._weighed(days, demands, found)
        return SharedDay(built=today, demands=dealt, own=own, moves=moves, weighed=weighed)

    def _weighed(
        self, days: Sequence[Day], demands: Demands, found: _Dealt
    ) -> Callable[[], Weighed | None] | None:
        """Return how the days are told that have no plan to follow; None: they all have one.

        What is returned gives None where they all have one by the forecast itself.

        On the road the other days are settled: they are told of in the evening, by its forecast.
        """
        lacking = None in found.shared.solutions or found.no_go_roads
        if demands.underway is not None or not lacking:
            return None

        def weighed() -> Weighed | None:
            lacking = {*found.without_plan, *found.no_go_roads}
            if found.shared.solutions[0] is not None and all(
                self._goes_as_told(day, musts, _binding(days[0], demands))
                for day, musts in found.musts(self._tour)
                if day.date in lacking
            ):
                return None
            if found.shared.solutions[0] is None:  # any later day may yet take what it cannot
                lacking = {day.date for day in days[1:]}
            terms = found.terms._replace(as_told=frozenset(lacking))
            built = self._build_all(days, demands, terms)
            told = self._settled(days, demands, built, terms)
            here = (days[0].date,) if told.shared.solutions[0] is None else ()
            return Weighed(
                days=told.weighed,
                without_plan=(*here, *told.without_plan),
                no_go_roads=told.no_go_roads,
            )

        return weighed

    def _goes_as_told(self, day: Day, musts: Legs, binding: Demands) -> bool:
        """Return whether a later day has a plan by the forecast itself, with its musts alone.

        False where that cannot be told so quickly.
        """
        short = replace(
            day,
            own_order=tuple(leg for leg in day.own_order if leg in musts),
            optional=tuple(leg for leg in day.optional if leg in musts),
        )
        try:
            built = self._later(short, binding, _Terms(1.0, frozenset({day.date})))
        except NoPlanError:  # without its other legs no road leads to its end
            return False
        (plan,) = share_legs([built], [tank_of(built)]).solutions
        return plan is not None and not timetable(built, plan).no_go_road

    def _settled(
        self, days: Sequence[Day], demands: Demands, weighed: Sequence[BuiltDay], terms: _Terms
    ) -> _Dealt:
        """Deal the days left out so that no must is left to a day without a plan but its own."""
        built = weighed
        while True:
            shared = share_legs(built, _tanks(built, demands))
            strays = _strays(built, shared)
            if not any(strays):
                later = list(zip(built[1:], shared.solutions[1:], strict=True))
                return _Dealt(
                    weighed=tuple(weighed),
                    days=tuple(days),
                    shared=shared,
                    terms=terms,
                    without_plan=tuple(one.day.date for one, plan in later if plan is None),
                    no_go_roads=tuple(
                        one.day.date
                        for one, plan in later
                        if plan is not None and timetable(one, plan).no_go_road
                    ),
                )
            days = tuple(map(_without_legs, days, strays))
            built = self._build_all(days, demands, terms)

    def _lent(self, today: Day, demands: Demands) -> frozenset[LegId]:
        """Return the loops of other days that today may take though nobody has asked for it."""
        listed = next((day.legs for day in self._tour.days if day.date == today.date), ())
        asked = demands.forced | _moved_to(today, demands)
        return frozenset(today.legs) - frozenset(listed) - asked

    def _worth(self, found: _Dealt, demands: Demands, leg: LegId, home: date) -> float | None:
        """Return what moving one leg is worth: all days dealt again with it on its own day."""
        kept, shared = replace(demands, moved=demands.moved | {(leg, home)}), found.shared
        built = self._build_all(found.days, kept, found.terms)
        again = share_legs(built, _tanks(built, kept))
        if isinf(shared.gain) or isinf(again.gain):
            return None
        return shared.gain - again.gain

    def _build_all(self, days: Sequence[Day], demands: Demands, terms: _Terms) -> list[BuiltDay]:
        """Build the day asked about under its demands, and those after it under what binds them."""
        binding = _binding(days[0], demands)
        return [
            self.rested(days[0], demands, terms.longer),
            *(self._later(day, binding, terms) for day in days[1:]),
        ]

    def _later(self, day: Day, binding: Demands, terms: _Terms) -> BuiltDay:
        """Build the problem of a day after the one asked about."""
        if day.date not in terms.as_told:
            return self.rested(day, binding, terms.longer)
        return self.rested(day, binding, _LONGER_RIDES[-1], doubted=False)

    def rested(
        self, day: Day, demands: Demands, longer_rides: float, *, doubted: bool = True
    ) -> BuiltDay:
        """Build the problem of a day with its breaks."""
        midway = self._ahead.first is not None  # what was ridden before is the leg's own then
        built = self.build(day, demands, longer_rides, doubted=doubted)
        return rested(built, 0.0 if midway else self._ridden(demands))

    def _ridden(self, demands: Demands) -> float:
        """Return the minutes ridden in one go before the rest of a day under way."""
        underway = demands.underway
        if underway is None:
            return 0.0
        return underway.ridden_in_one_go(self._means.rules.break_minutes)

    def build(
        self, day: Day, demands: Demands, longer_rides: float, *, doubted: bool = True
    ) -> BuiltDay:
        """Build the problem of a day; legs have their own breaks, between them there are none."""
        means, first = self._means, self._ahead.first
        tour, demands = as_demanded(self._tour, day, demands, first)
        if demands.underway is not None and self._ahead.leaving is not None:
            demands = replace(demands, departure=self._ahead.leaving)
        rules = rules_for(means.rules, demands)
        rules = replace(rules, break_after_minutes=longer_rides * rules.break_after_minutes)
        start, end = tour.places[day.start].point, tour.places[day.end].point
        light_start = daylight(start, day.date, tour.zone)
        light_end = daylight(end, day.date, tour.zone)
        clock = day_clock(tour, day, light_start, light_end, rules, demands, self._now)
        return build_day(
            tour,
            day,
            self._assess(tour, day, clock, demands, longer_rides, doubted=doubted),
            light_start,
            light_end,
            rules,
            demands,
            connect(tour, day_places(tour, day), means.speeds, means.detour_factor),
            road_weather=self._roads(tour, day, clock, demands, doubted=doubted),
            earliest_now=self._now,
            no_wait=self._ahead.no_wait,
            midway=self._ridden(demands),
        )

    def _assess(
        self,
        tour: Tour,
        day: Day,
        clock: DayClock,
        demands: Demands,
        longer_rides: float,
        *,
        doubted: bool,
    ) -> Assessed:
        """Assess a day's legs over the members, once for all that bears on them.

        A day with fewer legs, some being dealt to other days, needs nothing new.
        """
        means, after = self._means, longer_rides * self._means.rules.break_after_minutes
        key = (
            day.date,
            clock.first_slot,
            clock.instants.size,
            demands.stricter,
            demands.homeward,
            after,
            doubted,
        )
        known = self._assessed.get(key)
        if known is not None and set(day.legs) <= set(known[0].legs):
            return known[1]
        limits = means.limits
        assessed = assess_day(
            tour,
            day,
            clock.instants,
            self._members(clock, self._hours, doubted=doubted),
            party_of(tour.riders, limits, stricter=demands.stricter),
            limits,
            demands.reports,
            Resting(
                after_minutes=after,
                minutes=means.rules.break_minutes,
                first=self._ahead.first,
                midway=self._ridden(demands),
            ),
        )
        self._assessed[key] = day, assessed
        return assessed

    def _roads(
        self, tour: Tour, day: Day, clock: DayClock, demands: Demands, *, doubted: bool
    ) -> RoadsWeather:
        """Judge plain road round the places of a day over the members, once."""
        places = day_places(tour, day)
        known = self._roads_known.setdefault(
            (clock.first_slot, clock.instants.size, demands.stricter, doubted), {}
        )
        new = [place for place in places if place not in known]
        if new:
            limits = self._means.limits
            party = party_of(tour.riders, limits, stricter=demands.stricter)
            members = self._members(clock, road_points(tour, new), doubted=doubted)
            known |= road_weather(tour, new, clock.instants, members, party, limits)
        return {place: known[place] for place in places}

    def _members(
        self, clock: DayClock, points: Iterable[PointId], *, doubted: bool
    ) -> dict[PointId, PointHours]:
        """Return the hours of points as members, as wide as the day is far ahead, or as told."""
        known = {point: self._hours[point] for point in points if point in self._hours}
        if not doubted:
            return known
        lead_hours = max((clock.first_slot - self._now).total_seconds() / 3600.0, 0.0)
        return {point: neighbours(hours, lead_hours) for point, hours in known.items()}


def _binding(today: Day, demands: Demands) -> Demands:
    """Return what of a day's demands binds later days as well.

    What is closed is closed on every day, what was reported counts until it expires, and a leg
    asked for today is not for another.
    """
    return Demands(
        closed=demands.closed,
        moved=demands.moved | {(leg, today.date) for leg in demands.forced},
        reports=demands.reports,
    )


def _pinned(
    demands: Demands, built: Sequence[BuiltDay], shared: Shared, spared: frozenset[LegId]
) -> Demands:
    """Return the demands with every leg that another day rides, itself or by stand-in, kept there.

    A leg that no day rides stays open for today: what it costs can be told. Only a must that is in
    no day's order is left to the last day listing it, though that has no plan then. `spared` are
    loops of other days that today has not taken after all.
    """
    listed = {leg for one in built for leg in one.day.optional}
    nobodys = frozenset(listed) - {leg for one in built for leg in one.day.own_order}
    there = {
        (leg, one.day.date)
        for one, legs, plan in zip(built[1:], shared.dealt[1:], shared.solutions[1:], strict=True)
        for leg in (legs - spared if plan is not None else legs & nobodys)
    }
    return replace(demands, moved=demands.moved | there)


def _strays(built: Sequence[BuiltDay], shared: Shared) -> tuple[Legs, ...]:
    """Return by day the musts that it must not be dealt: it has no plan, and they are another's.

    A day without a plan can be dealt any must at no loss. A must is of the day that has it in its
    order, else of the last one that lists it.
    """
    homes = {leg: number for number, one in enumerate(built) for leg in one.day.legs}
    for number, one in reversed(list(enumerate(built))):
        homes |= dict.fromkeys(one.day.own_order, number)
    without = [number for number, plan in enumerate(shared.solutions) if plan is None]
    astray = {
        leg
        for number in without
        for leg in shared.dealt[number]
        if homes.get(leg, number) != number
    }
    return tuple(
        frozenset(leg for leg in astray & {*one.day.optional} if homes[leg] != number)
        if number in without
        else frozenset()
        for number, one in enumerate(built)
    )
