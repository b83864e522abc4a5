"""What plans are worth in each member of the weather, and what deciding in the morning gains.

Taken at its word, "in the morning" means: by then it is known which member comes true. That is the
most that waiting can gain; a forecast of the morning tells less.
"""

from dataclasses import dataclass

import numpy as np

from replanner.hazards.model import NO_GO, Floats
from replanner.planning.build import BuiltDay
from replanner.planning.build_way import BuiltWay
from replanner.planning.leaving import leaving, setting_out
from replanner.planning.prices import hazard_price_by_member
from replanner.planning.problem import NEVER, DaySolution, Visit
from replanner.planning.replay import fixed_ban, member_minutes, severity_by_member, slot_from
from replanner.trip.model import Leg
from replanner.trip.spans import Flags

# Of two values less apart than this neither is the better one. [min]
_ALIKE_MINUTES = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class InMembers:
    """A plan in each of M members.

    Parameters
    ----------
    values : ndarray, shape (M,)
        What is left of the plan is worth. [min]
    whole : ndarray of bool, shape (M,)
        Whether it keeps every must and is in by the hard limit.
    """

    values: Floats
    whole: Flags


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """What knowing the member before choosing between two plans gains, never negative. [min].

    `other_share` is the share of members in which the second is the better one.
    """

    minutes: float
    members: int
    other_share: float


def in_members(built: BuiltDay, solution: DaySolution) -> InMembers:
    """Ride a plan's timetable in each member, priced as the search prices, in that member alone.

    A leg starts when the plan says, or when the riders get there later. One that is no-go in a
    member, or past its window, boat or light, is not ridden in it: it is worth nothing, and the
    riders go on by road from where they are to what is next, no earlier than planned. In later
    than the hard limit is priced as in at it. Where nothing breaks and all members ride at one
    pace, the mean over members is the value of the solution.

    Returns
    -------
    InMembers
        One member where there is no axis of them, or no leg.
    """
    ridden = [_Ridden.of(built, visit) for visit in solution.visits]
    members = max((one.worth.shape[0] for one in ridden), default=1)
    found = [_ride(built, solution, ridden, member) for member in range(members)]
    return InMembers(
        values=np.array([value for value, _ in found]),
        whole=np.array([whole for _, whole in found], dtype=np.bool_),
    )


def gain_of_waiting(first: InMembers, second: InMembers) -> Gain:
    """Return what choosing in each member gains over the plan that is best in the mean.

    In a member where only one of the two keeps its musts, the other is worth no more than that
    one: leaving out a must is no way of winning.
    """
    values = np.stack(np.broadcast_arrays(first.values, second.values))
    whole = np.stack(np.broadcast_arrays(first.whole, second.whole))
    kept = np.where(whole, values, np.inf).min(axis=0)
    values = np.where(whole, values, np.minimum(values, kept))
    wins = values[1] > values[0] + _ALIKE_MINUTES
    wins |= whole[1] & ~whole[0]
    gain = float(values.max(axis=0).mean() - values.mean(axis=1).max())
    return Gain(
        minutes=gain if gain > _ALIKE_MINUTES else 0.0,
        members=values.shape[1],
        other_share=float(wins.mean()),
    )


@dataclass(frozen=True, slots=True)
class _Ridden:
    """A leg of the plan; worth and severity by member and start, shape (M, T)."""

    visit: Visit
    way: BuiltWay
    entry: int
    exit: int
    worth: Floats
    severity: Floats

    @classmethod
    def of(cls, built: BuiltDay, visit: Visit) -> "_Ridden":
        way = built.way(visit.leg, visit.way)
        in_problem = built.problem.legs[visit.leg].ways[visit.way]
        hazards = hazard_price_by_member(way.assessed, way.verdict.avoid, built.rules)
        worth = way.certain - hazards + _halts(built.legs[visit.leg].leg, way)
        return cls(visit, way, in_problem.start, in_problem.end, worth, severity_by_member(way))


def _halts(leg: Leg, way: BuiltWay) -> Floats:
    """Return what the halts taken gain, by member and start."""
    starts = way.assessed.starts.size
    gained = np.zeros((1, starts))
    for halt, taken, fits in zip(leg.halts, way.halts, way.assessed.halt_fits, strict=True):
        gain = halt.worth_minutes * fits.reshape(-1, starts)
        gained = gained + np.where(taken, gain - (halt.minutes if halt.optional else 0.0), 0.0)
    return np.asarray(gained)


def _ride(
    built: BuiltDay, solution: DaySolution, ridden: list[_Ridden], member: int
) -> tuple[float, bool]:
    """Return what is left of the plan in a member, and whether it is whole.

    The clock runs in minutes, as the plan is told and replayed; connectors, waits and being late
    are priced by whole slots, as the search prices them.
    """
    problem, slot_minutes = built.problem, built.clock.slot_minutes
    demanded = {n for n, leg in enumerate(problem.legs) if leg.must}
    demanded |= {n for group in problem.exactly_one for n in group}
    place, minute, slot = problem.start_place, float(solution.leave_slot * slot_minutes), -1
    value, whole = 0.0, True
    order: list[int] = []
    for leg in ridden:
        start = _start(built, leg, place, minute, member)
        if start is None:
            whole = whole and leg.visit.leg not in demanded
            continue
        travel = int(problem.travel_slots[place, leg.entry, 0])
        if order:
            cost = leaving(problem, place, leg.entry, slot, start).cost
        else:  # left as late as that allows
            slot, cost = setting_out(problem, leg.entry, solution.leave_slot, start)
        wait = max(start - slot - travel, 0) * problem.wait_cost_per_slot
        value += float(leg.worth[member, start]) - cost - wait
        riding = member_minutes(leg.way, member, start)
        minute = start * slot_minutes + riding
        slot = start + slot_from(riding, slot_minutes)
        place = leg.exit
        order.append(leg.visit.leg)
    travel = int(problem.travel_slots[place, problem.end_place, 0])
    home = minute + float(built.connector_minutes[place, problem.end_place])
    in_time = home <= (built.clock.by - built.clock.first_slot).total_seconds() / 60.0
    if not order:
        slot = solution.leave_slot
    finish = min(slot + travel, problem.by) if travel != NEVER else problem.by
    value -= float(problem.late[finish]) + problem.order_cost * _turned(problem.own_order, order)
    if travel != NEVER:
        value -= float(problem.travel_cost[place, problem.end_place, min(slot, problem.by)])
    return value, whole and travel != NEVER and in_time


def _start(built: BuiltDay, leg: _Ridden, place: int, minute: float, member: int) -> int | None:
    """Return the slot in which a leg starts in a member, left for at a minute; None: it cannot."""
    if built.problem.travel_slots[place, leg.entry, 0] == NEVER:
        return None
    ready = minute + float(built.connector_minutes[place, leg.entry])
    start = max(leg.visit.start_slot, slot_from(ready, built.clock.slot_minutes))
    if start >= built.problem.slots or fixed_ban(leg.way, start):
        return None
    return None if leg.severity[member, start] >= NO_GO else start


def _turned(own: tuple[int, ...], order: list[int]) -> int:
    """Return how many pairs are ridden the other way round than in the own order."""
    at = [own.index(leg) for leg in order if leg in own]
    return sum(a > b for n, a in enumerate(at) for b in at[n + 1 :])
