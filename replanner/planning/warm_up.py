"""Makes the compiled loops ready beside the work, so that nobody waits for a compiler.

The first time after installation compiling takes some ten seconds; afterwards what was compiled is
read from numba's cache in about one.
"""

from datetime import UTC, datetime
from functools import cache
from threading import Thread

import numpy as np

from replanner.planning import fast
from replanner.planning.day_arrays import day_arrays
from replanner.planning.days_begun import DaysBegun
from replanner.planning.multipliers import relaxed_day
from replanner.planning.near_memory import nearest_legs
from replanner.planning.order_timing import time_order
from replanner.planning.plan_ranking import best_order
from replanner.planning.problem import DayProblem, LegWay, ProblemLeg
from replanner.planning.relaxed_bound import RelaxedDay
from replanner.planning.stages import never
from replanner.planning.sweep import sweep
from replanner.planning.two_pass import two_passes

MOST_WAIT_S = 1.5
"""A first search waits so long for loops compiled before, and does without them if need be. [s]"""

SLOTS = 6
FIRST_SLOT = datetime(2027, 1, 14, tzinfo=UTC)


def begin(most_wait_s: float = MOST_WAIT_S) -> None:
    """Begin to make the loops ready if that has not been done; wait a little for them. [s]."""
    if fast.installed() and not fast.available():
        _at_work().join(most_wait_s)


@cache
def _at_work() -> Thread:
    thread = Thread(target=_compile_all, name="compiling loops")
    thread.start()
    return thread


def _compile_all() -> None:
    with fast.compiling():
        arrays = day_arrays(_smallest_day())
        table = sweep(arrays, never)
        if table is not None:
            best = float(table.whole(arrays.start_worth)[-1])
            best_order(DaysBegun(arrays), table, int(table.masks[-1]), best)
        relaxed = RelaxedDay(arrays)
        relaxed_day(
            relaxed, relaxed.remembering(nearest_legs(relaxed, 1)), np.zeros(len(relaxed.scarce))
        )
        time_order(arrays, two_passes(arrays, never).order)


def _smallest_day() -> DayProblem:
    """Give a day in which every loop has something to do: the bound rides its legs again."""
    travel = np.ones((2, 2, SLOTS), dtype=np.int64)
    travel[[0, 1], [0, 1]] = 0
    way = LegWay(
        start=1, end=1, ride_slots=np.ones(SLOTS, dtype=np.int64), worth=np.full(SLOTS, 9.0)
    )
    return DayProblem(
        slot_minutes=60,
        first_slot=FIRST_SLOT,
        slots=SLOTS,
        travel_slots=travel,
        travel_cost=travel.astype(np.float64),
        start_place=0,
        earliest=0,
        latest=SLOTS - 1,
        end_place=0,
        by=SLOTS - 1,
        late=np.zeros(SLOTS),
        legs=tuple(ProblemLeg(id=name, must=False, ways=(way,)) for name in ("one", "other")),
    )
