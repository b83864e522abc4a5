"""The best sets of legs of a day too large for its table, all in one search of two passes.

The forward pass follows up whatever could be worth as much as the last of the sets wanted, as far
as so many are known: every set that comes so near is closed with its best value.
"""

from dataclasses import dataclass, field
from functools import partial
from heapq import nlargest

import numpy as np

from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, SetsOfLegs
from replanner.planning.exact_prices import Values
from replanner.planning.forward_layer import ForwardDay
from replanner.planning.forward_pass import BestKnown, forward
from replanner.planning.stages import STAGES, Bounds, Stopped, run_stages
from replanner.planning.two_pass_parts import order_riding_all


@dataclass(slots=True)
class _BestSets(BestKnown):
    """The best sets known and their values; what is worth as much as the last is followed up."""

    wanted: int = 1
    sets: dict[int, float] = field(default_factory=dict)
    least: float = IMPOSSIBLE

    @property
    def floor(self) -> float:
        """What a day has to be worth more than to be followed up; values are whole numbers."""
        return self.least - 1

    def note(self, masks: SetsOfLegs, values: Values) -> None:
        """Take the best value of each set of some days closed; shapes (rows,)."""
        BestKnown.note(self, masks, values)
        near = np.flatnonzero(values > self.floor)
        for mask, value in zip(masks[near].tolist(), values[near].tolist(), strict=True):
            self.sets[mask] = max(value, self.sets.get(mask, IMPOSSIBLE))
        if len(self.sets) >= self.wanted:
            self.least = nlargest(self.wanted, self.sets.values())[-1]
            self.sets = {mask: value for mask, value in self.sets.items() if value >= self.least}

    def in_order(self) -> list[int]:
        """Give them by falling value, of equal ones that of fewer legs, then of earlier ones."""
        return sorted(self.sets, key=lambda mask: (-self.sets[mask], mask.bit_count(), mask))


def ranked_sets(arrays: DayArrays, wanted: int, stopped: Stopped) -> list[tuple[int, ...]]:
    """Give so many sets of legs by falling value, each in its best order; all, if there are fewer.

    When stopped, of the plans found.
    """
    bounds, best = Bounds(arrays), _BestSets(wanted=wanted)
    run_stages(STAGES, bounds, best, stopped, partial(forward, ForwardDay(arrays)))
    return [_in_order(arrays, mask, best, bounds) for mask in best.in_order()[:wanted]]


def _in_order(arrays: DayArrays, mask: int, best: _BestSets, bounds: Bounds) -> tuple[int, ...]:
    if mask == 0:
        return ()
    alone = arrays.narrowed(mask, mask, arrays.exactly)
    return order_riding_all(alone, best.sets[mask], bounds.multipliers)
