"""The order of legs that leads through layers of days begun to the best plan."""

from dataclasses import replace

import numpy as np

from replanner.planning import fast, order_loops
from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays
from replanner.planning.days_begun import Begun, Profile, moves_of, ride_next
from replanner.planning.forward_layer import Layer
from replanner.planning.forward_pass import BestKnown
from replanner.planning.order_timing import At, close_day, step_back


def found_order(arrays: DayArrays, best: BestKnown, layers: list[Layer]) -> tuple[int, ...]:
    """Follow the best plan back through the layers."""
    mask = best.mask
    profile = _profile(arrays, layers[mask.bit_count()], mask)
    closed = close_day(arrays, Begun.of(arrays, mask, profile))
    if closed is None or closed.value != best.value:
        raise AssertionError("the best plan is not found again")
    here, order = closed.left, []
    if fast.available():
        return _followed(arrays, mask, here, profile, layers)
    while mask:
        layer = layers[mask.bit_count() - 1]
        leg, here, profile = _last_leg(arrays, layer, mask, here, profile)
        order.append(leg)
        mask &= ~(1 << leg)
    return tuple(reversed(order))


def _followed(
    arrays: DayArrays, mask: int, here: At, profile: Profile, layers: list[Layer]
) -> tuple[int, ...]:
    """Follow it back by the compiled twin of `_last_leg`."""
    rules = np.array(arrays.closed_by), np.array(arrays.own_after), arrays.order_cost
    exits, slot, order = np.zeros(len(arrays.exits), np.bool_), here.slot, []
    exits[list(here.exits)] = True
    while mask:
        layer = layers[mask.bit_count() - 1]
        leg, slot, profile = order_loops.last_leg(
            mask,
            (exits, slot, profile),
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
    """Find which leg of a set was ridden last to be here, the first of several; where from."""
    for leg in np.unique(arrays.way_leg[np.isin(arrays.way_exit, here.exits)]).tolist():
        rest = mask & ~(1 << leg)
        if rest != mask:
            before = Begun.of(arrays, rest, _profile(arrays, layer, rest))
            after = ride_next(arrays, before, leg).profile[:, here.slot]
            led = tuple(exit_ for exit_ in here.exits if after[exit_] == profile[exit_, here.slot])
            if led:
                back = step_back(arrays, before, leg, replace(here, exits=led), profile)
                return leg, back.left, before.profile
    raise AssertionError("a layer holds a value that nothing leads to")


def _profile(arrays: DayArrays, layer: Layer, mask: int) -> Profile:
    profile = np.full((len(arrays.exits), arrays.slots), IMPOSSIBLE)
    rows = np.arange(*np.searchsorted(layer.masks, [mask, mask + 1]))
    profile[layer.exits[rows]] = layer.whole(rows, arrays.slots)[:, :-1]
    return profile
