"""The safest quick way in: what is left when nothing is ridden for its own sake any more.

It is told even where no plan holds, so nothing the weather or the light forbids is forbidden
here: it is a last resort, and the worst that is met is told. Boats, tides, gates and closures stop
the riders as ever.
"""

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from replanner.hazards.model import Finding, Floats
from replanner.planning.build import BuiltDay
from replanner.planning.build_way import BuiltWay
from replanner.planning.day_search import DaySearch
from replanner.planning.plain_roads import Met
from replanner.planning.prices import hazard_price
from replanner.planning.problem import NEVER, DayProblem, DaySolution, LegWay, ProblemLeg, Visit
from replanner.planning.timetable import slot_moment, whole_minutes
from replanner.trip.fuel import stretches_km
from replanner.trip.model import HaltKind, Leg, LegId, PlaceId
from replanner.trip.passage import in_way
from replanner.trip.plain_road import PlainRoads
from replanner.trip.windows import BanKind, halts_open

# What a leg that is no-go or out of the light costs here: a way round or a wait of up to that much
# comes first. Whoever has to wait longer is not on the way home but stays. Assumption. [min]
LAST_RESORT = 120.0
_FORBIDDEN_FOR_A_PLAN_ONLY = (BanKind.HAZARD, BanKind.LIGHT, BanKind.ARRIVAL)


@dataclass(frozen=True, slots=True, kw_only=True)
class WayIn:
    """The safest quick way to the end of the day.

    Parameters
    ----------
    departure, arrival : datetime
        UTC, begun minutes counted whole.
    legs : tuple of LegId
        In order; the rest is plain road.
    severity : float
        The worst met, 0..4 (first member), plain road between legs by the weather at its ends.
    worst : Finding or None
        The hazard that makes it so; None: nothing above level 1.
    road_minutes : float
        Of it on plain road. [min]
    estimated : bool
        Whether some of that is an estimate.
    price : float
        Its minutes and what it meets, in minutes of plain riding: to weigh ways in. [min]
    km : float
        How long it is. [km]
    pumps : tuple of (float, PlaceId)
        Where on it there is fuel that is open when they pass [km], in order.
    """

    departure: datetime
    arrival: datetime
    legs: tuple[LegId, ...]
    severity: float
    worst: Finding | None
    road_minutes: float
    estimated: bool
    price: float
    km: float
    pumps: tuple[tuple[float, PlaceId], ...]

    @property
    def minutes(self) -> float:
        """How long it takes, waiting for boats counted. [min]"""  # noqa: D400 - a unit ends it
        return (self.arrival - self.departure).total_seconds() / 60.0


def way_in(built: BuiltDay, first: LegId | None, roads: PlainRoads) -> WayIn | None:
    """Return the safest quick way from the start of a built day to its end, leaving at once.

    A minute ridden or waited costs a minute, and what is met on legs and roads costs as ever.

    Parameters
    ----------
    built : BuiltDay
        With as much time after its hard limit as riders may need.
    first : LegId or None
        A leg that has to be ridden first.
    roads : PlainRoads
        Legs of the day that are plain road to its end: ridden instead of connectors to it.

    Returns
    -------
    WayIn or None
        None: no way in within the day's slots.
    """
    useful = [
        number
        for number, one in enumerate(built.legs)
        if one.leg.id == first or one.leg.start != one.leg.end
    ]
    solution = DaySearch(_problem(built, useful, first)).best(blamed=False).solution
    return None if solution is None else _timed(built, useful, solution, roads)


def _problem(built: BuiltDay, useful: list[int], first: LegId | None) -> DayProblem:
    problem = built.problem
    places = {number: at for at, number in enumerate(useful)}

    def kept(groups: tuple[tuple[int, ...], ...]) -> tuple[tuple[int, ...], ...]:
        there = (tuple(places[one] for one in group if one in places) for group in groups)
        return tuple(group for group in there if len(group) > 1)

    # the last road is judged as a leg: there is no other
    travel = problem.travel_slots.copy()
    travel[np.arange(problem.places) != problem.end_place, problem.end_place] = NEVER
    return replace(
        problem,
        travel_slots=travel,
        legs=tuple(_leg(built, number, must=built.legs[number].leg.id == first)
                   for number in useful),
        wait_cost_per_slot=float(problem.slot_minutes),
        latest=problem.earliest,
        late=np.zeros(problem.slots),
        at_most_one=kept(problem.at_most_one + problem.exactly_one),
        exactly_one=(),
        before=tuple(pair for pair in kept(problem.before) if len(pair) == 2),  # noqa: PLR2004
        own_order=(),
        order_cost=0.0,
    )  # fmt: skip


def _leg(built: BuiltDay, number: int, *, must: bool) -> ProblemLeg:
    leg = built.problem.legs[number]
    ways = [
        LegWay(start=way.start, end=way.end, ride_slots=way.ride_slots, worth=_price(built, ridden))
        for way, ridden in zip(leg.ways, built.legs[number].ways, strict=True)
    ]
    return replace(leg, must=must, ways=tuple(ways))


def _price(built: BuiltDay, way: BuiltWay) -> Floats:
    """Return what each start is worth: less than nothing, by its minutes and what it meets."""
    worth = -way.minutes - hazard_price(way.assessed, way.verdict.avoid, built.rules)
    for ban, forbidden in way.bans:
        if ban.kind is BanKind.ARRIVAL or ban.kind not in _FORBIDDEN_FOR_A_PLAN_ONLY:
            worth[forbidden] = -np.inf
        else:
            worth[forbidden] -= LAST_RESORT
    return np.asarray(worth)


def _timed(built: BuiltDay, useful: list[int], solution: DaySolution, roads: PlainRoads) -> WayIn:
    problem = built.problem
    departure = here = slot_moment(built, solution.leave_slot)
    place, free = problem.start_place, solution.leave_slot
    road, estimated, km = 0.0, False, 0.0
    pumps: list[tuple[float, PlaceId]] = []
    names: list[LegId] = []
    met: list[Met] = []
    for visit in solution.visits:
        number = useful[visit.leg]
        entry = problem.legs[number].ways[visit.way]
        road += float(built.connector_minutes[place, entry.start])
        estimated |= bool(built.connector_estimated[place, entry.start])
        way = built.way(number, visit.way)
        km += float(built.connector_km[place, entry.start])
        leg, length = built.legs[number].leg, stretches_km(built.legs[number].leg, ())[0]
        pumps += [(km + at * length, pump) for at, pump in _open_pumps(built, leg, way, visit)]
        km += length
        name = built.legs[number].leg.id
        if name in roads.legs:
            road += float(way.minutes[visit.start_slot])
            estimated |= name in roads.estimated
        else:
            names.append(name)
        passage = built.road(place, entry.start, free)
        met += [] if passage is None else [passage.met()]
        severity = way.assessed.severity.reshape(-1, problem.slots)[0, visit.start_slot]
        met.append(Met(float(severity), built.worst(number, visit.way, visit.start_slot)))
        here = slot_moment(built, visit.start_slot)
        here += whole_minutes(float(way.minutes[visit.start_slot]))
        place, free = entry.end, visit.start_slot + int(way.ride_slots[visit.start_slot])
    severity, worst = max(met, key=lambda one: one.severity, default=Met(0.0, None))
    return WayIn(
        departure=departure,
        arrival=here,
        legs=tuple(names),
        severity=severity,
        worst=worst,
        road_minutes=road,
        estimated=estimated,
        price=-solution.value,
        km=km,
        pumps=tuple(pumps),
    )


def _open_pumps(
    built: BuiltDay, leg: Leg, way: BuiltWay, visit: Visit
) -> list[tuple[float, PlaceId]]:
    """Return the pumps of a leg that are open when passed, by fractions of the way ridden."""
    is_open = halts_open(leg, way.passage, built.tour.zone)[:, visit.start_slot]
    return sorted(
        (in_way(halt.fraction, way.way), halt.place)
        for halt, here in zip(leg.halts, is_open, strict=True)
        if halt.kind is HaltKind.FUEL and here
    )
