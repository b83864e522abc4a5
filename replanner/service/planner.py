"""Builds the days of one tour on one forecast, and deals the legs out that they share."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from math import inf, isinf
from typing import NamedTuple

from replanner.advice.assemble import Move
from replanner.errors import NoPlanError
from replanner.hazards.assess import assess_day
from replanner.hazards.limits import Limits
from replanner.hazards.party import party_of
from replanner.hazards.plain_road import RoadWeather, road_weather
from replanner.hazards.resting import Resting
from replanner.planning.build import Assessed, BuiltDay, build_day
from replanner.planning.day_clock import DayClock, day_clock
from replanner.planning.fuelled_day import tank_of
from replanner.planning.own_run import OwnRun, own_run
from replanner.planning.plain_roads import RoadsWeather
from replanner.planning.rested_day import rested
from replanner.planning.rules import Rules
from replanner.planning.sharing import Legs, Shared, share_legs, shared_legs
from replanner.planning.tank import Tank
from replanner.planning.timetable import timetable
from replanner.ports import ForecastSource
from replanner.service.day_ahead import (
    DayAhead,
    as_demanded,
    rules_for,
)
from replanner.service.over_days import Weighed
from replanner.trip.connectors import connect, day_places
from replanner.trip.edits import Demands
from replanner.trip.fuel import km_since_full
from replanner.trip.model import Day, LegId, PlaceId, Tour
from replanner.trip.plain_road import road_points
from replanner.trip.timing import Speeds
from replanner.weather.daylight import daylight
from replanner.weather.hourly import PointHours, PointId
from replanner.weather.members import neighbours

# How many times longer is ridden in one go where a day has no plan with all its breaks: three
# hours, four, on and on. Better than no way in at all. Assumption.
LONGER_RIDES = (1.0, 1.5, 2.0, inf)


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


class Planner:
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
        own = own_run(built[0], tank_begun(built[0], demands))
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
        asked = demands.forced | moved_to(today, demands)
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
        return self.rested(day, binding, LONGER_RIDES[-1], doubted=False)

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


def tank_begun(built: BuiltDay, demands: Demands) -> Tank | None:
    """Return the tank of a day; on the road what is left is at best reckoned, and that is told."""
    begun = km_since_full(demands.underway)
    return None if begun is None else tank_of(built, begun)


def _tanks(days: Sequence[BuiltDay], demands: Demands) -> list[Tank | None]:
    """Return the tanks of the days left: each morning after today's it is full."""
    return [tank_begun(days[0], demands), *(tank_of(built) for built in days[1:])]


def moved_to(day: Day, demands: Demands) -> frozenset[LegId]:
    """Return the legs that the rider wants on a day."""
    return frozenset(leg for leg, at in demands.moved if at == day.date)


def _without_legs(day: Day, legs: Legs) -> Day:
    return replace(day, optional=tuple(leg for leg in day.optional if leg not in legs))
