"""Days begun, leg by leg: the forward half of the two-pass search.

A layer holds all days begun with equally many legs ridden, one row for each set of legs and exit,
with the best value by slot. Rows that can't beat the best plan known are dropped: value so far
plus bound on the rest.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from replanner.planning import fast
from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, SetsOfLegs
from replanner.planning.exact_prices import Values
from replanner.planning.forward_compiled import CompiledSteps
from replanner.planning.forward_layer import ForwardDay, Layer
from replanner.planning.forward_rows import VectorisedSteps
from replanner.planning.relaxed_bound import RelaxedBound


@dataclass(slots=True)
class BestKnown:
    """The plan to beat, its value in units."""

    value: float = IMPOSSIBLE
    mask: int = 0

    @property
    def floor(self) -> float:
        """What a day has to be worth more than to be followed up."""
        return self.value

    def note(self, masks: SetsOfLegs, values: Values) -> None:
        """Take the best of some days closed, the first that is; shapes (rows,)."""
        row = int(np.argmax(values))
        if values[row] > self.value:
            self.value, self.mask = float(values[row]), int(masks[row])


class Steps(Protocol):
    """The steps of the forward pass, vectorised or compiled."""

    def closed(self, layer: Layer) -> Values:
        """End the day in a layer; the best value of each row, -inf where it may not end."""

    def longer(self, layer: Layer, floor: float, stopped: Callable[[], bool]) -> Layer | None:
        """All days one leg longer that could be worth more than `floor`; None if stopped."""


def forward(
    day: ForwardDay,
    table: RelaxedBound,
    best: BestKnown,
    stopped: Callable[[], bool],
    *,
    keep: int | None = None,
    layers: list[Layer] | None = None,
) -> float:
    """Go forward, bettering `best`; return what days not followed up could be worth at most.

    `keep` follows up only that many of each layer; `layers` collects them.
    """
    steps: Steps = (CompiledSteps if fast.available() else VectorisedSteps)(day, table)
    layer = _first_layer(day.arrays, table)
    left = IMPOSSIBLE
    while len(layer.masks):
        if keep is not None and len(layer.masks) > keep:
            order = np.lexsort((layer.exits, layer.masks, -layer.reach))
            left = max(left, float(layer.reach[order[keep:]].max()))
            layer = layer.take(np.sort(order[:keep]))
        if layers is not None:
            layers.append(layer)
        best.note(layer.masks, steps.closed(layer))
        longer = steps.longer(layer, best.floor, stopped)
        if longer is None:
            return max(left, float(layer.reach.max(initial=IMPOSSIBLE)))
        layer = longer
    return left


def _first_layer(arrays: DayArrays, table: RelaxedBound) -> Layer:
    """Nothing ridden: what such a day could be worth is the bound of the day itself."""
    none = np.zeros(int(table.of_day > IMPOSSIBLE), dtype=np.int64)
    profile = arrays.start_worth[np.newaxis][: len(none)]
    return Layer(none, none, 0, profile, np.full(len(none), table.of_day))
