"""What the rider's own order would meet if it were simply ridden: the baseline of every reason.

Leave when the rider would leave, ride leg after leg as soon as possible, wait only where a boat,
a tide or an opening hour makes everybody wait. Hazards and darkness stop nobody here: what they
would be is what has to be told.
"""

from dataclasses import dataclass, replace

import numpy as np

from replanner.clock import local_instant
from replanner.hazards.model import Finding
from replanner.planning.build import BuiltDay
from replanner.planning.day_search import DaySearch, SearchResult
from replanner.planning.problem import NEVER, DaySolution, Visit
from replanner.planning.tank import Tank, first_dry
from replanner.trip.model import LegId
from replanner.trip.passage import instant64
from replanner.trip.windows import Ban, BanKind

_EVERYBODY_WAITS = (BanKind.SAILING, BanKind.TIDE, BanKind.WINDOW)


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnVisit:
    """A leg of the own order as it would be met.

    `severity` is that of the start, 0..4 (first member); `ban` is what the plan would forbid
    there, None if nothing. `visit` is numbered as in the problem it was ridden on.
    """

    leg: LegId
    visit: Visit
    severity: float
    worst: Finding | None
    ban: Ban | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnRun:
    """The own order ridden as soon as possible from the own departure.

    Parameters
    ----------
    leave_slot : int
    visits : tuple of OwnVisit
        Legs reached before the slots of the day ran out or a road was missing.
    finish_slot : int or None
        None: it does not end within the day.
    value : float or None
        In the problem's own prices; None: something on it is forbidden, it runs dry, or it does
        not end. [min]
    dry : bool
        The smallest tank would be empty on the way.
    dry_leg : LegId or None
        On this leg or on the way to it; None: on the way to the end of the day.
    """

    leave_slot: int
    visits: tuple[OwnVisit, ...]
    finish_slot: int | None
    value: float | None
    dry: bool = False
    dry_leg: LegId | None = None

    @property
    def severity(self) -> float:
        """The worst severity met."""
        return max((met.severity for met in self.visits), default=0.0)

    @property
    def worst(self) -> OwnVisit | None:
        """The visit worst met, the first of equals; a forbidden one before all others."""
        return max(self.visits, key=lambda met: (met.ban is not None, met.severity), default=None)

    def met(self, leg: LegId) -> OwnVisit | None:
        """Return how a leg would be met; None: it would not be reached."""
        return next((met for met in self.visits if met.leg == leg), None)


def own_leave_slot(built: BuiltDay) -> int:
    """Return the slot in which the rider would leave anyway, within the day's slots of leaving."""
    clock, day = built.clock, built.day
    if day.own_departure is None:
        return clock.earliest
    wished = instant64(local_instant(day.date, day.own_departure, built.tour.zone))
    slot = int(np.searchsorted(clock.instants, wished))
    return min(max(slot, clock.earliest), clock.latest)


def own_run(built: BuiltDay, tank: Tank | None = None) -> OwnRun:
    """Ride the own order as it stands and tell what it meets, and where a tank runs dry."""
    run = _ridden(built)
    if tank is None or run.finish_slot is None:
        return run
    plan = DaySolution(
        value=0.0,
        bound=0.0,
        proven=False,
        leave_slot=run.leave_slot,
        visits=tuple(met.visit for met in run.visits),
        finish_slot=run.finish_slot,
    )
    dry = first_dry(built.problem, tank, plan)
    if dry is None:
        return run
    leg = None if dry.leg is None else built.legs[dry.leg].leg.id
    return replace(run, value=None, dry=True, dry_leg=leg)


def _ridden(built: BuiltDay) -> OwnRun:
    problem = built.problem
    leave = here = own_leave_slot(built)
    place = problem.start_place
    value = 0.0
    met: list[OwnVisit] = []
    for leg in built.own_order:
        step = _next(built, leg, place, here)
        if step is None:
            return OwnRun(leave_slot=leave, visits=tuple(met), finish_slot=None, value=None)
        visit, cost = step
        way = problem.legs[leg].ways[visit.way]
        met.append(_met(built, visit))
        value += float(way.worth[visit.start_slot]) - cost
        here = visit.start_slot + int(way.ride_slots[visit.start_slot])
        place = way.end
        if here >= problem.slots:
            return OwnRun(leave_slot=leave, visits=tuple(met), finish_slot=None, value=None)
    home = int(problem.travel_slots[place, problem.end_place, here])
    finish = here + home
    if home == NEVER or finish >= problem.slots:
        return OwnRun(leave_slot=leave, visits=tuple(met), finish_slot=None, value=None)
    value -= float(problem.travel_cost[place, problem.end_place, here])
    value -= float(problem.late[finish])
    sound = np.isfinite(value) and finish <= problem.by
    return OwnRun(
        leave_slot=leave,
        visits=tuple(met),
        finish_slot=finish,
        value=value if sound else None,
    )


def _next(built: BuiltDay, leg: int, place: int, here: int) -> tuple[Visit, float] | None:
    """Return the soonest way of riding a leg next, with the price of getting to it."""
    problem = built.problem
    best: tuple[int, int, Visit, float] | None = None
    for number, way in enumerate(problem.legs[leg].ways):
        travel = int(problem.travel_slots[place, way.start, here])
        arrival = here + travel
        if travel == NEVER or arrival >= problem.slots:
            continue
        start = _after_waiting(built, leg, number, arrival)
        over = start + int(way.ride_slots[start])
        cost = float(problem.travel_cost[place, way.start, here])
        cost += problem.wait_cost_per_slot * (start - arrival)
        key = (over, number)
        if best is None or key < best[:2]:
            best = (over, number, Visit(leg, number, start), cost)
    return None if best is None else (best[2], best[3])


def _after_waiting(built: BuiltDay, leg: int, way: int, arrival: int) -> int:
    """Return the slot of starting: the next boat or opening where there is one, else at once."""
    built_way = built.way(leg, way)
    for slot in range(arrival, built.problem.slots):
        ban = built_way.ban_at(slot)
        if ban is None or ban.kind not in _EVERYBODY_WAITS:
            return slot
    return arrival


def soonest_start(built: BuiltDay, leg: int, way: int) -> int | None:
    """Return when a leg begins that is ridden first when the day is left as ever; None: never.

    Nobody waits for the weather: only for a boat, a tide or an opening, as everybody has to.
    """
    problem, leave = built.problem, own_leave_slot(built)
    entry = problem.legs[leg].ways[way].start
    travel = int(problem.travel_slots[problem.start_place, entry, leave])
    if travel == NEVER or leave + travel >= problem.slots:
        return None
    return _after_waiting(built, leg, way, leave + travel)


def _met(built: BuiltDay, visit: Visit) -> OwnVisit:
    way = built.way(visit.leg, visit.way)
    severity = way.assessed.severity.reshape(-1, built.problem.slots)[0, visit.start_slot]
    return OwnVisit(
        leg=built.legs[visit.leg].leg.id,
        visit=visit,
        severity=float(severity),
        worst=way.assessed.findings[visit.start_slot],
        ban=way.ban_at(visit.start_slot),
    )


def best_plan(built: BuiltDay, search: DaySearch) -> SearchResult:
    """Return the best plan, another hour of leaving priced with `rules.departure_cost`.

    The price is not in the value told: it only has to be earned. Where there is no plan nobody is
    blamed: a day is searched for other ends too.
    """
    found, own = search.best(blamed=False), own_leave_slot(built)
    if found.solution is None or found.solution.leave_slot == own:
        return found
    kept = search.best(leave=own, blamed=False)
    if kept.solution is None:
        return found
    gain = found.solution.value - kept.solution.value
    return found if gain > built.rules.departure_cost else kept


def own_plan(built: BuiltDay, search: DaySearch) -> DaySolution | None:
    """Return the own order as a plan that keeps every limit; None: there is none.

    With the rider's own departure if that is possible, else timed as well as can be.
    """
    own, leave = built.own_order, own_leave_slot(built)
    return search.value_of_order(own, leave=leave) or search.value_of_order(own)
