"""Prices as whole numbers, so that sums are exact and ties are broken alike on every machine.

Minutes are counted in millionths, prices finer than that are rounded. Each millionth is divided
once more into as many units as there are slots: every slot of finishing later costs one unit, so
that of days of equal value the one that ends first is best, and no unit is ever worth a millionth.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from replanner.planning.problem import DayProblem, Minutes

MICRO = 1e6
LARGEST_EXACT = 2.0**53
"""Whole numbers up to this are exact in float64."""

Values = NDArray[np.float64]
"""Values of the searches, in units of `Units`; -inf: impossible."""


@dataclass(frozen=True, slots=True)
class Units:
    """The unit of a day's search.

    Parameters
    ----------
    per_micro : float
        Units in a millionth of a minute, a power of two.
    later : float
        Price of finishing a slot later; 0 where prices are so large that no room is left for it.
    """

    per_micro: float
    later: float

    @classmethod
    def of(cls, problem: DayProblem, slots: int) -> "Units":
        """Choose the unit for a day of so many slots."""
        per_micro = 2.0 ** max(slots - 1, 1).bit_length()
        if _dearest_day(problem) * MICRO * per_micro < LARGEST_EXACT:
            return cls(per_micro, 1.0)
        return cls(1.0, 0.0)

    def counted(self, prices: Minutes | float) -> Values:
        """Give minutes in units; infinities stay."""
        exact = np.rint(np.asarray(prices, dtype=np.float64) * MICRO)
        return np.asarray(exact * self.per_micro)

    def minutes(self, value: float) -> float:
        """Give a value in minutes, the slots of finishing later not priced."""
        return float(np.ceil(value / self.per_micro) / MICRO)


def _dearest_day(problem: DayProblem) -> float:
    """Give more minutes than any sum of a day's worths and prices can be."""
    legs = len(problem.legs)
    ways = [{id(way.worth): way.worth for way in leg.ways} for leg in problem.legs if leg.ways]
    rows = [worth for distinct in ways for worth in distinct.values()]  # levels share them
    worths = np.abs(np.array(rows, dtype=np.float64).reshape(len(rows), problem.slots))
    largest = np.where(np.isfinite(worths), worths, 0.0).max(axis=1, initial=0.0)
    first = np.cumsum([0, *(len(distinct) for distinct in ways)])[:-1]
    return (
        float(np.maximum.reduceat(largest, first).sum() if ways else 0.0)
        + (legs + 1) * _largest(problem.travel_cost)
        + _largest(problem.late)
        + 2 * abs(problem.wait_cost_per_slot) * problem.slots
        + abs(problem.order_cost) * legs**2
        + 1.0
    )


def _largest(prices: Minutes) -> float:
    largest = max(float(prices.max(initial=0.0)), -float(prices.min(initial=0.0)))
    if np.isfinite(largest):
        return largest
    return float(np.abs(prices[np.isfinite(prices)]).max(initial=0.0))
