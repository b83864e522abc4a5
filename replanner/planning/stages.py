"""The stages of the two-pass search: the bound bettered, then plans searched forward, till proven.

Narrow runs of the forward pass (beams) find the plan to beat, the bound gets sharper, and most days
are proven before the last, widest stage.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from replanner.planning.coarse_day import coarser
from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, mask_of
from replanner.planning.forward_pass import BestKnown
from replanner.planning.multipliers import Steps, better_multipliers
from replanner.planning.near_memory import Near
from replanner.planning.relaxed_bound import Memory, RelaxedBound, RelaxedDay

Stopped = Callable[[], bool]


class Follow(Protocol):
    """The forward pass: `forward` on a day made ready for it."""

    def __call__(
        self, table: RelaxedBound, best: BestKnown, stopped: Stopped, *, keep: int | None
    ) -> float:
        """Better `best`; return what days not followed up could be worth at most."""


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


def run_stages(
    stages: Sequence[Stage], bounds: "Bounds", best: BestKnown, stopped: Stopped, follow: Follow
) -> float:
    """Better the bound and go forward, stage by stage, until nothing is left or it is stopped.

    The first, quick stage is always finished, so that a plan is there however short the time.

    Parameters
    ----------
    stages : sequence of Stage
    bounds : Bounds
    best : BestKnown
        Bettered by `follow`; what is worth no more than its floor is not looked for.
    stopped : callable
    follow : callable
        The forward pass, asked where the bound leaves something to look for.

    Returns
    -------
    float
        What is not known to `best` is worth no more than this. [units]
    """
    bound = np.inf
    for number, stage in enumerate(stages):
        ends = stopped if number else never
        table = bounds.sharper(stage, max(best.value, best.floor), ends)
        left = IMPOSSIBLE
        if table.of_day > best.floor:
            left = follow(table, best, ends, keep=stage.beam)
        bound = min(bound, table.of_day, max(best.floor, left))
        if stopped() or bound <= best.floor:
            break
    return max(bound, best.floor)


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
