"""A day of the tour, assessed, as a problem to be solved, and the way back from slots to roads."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import combinations, product

import numpy as np

from replanner.errors import NoPlanError
from replanner.hazards.assess import LegAssessment
from replanner.hazards.model import Finding, Floats
from replanner.planning.build_way import (
    BuiltWay,
    Frame,
    Light,
    build_way,
    ridden_alone,
    ridden_ways,
)
from replanner.planning.choice import Choice, choose_legs
from replanner.planning.day_clock import DayClock, day_clock, late_prices
from replanner.planning.plain_roads import RoadPassage, RoadsWeather, connected
from replanner.planning.problem import NEVER, DayProblem, LegWay, ProblemLeg
from replanner.planning.rest import Pauses
from replanner.planning.rules import Rules
from replanner.trip.connectors import ConnectorTable
from replanner.trip.edits import Demands
from replanner.trip.fuel import roads_km
from replanner.trip.model import Day, HaltKind, Leg, LegId, PlaceId, Tour, Way
from replanner.trip.passage import Instants
from replanner.trip.spans import Flags
from replanner.trip.windows import Ban
from replanner.weather.daylight import Daylight

Assessed = Mapping[tuple[LegId, Way], LegAssessment]


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltLeg:
    """A leg of the problem with its ways, as the problem numbers them."""

    leg: Leg
    ways: tuple[BuiltWay, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltDay:
    """A day's problem with everything needed to tell of it.

    Parameters
    ----------
    problem : DayProblem
        Its `own_order` holds the rider's own order with stand-ins in the place of their legs, so
        that taking one is no change of order.
    legs : tuple of BuiltLeg
        As numbered in the problem.
    places : tuple of PlaceId
        As numbered in the problem.
    own_order : tuple of int
        The rider's own order itself, without stand-ins; legs that are closed, left out or moved
        are not in it.
    connector_minutes : ndarray, shape (P, P)
        Slowed by the weather of the day; NaN: no road. [min]
    connector_estimated : ndarray of bool, shape (P, P)
    connector_km : ndarray, shape (P, P)
        Reckoned by their dry minutes where not known; NaN: no road. [km]
    whole : BuiltDay or None
        The day before its places were split by what is left in the tank, its legs numbered alike;
        None: they are not.
    pauses : mapping
        From place to place the breaks taken on that connector, where any.
    road_weather : mapping of PlaceId to RoadWeather
        Of plain road round the places, at the slots; empty: nobody has looked.
    """

    tour: Tour
    day: Day
    rules: Rules
    clock: DayClock
    light: Light
    problem: DayProblem
    legs: tuple[BuiltLeg, ...]
    places: tuple[PlaceId, ...]
    own_order: tuple[int, ...]
    connector_minutes: Floats
    connector_estimated: Flags
    connector_km: Floats
    whole: "BuiltDay | None" = None
    pauses: Mapping[tuple[int, int], Pauses] = field(default_factory=dict)
    road_weather: RoadsWeather = field(default_factory=dict)

    def index(self, leg: LegId) -> int:
        """Return the number of a leg in the problem; raises KeyError if it is not in it."""
        for number, built in enumerate(self.legs):
            if built.leg.id == leg:
                return number
        raise KeyError(leg)

    def way(self, leg: int, way: int) -> BuiltWay:
        """Return a way by its numbers in the problem."""
        return self.legs[leg].ways[way]

    def looked_at(self, start: int, end: int) -> bool:
        """Return whether a connector is ridden at all, and its weather is known of."""
        return bool(self.road_weather) and self.places[start] != self.places[end]

    def road(self, start: int, end: int, leave: int) -> RoadPassage | None:
        """Return a connector left in a slot; None: nobody rides it, or nobody has looked at it."""
        if not self.looked_at(start, end):
            return None
        return RoadPassage(
            start=self.road_weather[self.places[start]],
            end=self.road_weather[self.places[end]],
            minutes=float(self.connector_minutes[start, end]),
            leave=leave,
            over=leave + int(self.problem.travel_slots[start, end, 0]),
            rules=self.rules,
        )

    def ban(self, leg: int, slot: int) -> Ban | None:
        """Return why a leg may not start in a slot in any way; None: it may in one."""
        bans = [way.ban_at(slot) for way in self.legs[leg].ways]
        return None if None in bans else bans[0]

    def worst(self, leg: int, way: int, slot: int) -> Finding | None:
        """Return the worst hazard of a leg started in a slot."""
        return self.way(leg, way).assessed.findings[slot]


def build_day(
    tour: Tour,
    day: Day,
    assessed: Assessed,
    light_start: Daylight,
    light_end: Daylight,
    rules: Rules,
    demands: Demands,
    connectors: ConnectorTable,
    *,
    road_weather: RoadsWeather | None = None,
    missed: frozenset[LegId] = frozenset(),
    earliest_now: datetime | None = None,
    no_wait: frozenset[PlaceId] = frozenset(),
    midway: float = 0.0,
) -> BuiltDay:
    """Build the problem of a day.

    Parameters
    ----------
    assessed : mapping of (leg, way) to LegAssessment
        Every leg that `day_legs` names, for starts that hold every slot of `day_clock`.
    light_start, light_end : Daylight
        At the start of the day and at its end.
    connectors : ConnectorTable
        Between all places of the day, as `trip.connectors.day_places` names them.
    road_weather : mapping of PlaceId to RoadWeather, optional
        Of every place of the day, at the slots of `day_clock`; None: connectors are ridden as dry.
    missed : frozenset of LegId
        Never ridden yet, or missed: worth `rules.new_leg_bonus` more.
    earliest_now : datetime or None
        Nothing starts before this any more.
    no_wait : frozenset of PlaceId
        Places where nobody waits.
    midway : float
        Ridden since the last break by riders who begin at one of these. [min]

    Raises
    ------
    NoPlanError
        If nothing is left of the day, or no road leads to its end at all.
    ValueError
        If an assessment is missing or does not hold the day's slots.
    """
    clock = day_clock(tour, day, light_start, light_end, rules, demands, earliest_now)
    light = Light(light_start, light_end)
    frame = Frame(tour=tour, clock=clock, light=light, rules=rules, no_wait=no_wait, midway=midway)
    choice = choose_legs(tour, day, demands)
    own = tuple(leg for leg in day.own_order if leg in choice.legs)
    legs = tuple(
        _build_leg(frame, tour.legs[leg], assessed, bonus)
        for leg, bonus in _bonuses(choice, own, missed, rules).items()
    )
    numbers = {leg: number for number, leg in enumerate(choice.legs)}
    places = tuple(
        dict.fromkeys((day.start, day.end, *(p for b in legs for p in (b.leg.start, b.leg.end))))
    )
    rows = np.array([connectors.index(place) for place in places])
    dry = connectors.minutes[np.ix_(rows, rows)]
    weather = {} if road_weather is None else road_weather
    roads = connected(places, dry, weather, clock.instants.size, rules)
    problem = DayProblem(
        slot_minutes=clock.slot_minutes,
        first_slot=clock.first_slot,
        slots=clock.instants.size,
        travel_slots=roads.slots,
        travel_cost=roads.cost,
        wait_cost_per_slot=rules.waiting_cost * clock.slot_minutes,
        no_wait=frozenset(places.index(place) for place in no_wait if place in places),
        start_place=0,
        earliest=clock.earliest,
        latest=clock.latest,
        end_place=places.index(day.end),
        by=clock.instants.size - 1,
        # what leaving out the own order costs is owed by every plan that ends; each leg of it
        # that is ridden pays its part back
        late=late_prices(clock, rules) + rules.left_out_cost * len(own),
        legs=tuple(_problem_leg(b, places, must=b.leg.id in choice.musts) for b in legs),
        exactly_one=tuple((numbers[a], numbers[b]) for a, b in choice.exactly_one),
        at_most_one=tuple((numbers[a], numbers[b]) for a, b in choice.at_most_one),
        before=tuple((numbers[a], numbers[b]) for a, b in choice.before),
        own_order=tuple(numbers[leg] for leg in choice.order),
        order_cost=rules.order_cost,
    )
    if not legs and problem.travel_slots[0, problem.end_place, 0] == NEVER:
        raise NoPlanError(
            f"no road leads from {tour.places[day.start].name} to {tour.places[day.end].name}",
            where=day.date.isoformat(),
            mend="give a connector between them, or a leg",
        )
    return BuiltDay(
        tour=tour,
        day=day,
        rules=rules,
        clock=clock,
        light=light,
        problem=problem,
        legs=legs,
        places=places,
        own_order=tuple(numbers[leg] for leg in own),
        connector_minutes=roads.minutes,
        connector_estimated=connectors.estimated[np.ix_(rows, rows)],
        connector_km=roads_km(connectors.distance_km[np.ix_(rows, rows)], dry),
        road_weather=weather,
    )


def day_legs(tour: Tour, day: Day, demands: Demands) -> tuple[tuple[LegId, Way], ...]:
    """Return every leg and way a day's problem needs an assessment of."""
    return tuple(
        (leg, way)
        for leg in choose_legs(tour, day, demands).legs
        for way in ridden_ways(tour.legs[leg])
    )


def _bonuses(
    choice: Choice, own: tuple[LegId, ...], missed: frozenset[LegId], rules: Rules
) -> dict[LegId, float]:
    """Return what riding each leg is worth beyond its own worth.

    A leg of the own order pays back what leaving it out costs. So does a stand-in that takes its
    place, less the price of a change of order: of two as good the rider's own is ridden.
    """
    found = {leg: rules.new_leg_bonus if leg in missed else 0.0 for leg in choice.legs}
    for leg in own:
        found[leg] += rules.left_out_cost
    for leg, instead in (*choice.exactly_one, *choice.at_most_one):
        if leg in own:
            found[instead] += max(rules.left_out_cost - rules.order_cost, 0.0)
    return found


def _build_leg(frame: Frame, leg: Leg, assessed: Assessed, bonus: float) -> BuiltLeg:
    worth = leg.worth_minutes + bonus
    ways: list[BuiltWay] = []
    for way in ridden_ways(leg):
        if (leg.id, way) not in assessed:
            raise ValueError(f"leg {leg.id} has not been assessed in the {way.name.lower()} way")
        here = at_slots(assessed[leg.id, way], frame.clock.instants)
        riding = ridden_alone(frame, leg, here)
        choices = product(_fuel_taken(leg), (False, True), (False, True))
        for fuel, optional_halts, sits in choices:
            built = build_way(
                frame,
                leg,
                here,
                riding,
                leg_worth=worth,
                optional_halts=optional_halts,
                fuel=fuel,
                sits=sits,
            )
            if built is not None:
                ways.append(built)
    return BuiltLeg(leg=leg, ways=tuple(ways))


def _fuel_taken(leg: Leg) -> tuple[frozenset[int], ...]:
    """Return every choice among the fuel halts that may be left out; none of them first."""
    pumps = [n for n, halt in enumerate(leg.halts) if halt.optional and halt.kind is HaltKind.FUEL]
    return tuple(
        frozenset(chosen)
        for count in range(len(pumps) + 1)
        for chosen in combinations(pumps, count)
    )


def at_slots(assessed: LegAssessment, slots: Instants) -> LegAssessment:
    """Return an assessment at the slots of a day only.

    Raises
    ------
    ValueError
        If it does not hold every slot.
    """
    if np.array_equal(assessed.starts, slots):
        return assessed  # as it is: its findings are only looked for when one is asked for
    chosen = np.searchsorted(assessed.starts, slots)
    found = chosen < assessed.starts.size
    if not found.all() or not np.array_equal(assessed.starts[chosen], slots):
        raise ValueError(f"leg {assessed.leg} has not been assessed for every slot of the day")
    return replace(
        assessed,
        starts=slots,
        piece_minutes=assessed.piece_minutes[..., chosen],
        piece_severity=assessed.piece_severity[..., chosen],
        severity=assessed.severity[..., chosen],
        halt_fits=assessed.halt_fits[..., chosen],
        findings=tuple(assessed.findings[slot] for slot in chosen),
    )


def _problem_leg(built: BuiltLeg, places: tuple[PlaceId, ...], *, must: bool) -> ProblemLeg:
    ways = []
    for way in built.ways:
        start, end = built.leg.ends(way.way)
        ways.append(
            LegWay(
                start=places.index(start),
                end=places.index(end),
                ride_slots=way.ride_slots,
                worth=way.worth,
            )
        )
    return ProblemLeg(id=built.leg.id, must=must, ways=tuple(ways))
