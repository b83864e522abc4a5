"""Reasons, worked out: each change against the rider's own order is undone alone and solved again.

The difference in value is what the change is worth; the hazard record of the own order at the
hour it would have been met is why. Nothing here is worded.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from replanner.advice.briefing import Change, ChangeKind, HazardNote
from replanner.advice.case import (
    Case,
    note_of,
    price,
    severity_of,
    stand_in_of,
    worst_when_met,
)
from replanner.clock import local_instant
from replanner.hazards.model import CAUTION
from replanner.planning.day_search import DaySearch
from replanner.planning.own_run import OwnVisit, own_leave_slot, soonest_start
from replanner.planning.problem import DayProblem, DaySolution, Visit
from replanner.planning.timetable import slot_moment, timetable
from replanner.trip.model import LegId

# A departure is told as a change from this difference on: less is not worth a line. Assumption.
DEPARTURE_MATTERS_MINUTES = 10.0
# Where undoing it would lose less than this, no hazard is its reason. Assumption.
WORTH_A_REASON_MINUTES = 1.0
# A leg has moved in time when it starts this much earlier or later and meets at least this much
# less than the own order would. Assumptions.
HOUR_MATTERS_MINUTES = 60.0
SEVERITY_MATTERS = 1.0


def changes(case: Case, moved: Collection[LegId] = ()) -> tuple[Change, ...]:
    """Return every change against the own order within the day.

    Legs in `moved` have changed the day: they are told as that, not here.
    """
    shifted = tuple(_moved(case))
    left = () if shifted else tuple(_departure(case))
    found = (*_replaced_or_left_out(case), *shifted, *_added(case), *left)
    return tuple(change for change in found if change.leg not in moved)


def dearest_first(found: Iterable[Change]) -> tuple[Change, ...]:
    """Return changes by what undoing them would lose; those that cannot be undone before all."""
    return tuple(
        sorted(
            found,
            key=lambda change: (change.worth_minutes is not None, -(change.worth_minutes or 0.0)),
        )
    )


def _replaced_or_left_out(case: Case) -> Iterable[Change]:
    built, ridden = case.built, set(case.solution.legs)
    for leg in built.own_order:
        if leg in ridden:
            continue
        stand_in = stand_in_of(built, leg)
        other = built.legs[stand_in].leg.id if stand_in in ridden and stand_in is not None else None
        met = case.own.met(built.legs[leg].leg.id)
        yield Change(
            kind=ChangeKind.LEFT_OUT if other is None else ChangeKind.STAND_IN,
            leg=built.legs[leg].leg.id,
            worth_minutes=price(case, case.search.best_with(frozenset({leg})).solution),
            reason=note_of(worst_when_met(case, leg)),
            own_start=None if met is None else slot_moment(built, met.visit.start_slot),
            other_leg=other,
        )


def _added(case: Case) -> Iterable[Change]:
    """Return legs beyond the own order; what the rider has asked for needs no reason."""
    built = case.built
    asked = case.demands.forced | {leg for leg, _ in case.demands.moved}
    own = set(built.own_order) | {n for n, leg in enumerate(built.legs) if leg.leg.id in asked}
    stand_ins = {stand_in_of(built, leg) for leg in own}
    for visit in case.solution.visits:
        if visit.leg in own or visit.leg in stand_ins:
            continue
        without = case.search.best_without(frozenset({visit.leg}))
        yield Change(
            kind=ChangeKind.ADDED,
            leg=built.legs[visit.leg].leg.id,
            worth_minutes=price(case, without.solution),
            reason=None,
            new_start=slot_moment(built, visit.start_slot),
        )


def _moved(case: Case) -> Iterable[Change]:
    """Return legs ridden out of their own order, or at quite another hour for the hazards' sake."""
    built = case.built
    ranks = {leg: rank for rank, leg in enumerate(built.problem.own_order)}
    order = [leg for leg in case.solution.legs if leg in ranks]
    stays = longest_run(ranks[leg] for leg in order)
    for visit in case.solution.visits:
        leg, met = visit.leg, case.own.met(built.legs[visit.leg].leg.id)
        if leg not in ranks:
            continue
        if ranks[leg] not in stays:
            undone, reason = _solve_in_own_place(case, leg, order, ranks), _why_moved(case, order)
        elif met is not None and _fled(case, visit, met):
            undone = _solve_at_own_hour(case, leg, met.visit.start_slot)
            reason = note_of(met.worst)
        else:
            continue
        yield Change(
            kind=ChangeKind.MOVED,
            leg=built.legs[leg].leg.id,
            worth_minutes=price(case, undone),
            reason=reason,
            own_start=None if met is None else slot_moment(built, met.visit.start_slot),
            new_start=slot_moment(built, visit.start_slot),
        )


def _fled(case: Case, visit: Visit, met: OwnVisit) -> bool:
    """Return whether other legs were put before or behind a leg that meets clearly less so.

    Where the same legs come before it as ever, only the hour of leaving has changed; a leg that
    is not ridden at all is told as left out, and has changed places with nobody.
    """
    ridden = case.solution.legs
    own = [leg for leg in case.built.own_order if leg in ridden]
    if _before(ridden, visit.leg) == _before(own, visit.leg):
        return False
    slots = abs(visit.start_slot - met.visit.start_slot)
    eased = met.severity - severity_of(case.built, visit)
    return (
        slots * case.built.problem.slot_minutes >= HOUR_MATTERS_MINUTES
        and met.severity >= CAUTION
        and eased >= SEVERITY_MATTERS
    )


def _before(order: Sequence[int], leg: int) -> frozenset[int]:
    return frozenset(order[: order.index(leg)])


def _why_moved(case: Case, order: Sequence[int]) -> HazardNote | None:
    """Return the worst that the legs that changed places would meet in the own order."""
    met = [case.own.met(case.built.legs[leg].leg.id) for leg in order]
    worsts = [one for one in met if one is not None and one.worst is not None]
    worst = max(worsts, key=lambda one: one.severity, default=None)
    return None if worst is None else note_of(worst.worst)


def _solve_at_own_hour(case: Case, leg: int, own_slot: int) -> DaySolution | None:
    """Solve with one leg started about when the own order would, everything else free."""
    problem = case.built.problem
    near = HOUR_MATTERS_MINUTES / problem.slot_minutes / 2
    away = np.abs(np.arange(problem.slots) - own_slot) > near
    return case.search.kept_away(leg, away).best_with(frozenset({leg})).solution


def _solve_in_own_place(
    case: Case, leg: int, order: Sequence[int], ranks: dict[int, int]
) -> DaySolution | None:
    """Solve with one leg back in its own place among those ridden, everything else free."""
    pairs = [
        (leg, other) if ranks[leg] < ranks[other] else (other, leg)
        for other in order
        if other != leg
    ]
    problem = case.built.problem
    return _solved(replace(problem, before=tuple(dict.fromkeys((*problem.before, *pairs)))), leg)


def _solved(problem: DayProblem, forced: int | None = None) -> DaySolution | None:
    legs = frozenset() if forced is None else frozenset({forced})
    return DaySearch(problem).best_with(legs).solution


def _departure(case: Case) -> Iterable[Change]:
    """Return another hour of leaving, where no leg of the own order has moved to cause it.

    What is told counts: the rider's own hour, also one before the day's first slot, against the
    hour told, as late as the first leg allows. Undone, the day is left in the rider's own slot
    and its first leg is begun at once, so that it is told as left then.
    """
    built = case.built
    if not case.solution.visits and built.day.start == built.day.end:
        return  # nobody leaves
    wished, new = _wished_departure(case), timetable(built, case.solution).departure
    if abs(new - wished) < timedelta(minutes=DEPARTURE_MATTERS_MINUTES):
        return
    own, worth, reason = case.own.leave_slot, None, None
    if wished > slot_moment(built, own - 1):  # else no plan can keep it: too dark, or past
        worth = _price_as_ever(case)
        worst = case.own.worst
        if worst is not None and (worth is None or worth >= WORTH_A_REASON_MINUTES):
            reason = note_of(worst.worst)
    yield Change(
        kind=ChangeKind.DEPARTURE,
        leg=None,
        worth_minutes=worth,
        reason=reason,
        own_start=wished,
        new_start=new,
    )


def _price_as_ever(case: Case) -> float | None:
    """Return what leaving as ever loses; None: no plan does. With the own order kept, that plan."""
    if case.demands.own_order:
        own = case.own.value
        return None if own is None else max(case.solution.value - own, 0.0)
    values = [_value_begun_with(case, leg) for leg in range(len(case.built.legs))]
    best = max((value for value in values if value is not None), default=None)
    return None if best is None else max(case.solution.value - best, 0.0)


def _value_begun_with(case: Case, leg: int) -> float | None:
    """Return what the day is worth left as ever, a leg begun first as soon as it is reached."""
    built = case.built
    ways = range(len(built.problem.legs[leg].ways))
    starts = [soonest_start(built, leg, way) for way in ways]
    return case.search.value_begun(leg, starts, own_leave_slot(built))


def _wished_departure(case: Case) -> datetime:
    """Return when the rider would leave anyway.

    Of a day under way, and where the rider has named the hour, that is the day's own slot.
    """
    built, wall = case.built, case.built.day.own_departure
    told = case.demands.underway is not None or case.demands.departure is not None
    if wall is None or told:
        return slot_moment(built, case.own.leave_slot)
    return local_instant(built.day.date, wall, built.tour.zone)


def longest_run(ranks: Iterable[int]) -> frozenset[int]:
    """Return the members of the longest rising run of distinct numbers; the first of equals.

    What is not in it has moved: the fewest legs told as moved.

    Examples
    --------
    >>> sorted(longest_run([2, 0, 1, 3]))
    [0, 1, 3]
    """
    runs: list[tuple[int, ...]] = [()]
    for rank in ranks:
        longest = max((run for run in runs if not run or run[-1] < rank), key=len)
        runs.append((*longest, rank))
    longest = max(runs, key=len)
    return frozenset(longest)
