"""The order of legs that leads through layers of days begun to the best plan."""

import numpy as np

from replanner.planning import fast, order_loops
from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays
from replanner.planning.forward_layer import Layer
from replanner.planning.forward_pass import BestKnown
from replanner.planning.order_timing import (
    At,
    Begun,
    Profile,
    close_day,
    moves_of,
    ride_next,
    step_back,
)


def found_order(arrays: DayArrays, best: BestKnown, layers: list[Layer]) -> tuple[int, ...]:
    """Follow the best plan back through the layers."""
    mask = best.mask
    profile = _profile(arrays, layers[mask.bit_count()], mask)
    closed = close_day(arrays, Begun.of(arrays, mask, profile))
    if closed is None or closed.value != best.value:
        raise AssertionError("the best plan is not found again")
    here, order = closed.left, []
    if fast.available():
        return _followed(arrays, mask, here, float(profile[here.exit, here.slot]), layers)
    while mask:
        layer = layers[mask.bit_count() - 1]
        leg, here, profile = _last_leg(arrays, layer, mask, here, profile)
        order.append(leg)
        mask &= ~(1 << leg)
    return tuple(reversed(order))


def _followed(
    arrays: DayArrays, mask: int, here: At, value: float, layers: list[Layer]
) -> tuple[int, ...]:
    """Follow it back by the compiled twin of `_last_leg`."""
    rules = np.array(arrays.closed_by), np.array(arrays.own_after), arrays.order_cost
    exit_, slot, order = here.exit, here.slot, []
    while mask:
        layer = layers[mask.bit_count() - 1]
        leg, exit_, slot, value = order_loops.last_leg(
            mask,
            (exit_, slot, value),
            (layer.masks, layer.exits, layer.first, layer.profile),
            rules,
            *moves_of(arrays),
        )
        order.append(leg)
        mask &= ~(1 << leg)
    return tuple(reversed(order))


def _last_leg(
    arrays: DayArrays, layer: Layer, mask: int, here: At, profile: Profile
) -> tuple[int, At, Profile]:
    """Find which leg of a set was ridden last to be here, and where from."""
    for leg in np.unique(arrays.way_leg[arrays.way_exit == here.exit]).tolist():
        rest = mask & ~(1 << leg)
        if rest != mask:
            before = Begun.of(arrays, rest, _profile(arrays, layer, rest))
            value = float(profile[here.exit, here.slot])
            if ride_next(arrays, before, leg).profile[here.exit, here.slot] == value:
                _, came = step_back(arrays, before, leg, here, value)
                return leg, came, before.profile
    raise AssertionError("a layer holds a value that nothing leads to")


def _profile(arrays: DayArrays, layer: Layer, mask: int) -> Profile:
    profile = np.full((len(arrays.exits), arrays.slots), IMPOSSIBLE)
    rows = np.arange(*np.searchsorted(layer.masks, [mask, mask + 1]))
    profile[layer.exits[rows]] = layer.whole(rows, arrays.slots)[:, :-1]
    return profile
