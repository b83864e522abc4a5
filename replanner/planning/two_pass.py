"""Days with too many legs for the exact table: a bound swept back, then plans searched forward.

The first pass is the relaxed bound. The second goes forward by number of legs ridden, keeping for
each set of legs and place the best value by slot, and drops whatever can't beat the best plan
known: value so far plus bound on the rest. When nothing is left, that plan is proven best. Both
come in `stages`.
"""

from dataclasses import dataclass

from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays
from replanner.planning.forward_layer import ForwardDay, Layer
from replanner.planning.forward_pass import BestKnown, forward
from replanner.planning.found_order import found_order
from replanner.planning.relaxed_bound import RelaxedBound
from replanner.planning.stages import STAGES, Bounds, Stopped, run_stages

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


def two_passes(arrays: DayArrays, stopped: Stopped) -> Found:
    """Find the best plan and prove it, or say how much better another could be when stopped."""
    begun, best = ForwardDay(arrays), BestKnown()
    found_in = _Kept()
    origin: _Origin | None = None

    def follow(
        table: RelaxedBound, best: BestKnown, stopped: Stopped, *, keep: int | None
    ) -> float:
        nonlocal found_in, origin
        known, layers = best.value, _Kept()
        left = forward(begun, table, best, stopped, keep=keep, layers=layers)
        if best.value > known:
            found_in, origin = layers, _Origin(table, known, keep)
        return left

    bound = run_stages(STAGES, Bounds(arrays), best, stopped, follow)
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
