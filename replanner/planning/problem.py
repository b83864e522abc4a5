"""One day as a problem of minutes and slots: what `replanner-problem-1` holds, checked.

Slots count from `first_slot`; a leg that starts in slot t and rides n slots is over at t + n.
Arrays by slot are indexed by the slot of leaving or starting. Prices and worths are minutes of
plain riding. `NEVER` (-1) in a slot array means: no road, or may not start then.
"""

from dataclasses import dataclass, field, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

NEVER = -1

INFEASIBLE = float("-inf")
"""`DayProblem.optimum` of a problem proven to have no plan."""

Slots = NDArray[np.int64]
Minutes = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LegWay:
    """One way of riding a leg.

    Parameters
    ----------
    start, end : int
        Place indices.
    ride_slots : ndarray of int, shape (T,)
        Slots it takes when started then, at least 0.
    worth : ndarray of float, shape (T,)
        What starting then is worth; -inf: may not start then. [min]
    """

    start: int
    end: int
    ride_slots: Slots
    worth: Minutes

    def without(self, starts: NDArray[np.bool_]) -> "LegWay":
        """Return the way with some starts forbidden, of shape (T,)."""
        return replace(self, worth=np.where(starts, -np.inf, self.worth))


@dataclass(frozen=True, slots=True, kw_only=True)
class ProblemLeg:
    """A leg of the problem: ridden at most once, in one of its ways."""

    id: str
    must: bool
    ways: tuple[LegWay, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DayProblem:
    """A day to be solved.

    Parameters
    ----------
    slots : int
        T, the number of slots.
    travel_slots : ndarray of int, shape (P, P, T)
        Whole slots of the connector when left then; NEVER: no road. Zero on the diagonal.
    travel_cost : ndarray of float, shape (P, P, T)
        Price of the connector. [min]
    wait_cost_per_slot : float
        Price of a waiting slot after leaving the start. [min]
    no_wait : frozenset of int
        Places where nobody can wait.
    start_place, earliest, latest : int
        Where the day starts and the first and last slot of leaving.
    end_place, by : int
        Where it ends and the last slot of being there.
    late : ndarray of float, shape (T,)
        Price by finishing slot; inf: not allowed. [min]
    before : tuple of (int, int)
        If both are ridden, the first comes first.
    own_order : tuple of int
    order_cost : float
        Price of each pair of ridden legs the other way round than in `own_order`. [min]
    """

    slot_minutes: int
    first_slot: datetime
    slots: int
    travel_slots: Slots
    travel_cost: Minutes
    wait_cost_per_slot: float = 0.0
    no_wait: frozenset[int] = frozenset()
    start_place: int
    earliest: int
    latest: int
    end_place: int
    by: int
    late: Minutes
    legs: tuple[ProblemLeg, ...]
    at_most_one: tuple[tuple[int, ...], ...] = ()
    exactly_one: tuple[tuple[int, ...], ...] = ()
    before: tuple[tuple[int, int], ...] = ()
    own_order: tuple[int, ...] = ()
    order_cost: float = 0.0
    optimum: float | None = field(default=None, compare=False)

    @property
    def places(self) -> int:
        """P, the number of places."""
        return int(self.travel_slots.shape[0])


@dataclass(frozen=True, slots=True)
class Visit:
    """A leg ridden: its index in the problem, the way, and the slot in which riding starts."""

    leg: int
    way: int
    start_slot: int


@dataclass(frozen=True, slots=True)
class DaySolution:
    """A plan of the day in slots.

    `bound` is a proven upper bound on the value of any plan; `proven` means value == bound.
    `leave_slot` is the slot of leaving the start, `finish_slot` of reaching the end.
    """

    value: float
    bound: float
    proven: bool
    leave_slot: int
    visits: tuple[Visit, ...]
    finish_slot: int

    @property
    def legs(self) -> tuple[int, ...]:
        """Leg indices in the order ridden."""
        return tuple(visit.leg for visit in self.visits)
