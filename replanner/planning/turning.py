"""Turn-back times, and where and until when to choose between a leg and its stand-in."""

from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

import numpy as np

from replanner.geodesy import geodesic
from replanner.planning.build import BuiltDay
from replanner.planning.build_way import BuiltWay, last_light
from replanner.planning.problem import DaySolution, Visit
from replanner.planning.slack import forbidden, room_before
from replanner.planning.timetable import in_by, slot_moment, timetable, whole_minutes
from replanner.trip.model import Exposure, Leg, LegId, LegKind, PlaceId, SurfaceClass, Tour, Way
from replanner.trip.passage import in_way, instant64, moment_of
from replanner.trip.stretches import leg_line, pieces


@dataclass(frozen=True, slots=True, kw_only=True)
class Choosing:
    """Where to choose between a leg of the plan and its stand-in.

    Parameters
    ----------
    place : PlaceId
        Where the stand-in is joined.
    planned, latest : datetime
        When the plan is there, and the latest instant there from which the day still works with
        the leg.
    arrival_instead : datetime or None
        Being in when the stand-in is taken at the planned instant; None: the rest of the day does
        not work then.
    arrival_instead_latest : datetime or None
        When it is taken at the latest instant.
    """

    leg: LegId
    instead: LegId
    place: PlaceId
    planned: datetime
    latest: datetime
    arrival_instead: datetime | None
    arrival_instead_latest: datetime | None


def turn_back(built: BuiltDay, solution: DaySolution, number: int) -> datetime | None:
    """Return the last instant to turn round on a spur or pass and still be in by dusk.

    It is told for a spur's far end, and for where a pass begins to be exposed: gone on or back
    from there at the cautious riding time, the leg is over in the light it needs and before any
    later start of it would be forbidden, and the base is reached before civil dusk (or the hard
    limit, where the plan itself is in after dusk).

    Parameters
    ----------
    number : int
        Which leg of the plan, from 0.

    Returns
    -------
    datetime or None
        None: the leg is neither spur nor pass, or a spur's far end is behind the riders.
    """
    visit = solution.visits[number]
    leg, way = built.legs[visit.leg].leg, built.way(visit.leg, visit.way)
    if leg.kind not in (LegKind.SPUR, LegKind.PASS):
        return None
    if leg.kind is LegKind.SPUR and leg.far_end <= 0.0:
        return None
    at = leg.far_end if leg.kind is LegKind.SPUR else _entrance(built, leg, way)
    times = timetable(built, solution)
    end = built.problem.legs[visit.leg].ways[visit.way].end
    home = float(built.connector_minutes[end, built.problem.end_place])
    over_by = in_by(built, times.arrival)
    if np.isnan(home):  # no plain road home: the rest of the plan is the way home
        over_by -= times.arrival - times.legs[number].end
    else:
        over_by -= whole_minutes(home)
    light = last_light(leg, built.light)
    if light is not None:
        over_by = min(over_by, moment_of(light))
    passage = way.passage
    left = passage.minutes - passage.minutes_to(at, leaving=True)
    last_start = _last_start(built, visit, number)
    return min(
        over_by - whole_minutes(float(left[visit.start_slot])),
        moment_of(passage.leaving(at)[last_start]),
    )


def decision_points(built: BuiltDay, solution: DaySolution) -> tuple[Choosing, ...]:
    """Return for each leg of the plan that has a stand-in where and until when to choose.

    A stand-in without a place to join it is chosen before its leg begins.
    """
    found: list[Choosing] = []
    for number, visit in enumerate(solution.visits):
        leg = built.legs[visit.leg].leg
        if leg.stand_in is None:
            continue
        other = built.tour.legs[leg.stand_in.leg]
        way = built.way(visit.leg, visit.way)
        start = leg.ends(way.way)[0]
        latest_slot = room_before(built, solution, number).start_slot
        joins = [(join.place, join.riding_minutes) for join in leg.stand_in.joins]
        for place, minutes in joins or [(start, other.riding_minutes)]:
            at = place_fraction(built.tour, leg, place, way.way)
            reaching = way.passage.reaching(at)
            planned = moment_of(reaching[visit.start_slot])
            latest = moment_of(reaching[latest_slot])
            found.append(
                Choosing(
                    leg=leg.id,
                    instead=other.id,
                    place=place,
                    planned=planned,
                    latest=latest,
                    arrival_instead=_arrival(built, solution, number, planned, minutes),
                    arrival_instead_latest=_arrival(built, solution, number, latest, minutes),
                )
            )
    return tuple(found)


def place_fraction(tour: Tour, leg: Leg, place: PlaceId, way: Way) -> float:
    """Return the fraction of the way ridden at which a place is met; off the leg: its start."""
    for section in leg.sections:
        if section.place == place:
            first_met = section.from_fraction if way is Way.FORWARD else section.to_fraction
            return in_way(first_met, way)
    start, end = leg.ends(way)
    if place not in leg.via:
        return 1.0 if place == end != start else 0.0
    point = tour.places[place].point
    line = leg_line(tour, leg)
    nearest = min(range(len(line)), key=lambda n: geodesic(line[n], point).distance)
    lengths = [geodesic(here, there).distance for here, there in pairwise(line)]
    return in_way(sum(lengths[:nearest]) / sum(lengths), way)


def _entrance(built: BuiltDay, leg: Leg, way: BuiltWay) -> float:
    """Return where a pass begins to be exposed in the way ridden; its start if nowhere."""
    for piece in pieces(built.tour, leg, way.way):
        road = piece.road
        if road.exposure is Exposure.EXPOSED or road.surface_class is SurfaceClass.TRACK:
            return piece.from_fraction
    return 0.0


def _last_start(built: BuiltDay, visit: Visit, number: int) -> int:
    """Return the last slot up to which the leg may start, from the planned one without a break."""
    slot = visit.start_slot
    while forbidden(built, visit, slot + 1, number) is None:
        slot += 1
    return slot


def _arrival(
    built: BuiltDay, solution: DaySolution, number: int, moment: datetime, minutes: float
) -> datetime | None:
    """Return when the riders are in if they join the stand-in of a leg at a moment."""
    visit = solution.visits[number]
    free = moment + whole_minutes(minutes)
    place = built.problem.legs[visit.leg].ways[visit.way].end
    for after in range(number + 1, len(solution.visits)):
        later = solution.visits[after]
        way = built.problem.legs[later.leg].ways[later.way]
        ready = free + whole_minutes(float(built.connector_minutes[place, way.start]))
        start = max(_slot_at(built, ready), later.start_slot)
        if forbidden(built, later, start, after) is not None:
            return None
        ride = float(built.way(later.leg, later.way).minutes[start])
        place, free = way.end, slot_moment(built, start) + whole_minutes(ride)
    road = float(built.connector_minutes[place, built.problem.end_place])
    arrival = free + whole_minutes(road)
    return arrival if arrival <= built.clock.by else None


def _slot_at(built: BuiltDay, moment: datetime) -> int:
    """Return the first slot not before a moment."""
    step = np.timedelta64(built.clock.slot_minutes * 60, "s")
    passed = instant64(moment) - instant64(built.clock.first_slot)
    return int(np.ceil(passed / step))
