"""When connectors of a plan are left: a plan says when legs start, riders may wait at both ends."""

from typing import NamedTuple

import numpy as np

from replanner.planning.problem import DayProblem, Minutes

# So little gained on the road is not worth telling anybody to wait for. Assumption. [min]
HARDLY_BETTER = 2.0


class Leaving(NamedTuple):
    """The slot in which a connector is left, and what it costs then. [min]."""

    slot: int
    cost: float


def leaving(
    problem: DayProblem, place: int, entry: int, free: int, start: int, *, within: float = 0.0
) -> Leaving:
    """Return the first slot in which it costs least to leave for a leg, or hardly more.

    Parameters
    ----------
    place, entry : int
        Where the connector leads from, and to.
    free : int
        The slot from which on the riders may leave.
    start : int
        That in which the leg starts; riders who are late leave at once.
    within : float
        How much more it may cost. [min]
    """
    costs = _costs(problem, place, entry, free, start)
    at = 0 if place in problem.no_wait else int(np.argmax(costs <= costs.min() + within))
    return Leaving(free + at, float(costs[at]))


def setting_out(
    problem: DayProblem, entry: int, earliest: int, start: int, *, within: float = 0.0
) -> Leaving:
    """Return the last slot in which it costs least to leave the start of the day, or hardly more.

    Waiting is free until then, and has its price between arriving and the start of the leg.
    """
    place = problem.start_place
    latest = min(start, problem.latest + int(problem.travel_slots[place, entry, 0]))
    costs = _costs(problem, place, entry, earliest, latest)
    waited = np.arange(costs.size)[::-1] * problem.wait_cost_per_slot
    whole = costs + waited
    at = int(np.flatnonzero(whole <= whole.min() + within)[-1])
    return Leaving(earliest + at, float(costs[at]))


def _costs(problem: DayProblem, place: int, entry: int, free: int, start: int) -> Minutes:
    """Return what a connector costs from one slot of leaving to the last that is in time."""
    last = start - int(problem.travel_slots[place, entry, 0])
    slots = np.clip(np.arange(free, max(last, free) + 1), 0, problem.slots - 1)
    return np.asarray(problem.travel_cost[place, entry, slots])
