"""How much a plan can lose: a delay put in front of a leg and carried on to the end of the day."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from replanner.hazards.model import Finding
from replanner.planning.build import BuiltDay
from replanner.planning.problem import NEVER, DaySolution, Visit
from replanner.planning.timetable import in_by, slot_moment, timetable
from replanner.trip.model import LegId
from replanner.trip.windows import BanKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Spare:
    """How late the day can run before its first limit breaks.

    Parameters
    ----------
    minutes : float
        Whole slots: never more than there is. [min]
    limit : str
        Which limit: a `BanKind`, or "dusk", or what sets the hard limit of arrival.
    name : str
        Of the window, where it is one.
    leg : LegId or None
        The leg it bears on; None: arrival.
    worst : Finding or None
        The worst hazard of that leg then, where a hazard forbids it.
    """

    minutes: float
    limit: str
    name: str
    leg: LegId | None
    worst: Finding | None = None


@dataclass(frozen=True, slots=True)
class Room:
    """Slots that can be lost before a leg of the plan, the slot it starts in then, what breaks."""

    slots: int
    start_slot: int
    broken: "Break"


@dataclass(frozen=True, slots=True)
class Break:
    """The first limit that breaks, and the number in the plan of the leg it breaks on.

    None: arrival. `worst` is the worst hazard of the leg then, where a hazard forbids it.
    """

    limit: str
    name: str
    number: int | None
    worst: Finding | None = None


def spare(built: BuiltDay, solution: DaySolution) -> Spare:
    """Return what the day can lose, wherever it is lost, before its first limit breaks.

    Waiting that comes after the loss makes up for it. The legs keep their order and ways; being
    in before civil dusk counts as a limit where the plan keeps it; in polar night, where no hour
    to be in by is named either, the dark has left nothing to lose. The day leaves when the rider
    is told to: what the plan in slots waits before the first leg is nothing to lose then.

    Raises
    ------
    ValueError
        If the plan breaks a limit as it stands.
    """
    rooms = [room_before(built, solution, number) for number in range(len(solution.visits) + 1)]
    least = min(rooms, key=lambda room: room.slots)
    if built.light.end.never_light and built.clock.by_cause == "end of the day":
        # nobody has named an hour to be in by: the dark does, and it is dark already
        return Spare(minutes=0.0, limit="darkness", name="", leg=None)
    number = least.broken.number
    return Spare(
        minutes=float(least.slots * built.clock.slot_minutes),
        limit=least.broken.limit,
        name=least.broken.name,
        leg=None if number is None else built.legs[solution.visits[number].leg].leg.id,
        worst=least.broken.worst,
    )


def room_before(built: BuiltDay, solution: DaySolution, number: int) -> Room:
    """Return how many slots can be lost before a leg of the plan.

    Parameters
    ----------
    number : int
        Which leg, from 0; the count of legs stands for the way to the end of the day.
    """
    told = _leaving_as_told(built, solution)
    limit = in_by(built, timetable(built, solution).arrival)
    start_slot, _ = _delayed(built, told, number, 0, limit)
    lost = 0
    while True:
        later, broken = _delayed(built, told, number, lost + 1, limit)
        if broken is not None:
            return Room(lost, start_slot, broken)
        lost, start_slot = lost + 1, later


def _leaving_as_told(built: BuiltDay, solution: DaySolution) -> DaySolution:
    """Return the plan left as late as the timetable says, by when its first leg is reached."""
    times = timetable(built, solution)
    if not times.legs:
        return solution
    entry = built.problem.legs[solution.visits[0].leg].ways[solution.visits[0].way].start
    road = int(built.problem.travel_slots[built.problem.start_place, entry, 0])
    step = timedelta(minutes=built.clock.slot_minutes)
    ready = -(-(times.legs[0].ready - built.clock.first_slot) // step)
    return replace(solution, leave_slot=max(solution.leave_slot, ready - road))


def forbidden(built: BuiltDay, visit: Visit, slot: int, number: int) -> Break | None:
    """Return what forbids a leg of the plan to start in a slot; None: nothing."""
    if slot >= built.problem.slots:
        return Break(built.clock.by_cause, "", number)
    way = built.way(visit.leg, visit.way)
    ban = way.ban_at(slot)
    if ban is not None and ban.kind is BanKind.ARRIVAL:
        return Break(ban.name, "", number)
    if ban is not None:
        worst = built.worst(visit.leg, visit.way, slot) if ban.kind is BanKind.HAZARD else None
        return Break(ban.kind.value, ban.name, number, worst)
    if not np.isfinite(way.worth[slot]):
        return Break("halt", built.legs[visit.leg].leg.name, number)
    return None


def _delayed(
    built: BuiltDay, solution: DaySolution, number: int, lost: int, limit: datetime
) -> tuple[int, Break | None]:
    """Return the start of a leg when slots are lost before it, and the first limit that breaks."""
    problem = built.problem
    place, free, begun = problem.start_place, solution.leave_slot, solution.finish_slot
    for k, visit in enumerate(solution.visits):
        way = problem.legs[visit.leg].ways[visit.way]
        ready = free + int(problem.travel_slots[place, way.start, 0]) + lost * (k == number)
        start = max(visit.start_slot, ready)
        if k == number:
            begun = start
        broken = forbidden(built, visit, start, k)
        if broken is not None:
            return begun, broken
        place, free = way.end, start + int(way.ride_slots[start])
    road = int(problem.travel_slots[place, problem.end_place, 0])
    if road == NEVER:
        return begun, Break(built.clock.by_cause, "", None)
    arrival = slot_moment(built, free + road + lost * (number >= len(solution.visits)))
    if arrival <= limit:
        return begun, None
    cause = "dusk" if limit == built.clock.civil_dusk else built.clock.by_cause
    return begun, Break(cause, "", None)
