"""A small day whole: what every part of some of its legs is worth, from one table.

The table of the day search (`sweep`) holds the best value of every set of legs. Its legs that are
not asked about are free, so the best of all sets with the same part is what the part is worth.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from replanner.planning.day_arrays import IMPOSSIBLE, SetsOfLegs, day_arrays, mask_of
from replanner.planning.day_solver import MOST_TABLE_BYTES
from replanner.planning.days_begun import DaysBegun
from replanner.planning.exact_prices import MICRO, Values
from replanner.planning.order_timing import time_order
from replanner.planning.plan_ranking import best_order
from replanner.planning.problem import DayProblem, DaySolution
from replanner.planning.sweep import SweepTable, sweep, table_bytes

FEW_LEGS = 12
"""So few that filling the table takes no longer than two searches."""


@dataclass(frozen=True, slots=True)
class DayTable:
    """What the parts of a day are worth.

    Parameters
    ----------
    worth : ndarray of int, shape (parts,)
        By part; nothing to go by where it is not `possible`. [millionths of a minute]
    possible : ndarray of bool, shape (parts,)
        Whether a plan keeps all demands of the day and rides exactly that part.
    """

    worth: NDArray[np.int64]
    possible: NDArray[np.bool_]
    _days: DaysBegun
    _table: SweepTable
    _best: Values
    _set: SetsOfLegs

    def plan(self, part: int) -> DaySolution | None:
        """Return the best plan that rides exactly a part; None: there is none."""
        if not self.possible[part]:
            return None
        arrays, days = self._days.arrays, self._days
        order = best_order(days, self._table, int(self._set[part]), float(self._best[part]))
        timed = time_order(arrays, order, days)
        if timed is None:
            raise AssertionError("an order of the table cannot be timed")
        value = int(self.worth[part]) / MICRO
        return timed.plan(value, value)


def day_table(
    problem: DayProblem,
    rides: Sequence[tuple[int, ...]],
    time_left_s: Callable[[], float | None],
) -> DayTable | None:
    """Fill the table of a day and read every part of some legs from it.

    Parameters
    ----------
    problem : DayProblem
    rides : sequence of tuple of int
        By bit of a part the legs any of which counts.
    time_left_s : callable
        None: as long as it takes. [s]

    Returns
    -------
    DayTable or None
        None: the table would be too large, the time is over, or the day has no hours.
    """
    arrays = day_arrays(problem)
    if not arrays.possible or table_bytes(arrays) > MOST_TABLE_BYTES:
        return None
    left = time_left_s()
    end = np.inf if left is None else perf_counter() + left
    table = sweep(arrays, lambda: perf_counter() > end)
    if table is None:
        return None
    allowed = table.masks & arrays.musts == arrays.musts
    for group in arrays.exactly:
        allowed &= np.bitwise_count(table.masks & group) == 1
    sets, whole = table.masks[allowed], table.whole(arrays.start_worth)[allowed]
    parts = np.zeros(len(sets), dtype=np.int64)
    for bit, legs in enumerate(rides):
        parts |= (sets & mask_of(legs) != 0).astype(np.int64) << bit
    # The best set of each part; of equal ones that of fewer legs, then of earlier ones.
    order = np.lexsort((np.arange(len(sets)), -whole, parts))
    first = order[np.flatnonzero(np.diff(parts[order], prepend=-1))]
    best = np.full(1 << len(rides), IMPOSSIBLE)
    best_set = np.zeros(1 << len(rides), dtype=np.int64)
    best[parts[first]] = whole[first]
    best_set[parts[first]] = sets[first]
    possible = best > IMPOSSIBLE
    micros = np.ceil(np.where(possible, best, 0.0) / arrays.units.per_micro).astype(np.int64)
    return DayTable(micros, possible, DaysBegun(arrays), table, best, best_set)
