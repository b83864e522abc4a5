"""Picks the search for a day's size: the full table where it fits, else two passes.

The table answers any number of questions, two passes answer one sooner: but for few legs the table
is only filled for a second question.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from replanner.planning import fast, warm_up
from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, SetsOfLegs
from replanner.planning.days_begun import Begun, DaysBegun
from replanner.planning.exact_prices import Values
from replanner.planning.implied_order import in_implied_order
from replanner.planning.plan_ranking import best_order, best_value_begun, ranked_orders
from replanner.planning.ranked_sets import ranked_sets
from replanner.planning.stages import Stopped
from replanner.planning.sweep import Known, SweepTable, sweep, table_bytes
from replanner.planning.two_pass import Found, two_passes

MOST_TABLE_BYTES = 220_000_000
MOST_TABLE_LEGS = 16
FEW_LEGS = 11
FEW_LEGS_VECTORISED = 12
"""So few that filling the table is no slower than two passes, with compiled loops and without.

Medians on `tests/benchmarks/day_problems` in ms of processor, table beside two passes, on a busy
machine: compiled 33 beside 55 at 11 legs, 76 beside 53 at 12; vectorised 206 beside 257 at 12,
224 beside 241 at 13, where the table takes its most memory.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Which legs a plan may and must hold, as masks.

    Parameters
    ----------
    without : int
        Legs it may not hold.
    musts : int
        Legs it must hold.
    exactly : tuple of int
        Of each, it must hold exactly one.
    leave : int or None
        Slot of the problem in which it leaves; None: in any allowed.
    """

    without: int
    musts: int
    exactly: tuple[int, ...]
    leave: int | None = None


class DaySolver:
    """Answers questions about one day.

    Parameters
    ----------
    arrays : DayArrays
    stopped : callable
        Asked now and then; True ends a search with what it has.
    known : Known, optional
        Of a day that differs in one leg.
    """

    def __init__(self, arrays: DayArrays, stopped: Stopped, known: Known | None = None) -> None:
        warm_up.begin()
        self.arrays = arrays
        self._stopped, self._known = stopped, known
        few = len(arrays.rideable) <= MOST_TABLE_LEGS
        self._fits = few and table_bytes(arrays) <= MOST_TABLE_BYTES and arrays.possible
        self._asked = False
        self.table: SweepTable | None = None
        self._whole: dict[int | None, Values] = {}
        self._begun: dict[int | None, DaysBegun] = {}
        most = FEW_LEGS if fast.available() else FEW_LEGS_VECTORISED
        if len(arrays.rideable) <= most or known is not None:
            self._fill_table()

    def _fill_table(self) -> None:
        if self.table is None and self._fits:
            self.table = sweep(self.arrays, self._stopped, self._known)
            self._fits = self.table is not None

    def _allowed(self, question: Question) -> tuple[SetsOfLegs, Values]:
        """Give the sets that answer a question, and what they are worth; there is a table."""
        if self.table is None:
            raise AssertionError("there is no table")
        masks, leave = self.table.masks, question.leave
        fits = (masks & question.without == 0) & (masks & question.musts == question.musts)
        for group in question.exactly:
            fits &= np.bitwise_count(masks & group) == 1
        if leave not in self._whole:
            self._whole[leave] = self.table.whole(self.begun(leave).arrays.start_worth)
        return masks[fits], self._whole[leave][fits]

    def ask(self, question: Question) -> Found:
        """Find the best plan; of equal ones that of fewer legs, then of earlier legs."""
        if not self.arrays.possible or question.without & question.musts:
            return Found(IMPOSSIBLE, IMPOSSIBLE, ())
        if self._asked:
            self._fill_table()
        self._asked = True
        if self.table is None:
            return two_passes(self._asked_of(question), self._stopped)
        sets, whole = self._allowed(question)
        top = int(np.argmax(whole)) if whole.size else 0
        value = float(whole[top]) if whole.size else IMPOSSIBLE
        if value == IMPOSSIBLE:
            return Found(value, value, ())
        order = best_order(self.begun(question.leave), self.table, int(sets[top]), value)
        return Found(value, value, order)

    def begun(self, leave: int | None) -> DaysBegun:
        """Give the days begun of the day left in a slot; None: as it allows."""
        if leave not in self._begun:
            self._begun[leave] = DaysBegun(self.arrays.leaving(leave))
        return self._begun[leave]

    def value_begun(self, question: Question, day: Begun) -> float | None:
        """Give the best value of a day begun so; None: there is no table to tell it from."""
        if self.table is None:
            return None
        sets, _ = self._allowed(question)
        return best_value_begun(self.arrays, self.table, day, sets)

    def ranked(self, question: Question, wanted: int) -> Iterator[tuple[int, ...]]:
        """Yield orders of legs by falling value.

        From the table every order comes once; in two passes so many sets of legs as are wanted,
        each in its best order.
        """
        if not self.arrays.possible or question.without & question.musts:
            return iter(())
        self._fill_table()
        if self.table is None:
            return iter(ranked_sets(self._asked_of(question), wanted, self._stopped))
        days = self.begun(question.leave)
        return ranked_orders(days, self.table, *self._allowed(question))

    def _asked_of(self, question: Question) -> DayArrays:
        """Give the day as a question leaves it, with the order that its musts imply."""
        arrays = self.arrays.leaving(question.leave)
        asked = arrays.narrowed(~question.without, question.musts, question.exactly)
        return in_implied_order(asked)
