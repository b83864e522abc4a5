"""Days with too many legs for the exact table: a bound swept back, then plans searched forward.

The first pass is the relaxed bound. The second goes forward by number of legs ridden, keeping for
each set of legs and place the best value by slot, and drops whatever can't beat the best plan
known: value so far plus bound on the rest. When nothing is left, that plan is proven best. Both
come in stages: narrow runs of the forward pass (beams) find the plan to beat, the bound gets
sharper, and most days are proven before the last, widest stage.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from replanner.planning.coarse_day import coarser
from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, mask_of
from replanner.planning.forward_layer import ForwardDay, Layer
from replanner.planning.forward_pass import BestKnown, forward
from replanner.planning.found_order import found_order
from replanner.planning.multipliers import Steps, better_multipliers
from replanner.planning.near_memory import Near
from replanner.planning.relaxed_bound import Memory, RelaxedBound, RelaxedDay


@dataclass(frozen=True, slots=True)
class Stage:
    """One round of sharpening the bound.

    With so many legs remembered by each place (`bits`) the multipliers are bettered on the coarse
    day and on the day itself, in so many steps, the first so long; then so many days begun are
    followed up in each layer (`beam`), which is the proof where no more are left.
    """

    bits: int
    coarse: Steps
    fine: Steps
    beam: int | None


STAGES = (
    Stage(0, Steps(0, 1.0), Steps(0, 1.0), 5),
    Stage(3, Steps(16, 1.0), Steps(0, 1.0), 20),
    Stage(5, Steps(6, 0.5), Steps(0, 0.3), 2000),
    Stage(7, Steps(0, 0.3), Steps(6, 0.3), None),
)

MOST_BYTES = 150_000_000
"""Memory of a relaxed table; fewer legs are remembered where it would take more."""

MOST_KEPT_BYTES = 60_000_000
"""Memory of the layers kept to tell the best plan; it is searched again where it takes more."""


@dataclass(frozen=True, slots=True)
class Found:
    """The best plan found.

    Parameters
    ----------
    value, bound : float
        Value (-inf: no plan found) and proven upper bound. [units]
    order : tuple of int
        Legs in the order ridden.
    """

    value: float
    bound: float
    order: tuple[int, ...]


def two_passes(arrays: DayArrays, stopped: Callable[[], bool]) -> Found:
    """Find the best plan and prove it, or say how much better another could be when stopped.

    The first, quick stage is always finished, so that a plan is there however short the time.
    """
    bounds, begun = Bounds(arrays), ForwardDay(arrays)
    best, bound = BestKnown(), np.inf
    found_in = _Kept()
    origin: _Origin | None = None
    for number, stage in enumerate(STAGES):
        ends = stopped if number else never
        table = bounds.sharper(stage, best.value, ends)
        known, layers = best.value, _Kept()
        left = IMPOSSIBLE
        if table.of_day > best.value:
            left = forward(begun, table, best, ends, keep=stage.beam, layers=layers)
        if best.value > known:
            found_in, origin = layers, _Origin(table, known, stage.beam)
        bound = min(bound, table.of_day, max(best.value, left))
        if stopped() or bound <= best.value:
            break
    if origin is None:
        return Found(IMPOSSIBLE, bound, ())
    if found_in.all_kept:
        return Found(best.value, bound, found_order(arrays, best, found_in))
    best, leading = _searched_again(arrays, origin, best)
    return Found(best.value, bound, found_order(arrays, best, leading))


class _Kept(list[Layer]):
    """Layers, as far as there is room for them."""

    def __init__(self) -> None:
        super().__init__()
        self._bytes = 0

    @property
    def all_kept(self) -> bool:
        """Whether none was left out."""
        return self._bytes <= MOST_KEPT_BYTES

    def append(self, layer: Layer) -> None:
        """Keep a layer if there is room."""
        self._bytes += layer.profile.nbytes
        if self.all_kept:
            super().append(layer)
        else:
            self.clear()


@dataclass(frozen=True, slots=True)
class _Origin:
    """How a stage of the forward pass began: its bound, the value known before, its beam."""

    table: RelaxedBound
    known: float
    beam: int | None


def never() -> bool:
    """Tell a search that it is not stopped."""
    return False


class Bounds:
    """The bound of a day, bettered stage by stage: first on its coarse day."""

    def __init__(self, arrays: DayArrays) -> None:
        self._fine = RelaxedDay(arrays)
        coarse = coarser(arrays)
        self._coarse = self._fine if coarse is arrays else RelaxedDay(coarse)
        self._near = Near.of(self._fine)
        self._multipliers = np.zeros(len(self._fine.scarce))

    @property
    def multipliers(self) -> dict[int, float]:
        """The multipliers reached, by mask of the scarce legs. [units]."""
        return dict(zip(self._fine.scarce.tolist(), self._multipliers.tolist(), strict=True))

    def begin_with(self, multipliers: Mapping[int, float]) -> None:
        """Begin with these multipliers, as far as they are fair; 0 where none is told. [units].

        What cannot be ridden gives nothing back.
        """
        rideable = mask_of(self._fine.arrays.rideable)
        known = [
            multipliers.get(scarce, 0.0) if scarce & rideable else 0.0
            for scarce in self._fine.scarce.tolist()
        ]
        self._multipliers = np.rint(np.maximum(self._fine.lowest, known))

    def sharper(self, stage: Stage, value: float, stopped: Callable[[], bool]) -> RelaxedBound:
        """Better the bound, aimed at the value of the best plan known."""
        remembering = self._fine.remembering(self._memory(stage.bits))
        for day, steps in ((self._coarse, stage.coarse), (self._fine, stage.fine)):
            if steps.most:
                self._multipliers = better_multipliers(
                    day,
                    remembering if day is self._fine else day.laid_out(remembering),
                    self._multipliers,
                    value,
                    steps=steps,
                    stopped=stopped,
                )
        return self._fine.bound(remembering, self._multipliers)

    def _memory(self, bits: int) -> Memory:
        """Let each place remember so many legs, or fewer where the table would take too much."""
        bits = min(bits, len(self._fine.arrays.rideable))
        while bits and self._fine.bytes_needed(bits) > MOST_BYTES:
            bits -= 1
        return self._near.legs(bits)


def _searched_again(
    arrays: DayArrays, origin: _Origin, best: BestKnown
) -> tuple[BestKnown, list[Layer]]:
    """Layers that lead to the best plan where they could not be kept: its own legs alone.

    The stage that found it is run again until it is found, or one better of the same legs: the
    search may have been stopped before it could prove that there is none. With fewer legs no day
    begun that led there can be dropped, and it takes no longer than before.
    """
    own = arrays.narrowed(best.mask, arrays.musts, arrays.exactly)
    again = BestKnown(origin.known)
    layers: list[Layer] = []

    def found() -> bool:
        return again.value >= best.value

    forward(ForwardDay(own), origin.table, again, found, keep=origin.beam, layers=layers)
    return again, layers
