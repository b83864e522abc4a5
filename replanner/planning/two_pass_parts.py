"""What every part of some legs is worth on a day too large for its table, at prices that change.

A day that shares legs with others is asked again and again, only the prices of these legs
differing. What a leg costs more it may have less of a multiplier: the bound stays the same. So the
multipliers reached at other prices are as good at these, and a question begins with them, and with
the best plan known, at the last stages of the two passes.

The forward pass follows up days that are worth a little less than the best one too (`slack`): then
the best plan of each part that comes so near is found with its proof, and is not asked for again.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

import numpy as np

from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, SetsOfLegs
from replanner.planning.exact_prices import Values
from replanner.planning.forward_layer import ForwardDay, Layer
from replanner.planning.forward_pass import BestKnown, forward
from replanner.planning.found_order import found_order
from replanner.planning.multipliers import Steps
from replanner.planning.stages import STAGES, Bounds, Stage, Stopped, never, run_stages

STAGES_AGAIN = (
    Stage(5, Steps(0, 0.3), Steps(4, 0.3), 60),
    Stage(5, Steps(0, 0.3), Steps(0, 0.3), 10_000),
    Stage(7, Steps(0, 0.3), Steps(6, 0.3), None),
)
"""Stages that begin with multipliers of other prices."""

_NOTHING = Steps(0, 0.3)
_FOR_ONE = Stage(3, _NOTHING, _NOTHING, None)


QUICK_STAGES = 2
"""How many stages of the two passes are gone through the first time where no proof is wanted."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is wanted of a search.

    Parameters
    ----------
    slack : float
        How near the best plan a part has to come to be found with it. [units]
    more_than : float
        What is worth no more than this is not looked for. [units]
    proof : bool
        Whether to search to the proof; False: good plans will do.
    """

    slack: float = 0.0
    more_than: float = IMPOSSIBLE
    proof: bool = True


ALL_PROVEN = Wanted()


@dataclass(frozen=True, slots=True)
class PartsFound:
    """The best plans found of the parts of a day.

    Parameters
    ----------
    values : ndarray of float, shape (parts,)
        Of the best plan found of each part; -inf: none was found. [units]
    masks : ndarray of int, shape (parts,)
        The legs it rides.
    bound : float
        A plan better than that of its part is worth no more than this. [units]
    multipliers : dict of int to float
        Those reached, by mask of scarce legs. [units]
    """

    values: Values
    masks: SetsOfLegs
    bound: float
    multipliers: dict[int, float]


@dataclass(slots=True)
class _BestOfParts(BestKnown):
    """The best plan of each part; what is followed up is worth as much as is `wanted`."""

    rides: Sequence[int] = ()
    wanted: Wanted = ALL_PROVEN
    values: Values = field(init=False)
    masks: SetsOfLegs = field(init=False)

    def __post_init__(self) -> None:
        self.values = np.full(1 << len(self.rides), IMPOSSIBLE)
        self.masks = np.zeros(1 << len(self.rides), dtype=np.int64)

    @property
    def floor(self) -> float:
        """What a day has to be worth more than to be followed up."""
        return max(self.value - self.wanted.slack, self.wanted.more_than)

    def note(self, masks: SetsOfLegs, values: Values) -> None:
        """Take the best of each part of some days closed, the first that is; shapes (rows,)."""
        BestKnown.note(self, masks, values)
        rows = np.flatnonzero(values > IMPOSSIBLE)
        masks, values = masks[rows], values[rows]
        parts = np.zeros(len(rows), dtype=np.int64)
        for bit, legs in enumerate(self.rides):
            parts |= (masks & legs != 0).astype(np.int64) << bit
        order = np.lexsort((-values, parts))
        first = order[np.flatnonzero(np.diff(parts[order], prepend=-1))]
        first = first[values[first] > self.values[parts[first]]]
        self.values[parts[first]] = values[first]
        self.masks[parts[first]] = masks[first]


def search_parts(
    arrays: DayArrays,
    rides: Sequence[int],
    stopped: Stopped,
    *,
    known: float,
    wanted: Wanted,
    multipliers: Mapping[int, float] | None,
) -> PartsFound:
    """Find the best plan and those of the parts that come near it, with the proof if wanted.

    Parameters
    ----------
    arrays : DayArrays
    rides : sequence of int
        By bit of a part the legs any of which counts, as a mask.
    stopped : callable
    known : float
        Value of a plan known; -inf: none is. [units]
    wanted : Wanted
    multipliers : mapping of int to float or None
        Of the same day at other prices, by mask of scarce legs, what a leg costs more taken off.
        None: it is searched for the first time. [units]
    """
    bounds = Bounds(arrays)
    if multipliers is not None:
        bounds.begin_with(multipliers)
    best = _BestOfParts(known, rides=rides, wanted=wanted)
    stages: Sequence[Stage] = STAGES if multipliers is None else STAGES_AGAIN
    if not wanted.proof:
        stages = stages[: QUICK_STAGES if multipliers is None else 1]
    bound = run_stages(stages, bounds, best, stopped, partial(forward, ForwardDay(arrays)))
    return PartsFound(best.values, best.masks, bound, bounds.multipliers)


def order_riding_all(
    arrays: DayArrays, value: float, multipliers: Mapping[int, float]
) -> tuple[int, ...]:
    """Find the order of a plan of this value that rides all legs of a day; it is the best one."""
    bounds = Bounds(arrays)
    bounds.begin_with(multipliers)
    layers: list[Layer] = []
    best = BestKnown(value - 1)
    table = bounds.sharper(_FOR_ONE, value, never)
    forward(ForwardDay(arrays), table, best, never, layers=layers)
    return found_order(arrays, best, layers)
