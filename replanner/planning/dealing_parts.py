"""A larger day of a tour: the parts of its shared legs, searched at prices and kept in minutes.

Multipliers and values are kept as they are without prices, so that each search begins where the
last one ended (`two_pass_parts`), whatever the prices were.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from replanner.planning import warm_up
from replanner.planning.day_arrays import IMPOSSIBLE, SetsOfLegs, day_arrays, mask_of
from replanner.planning.exact_prices import MICRO, Values
from replanner.planning.implied_order import in_implied_order
from replanner.planning.order_timing import time_order
from replanner.planning.problem import DayProblem, DaySolution
from replanner.planning.two_pass_parts import Wanted, order_riding_all, search_parts

SLACK = round(25 * MICRO)
"""How near the best plan a part has to come to be found along with it. [millionths]"""


@dataclass(frozen=True, slots=True)
class Aim:
    """What a search of a day is for.

    Parameters
    ----------
    slack : int
        How near the best plan a part has to come to be found along with it. [millionths]
    more_than : int or None
        A plan worth no more than this at the prices asked need not be found. [millionths]
    proof : bool
        Whether to search to the proof; False: good plans will do.
    """

    slack: int = 0
    more_than: int | None = None
    proof: bool = True


@dataclass(frozen=True, slots=True)
class Asked:
    """A day with its shared legs priced.

    Parameters
    ----------
    problem : DayProblem
        Priced so, and as far as legs may and must be ridden.
    more : sequence of int
        By bit of a part what its legs are worth here beyond their own worth. [millionths]
    known : int or None
        What a plan that is known is worth here. [millionths]
    aim : Aim
    """

    problem: DayProblem
    more: Sequence[int]
    known: int | None
    aim: Aim


class SearchedParts:
    """A day without a tank and the best plans found of its parts.

    Parameters
    ----------
    problem : DayProblem
    rides : sequence of tuple of int
        By bit of a part the legs any of which counts.
    """

    def __init__(self, problem: DayProblem, rides: Sequence[tuple[int, ...]]) -> None:
        warm_up.begin()
        self._problem = problem
        self._rides = tuple(rides)
        self._worth: Values = np.full(1 << len(rides), IMPOSSIBLE)
        self._masks: SetsOfLegs = np.zeros(1 << len(rides), dtype=np.int64)
        self._multipliers: dict[int, float] | None = None

    @property
    def worth(self) -> Values:
        """Value of the best plan found of each part, rounded up; -inf: none. [millionths]."""
        return np.ceil(self._worth)

    def search(self, asked: Asked, stopped: Callable[[], bool]) -> float:
        """Search at some prices; return what a better plan of any part is worth at most there.

        -inf: there is none; inf: nothing is known. [millionths]
        """
        arrays = in_implied_order(day_arrays(asked.problem))
        if not arrays.possible:
            return IMPOSSIBLE
        per_micro = arrays.units.per_micro
        found = search_parts(
            arrays,
            [mask_of(legs) for legs in self._rides],
            stopped,
            known=_units(asked.known, per_micro),
            wanted=Wanted(
                slack=asked.aim.slack * per_micro,
                more_than=_units(asked.aim.more_than, per_micro),
                proof=asked.aim.proof,
            ),
            multipliers=self._multipliers_at(asked.more, per_micro),
        )
        off = self._more_by_leg(asked.more)
        self._multipliers = (self._multipliers or {}) | {
            scarce: value / per_micro - off.get(scarce, 0)
            for scarce, value in found.multipliers.items()
            if scarce & mask_of(arrays.rideable)
        }
        sums = prices_of_parts(asked.more)
        # In units a plan that ends sooner is worth more: these decide between equal ones.
        worth = found.values / per_micro - sums
        better = worth > self._worth
        self._worth[better] = worth[better]
        self._masks[better] = found.masks[better]
        return float(np.ceil(found.bound / per_micro))

    def plan(self, part: int) -> DaySolution | None:
        """Return the best plan found that rides exactly a part; None: none was."""
        if self._worth[part] == IMPOSSIBLE:
            return None
        mask = int(self._masks[part])
        arrays = day_arrays(self._problem)
        per_micro = arrays.units.per_micro
        value = float(np.floor(self._worth[part] * per_micro))
        nothing = [0] * len(self._rides)
        order = order_riding_all(
            arrays.narrowed(mask, mask, arrays.exactly),
            value,
            self._multipliers_at(nothing, per_micro) or {},
        )
        timed = time_order(arrays, order)
        if timed is None:
            raise AssertionError("an order found cannot be timed")
        minutes = arrays.units.minutes(timed.value)
        return timed.plan(minutes, minutes)

    def _multipliers_at(self, more: Sequence[int], per_micro: float) -> dict[int, float] | None:
        if self._multipliers is None:
            return None
        here = self._more_by_leg(more)
        return {
            scarce: (value + here.get(scarce, 0)) * per_micro
            for scarce, value in self._multipliers.items()
        }

    def _more_by_leg(self, more: Sequence[int]) -> dict[int, int]:
        """Return by leg, as a mask, what it is worth more."""
        by_leg: dict[int, int] = {}
        for legs, worth in zip(self._rides, more, strict=True):
            for leg in legs:
                by_leg[1 << leg] = by_leg.get(1 << leg, 0) + int(worth)
        return by_leg


def _units(micros: int | None, per_micro: float) -> float:
    return IMPOSSIBLE if micros is None else micros * per_micro


def prices_of_parts(prices: Iterable[int]) -> NDArray[np.int64]:
    """Return what each part of some legs costs together, by mask; shape (parts,). [millionths]."""
    sums = np.zeros(1, dtype=np.int64)
    for price in prices:
        sums = np.concatenate((sums, sums + price))
    return sums
