"""Days with too many legs for the exact table: a bound swept back, then plans searched forward.

The first pass is the relaxed bound. The second goes forward by number of legs ridden, keeping for
each set of legs and place the best value by slot, and drops whatever can't beat the best plan
known: value so far plus bound on the rest. When nothing is left, that plan is proven best. A
first, narrow run of the same pass (a beam) finds the plan to beat; how good it is decides how much
is dropped.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, SetsOfLegs, Values, WayArrays
from replanner.planning.order_timing import (
    At,
    Profile,
    arriving,
    close_day,
    profile_at_start,
    ride_next,
    step_back,
)
from replanner.planning.relaxed_bound import (
    RelaxedBound,
    legs_that_matter,
    relaxed_bound,
    relaxed_bytes,
)

BEAM = 200
MOST_REMEMBERED = 12
MOST_BYTES = 150_000_000
SETS_AT_ONCE = 1024
"""Sets expanded together; bounds the memory of a step."""


@dataclass(frozen=True, slots=True)
class Found:
    """The best plan found.

    Parameters
    ----------
    value, bound : float
        Value (-inf: no plan found) and proven upper bound. [1e-6 min]
    order : tuple of int
        Legs in the order ridden.
    """

    value: float
    bound: float
    order: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Layer:
    """Plans begun, with equally many legs ridden, sorted by set and exit.

    `profile[i]` is the best value by slot of arriving at `exits[i]` having ridden `masks[i]`;
    `reach[i]` bounds the value of any day begun so.
    """

    masks: SetsOfLegs
    exits: SetsOfLegs
    profile: Values
    reach: Values

    def take(self, rows: SetsOfLegs) -> "_Layer":
        return _Layer(self.masks[rows], self.exits[rows], self.profile[rows], self.reach[rows])


@dataclass(slots=True)
class _Best:
    """The plan to beat."""

    value: float = IMPOSSIBLE
    mask: int = 0


def two_passes(arrays: DayArrays, stopped: Callable[[], bool]) -> Found:
    """Find the best plan and prove it, or say how much better another could be when stopped."""
    most = min(MOST_REMEMBERED, arrays.rideable)
    while most and relaxed_bytes(arrays, most) > MOST_BYTES:
        most -= 1
    table = relaxed_bound(arrays, legs_that_matter(arrays, most))
    best = _Best()
    _forward(arrays, table, best, stopped, keep=BEAM)
    left = _forward(arrays, table, best, stopped)
    if best.value == IMPOSSIBLE:
        return Found(IMPOSSIBLE, left, ())
    order = _order_of(arrays, table, best)
    return Found(best.value, max(best.value, left), order)


def _forward(
    arrays: DayArrays,
    table: RelaxedBound,
    best: _Best,
    stopped: Callable[[], bool],
    *,
    keep: int | None = None,
    layers: list[_Layer] | None = None,
) -> float:
    """Go forward, bettering `best`; return what days not followed up could be worth at most.

    `keep` follows up only that many of each layer; `layers` collects them.
    """
    layer = _first_layer(arrays, table)
    left = IMPOSSIBLE
    while len(layer.masks):
        if layers is not None:
            layers.append(layer)
        _close(arrays, layer, best)
        if keep is not None and len(layer.masks) > keep:
            order = np.lexsort((layer.exits, layer.masks, -layer.reach))
            left = max(left, float(layer.reach[order[keep:]].max()))
            layer = layer.take(np.sort(order[:keep]))
        parts: list[_Layer] = []
        for some in _sets_at_once(layer):
            if stopped():
                return max(left, float(layer.reach.max()))
            parts += _ride_one_more(arrays, table, some, best)
        layer = _merge(parts, arrays.slots)
    return left


def _first_layer(arrays: DayArrays, table: RelaxedBound) -> _Layer:
    profile = profile_at_start(arrays)[:1]
    none = np.zeros(1, dtype=np.int64)
    reach = (profile + table.after(0, none)).max(axis=1)
    possible = np.flatnonzero(reach > IMPOSSIBLE)
    return _Layer(none, none, profile, reach).take(possible)


def _close(arrays: DayArrays, layer: _Layer, best: _Best) -> None:
    """End the day here, where every demand is met."""
    met = layer.masks & arrays.musts == arrays.musts
    for group in arrays.exactly:
        met &= np.bitwise_count(layer.masks & group) == 1
    for a, closing in enumerate(arrays.closings):
        rows = np.flatnonzero(met & (layer.exits == a))
        if rows.size and closing.runs:
            ready = _waited(arrays, layer.profile[rows], waits=arrays.exit_waits[a])
            values = (ready + closing.worth).max(axis=1)
            top = int(np.argmax(values))
            if values[top] > best.value:
                best.value = float(values[top])
                best.mask = int(layer.masks[rows[top]])


def _waited(arrays: DayArrays, values: Values, *, waits: bool) -> Values:
    return arrays.waited_since(values) if waits else values


def _sets_at_once(layer: _Layer) -> Iterator[_Layer]:
    """Parts of a layer, no set of legs divided."""
    firsts = np.flatnonzero(np.diff(layer.masks, prepend=-1))[::SETS_AT_ONCE]
    for first, stop in zip(firsts, [*firsts[1:], len(layer.masks)], strict=True):
        yield layer.take(np.arange(first, stop))


def _ride_one_more(
    arrays: DayArrays, table: RelaxedBound, layer: _Layer, best: _Best
) -> list[_Layer]:
    """All days one leg longer that could still beat the best, not merged."""
    sets, set_of = np.unique(layer.masks, return_inverse=True)
    ready = layer.profile.copy()
    for a, waits in enumerate(arrays.exit_waits):
        if waits:
            rows = np.flatnonzero(layer.exits == a)
            ready[rows] = arrays.waited_since(ready[rows])
    found = []
    for e, waits in enumerate(arrays.entry_waits):
        at_entry = np.full((len(sets), arrays.slots), IMPOSSIBLE)
        for a in np.unique(layer.exits).tolist():
            rows = np.flatnonzero(layer.exits == a)
            arrived = arriving(arrays.roads[a][e], ready[rows])
            into = set_of[rows]
            at_entry[into] = np.maximum(at_entry[into], arrived)
        at_entry = _waited(arrays, at_entry, waits=waits)
        for way in arrays.ways:
            if way.entry == e:
                found.append(_ride(arrays, table, way, (sets, at_entry), best.value))
    return found


def _ride(
    arrays: DayArrays,
    table: RelaxedBound,
    way: WayArrays,
    at_entry: tuple[SetsOfLegs, Values],
    floor: float,
) -> _Layer:
    """Ride one way from all sets that allow it; only what could be worth more than `floor`."""
    sets, values = at_entry
    may = np.flatnonzero(sets & arrays.closed_by[way.leg] == 0)
    price = arrays.order_cost * np.bitwise_count(sets[may] & arrays.own_after[way.leg])
    profile = arriving(way.ride, values[may] - price[:, np.newaxis])
    masks = sets[may] | 1 << way.leg
    hope = profile + table.after(way.exit, masks)
    profile[hope <= floor] = IMPOSSIBLE
    reach = hope.max(axis=1, initial=IMPOSSIBLE)
    exits = np.full(len(masks), way.exit, dtype=np.int64)
    return _Layer(masks, exits, profile, reach).take(np.flatnonzero(reach > floor))


def _merge(parts: list[_Layer], slots: int) -> _Layer:
    """One layer, the best of rows with the same set and exit."""
    masks = np.concatenate([np.zeros(0, dtype=np.int64), *(part.masks for part in parts)])
    exits = np.concatenate([np.zeros(0, dtype=np.int64), *(part.exits for part in parts)])
    order = np.lexsort((exits, masks))
    masks, exits = masks[order], exits[order]
    new = np.diff(masks, prepend=-1) | np.diff(exits, prepend=-1)
    firsts = np.flatnonzero(new)
    if not firsts.size:
        return _Layer(masks, exits, np.zeros((0, slots)), np.zeros(0))
    profile = np.concatenate([part.profile for part in parts])[order]
    reach = np.concatenate([part.reach for part in parts])[order]
    return _Layer(
        masks[firsts],
        exits[firsts],
        np.maximum.reduceat(profile, firsts, axis=0),
        np.maximum.reduceat(reach, firsts),
    )


def _order_of(arrays: DayArrays, table: RelaxedBound, best: _Best) -> tuple[int, ...]:
    """Order of the legs of the best plan: its own set searched once more, layers kept."""
    own = replace(
        arrays,
        ways=tuple(way for way in arrays.ways if best.mask >> way.leg & 1),
        musts=best.mask,
    )
    layers: list[_Layer] = []
    _forward(own, table, _Best(best.value - 1), lambda: False, layers=layers)
    mask = best.mask
    profile = _profile(own, layers[mask.bit_count()], mask)
    closed = close_day(own, profile)
    if closed is None:
        raise AssertionError("the best plan is not found again")
    here, order = closed.left, []
    while mask:
        leg, here, profile = _last_leg(own, layers[mask.bit_count() - 1], mask, here, profile)
        order.append(leg)
        mask &= ~(1 << leg)
    return tuple(reversed(order))


def _last_leg(
    arrays: DayArrays, layer: _Layer, mask: int, here: At, profile: Profile
) -> tuple[int, At, Profile]:
    """Which leg of a set was ridden last to be here with the best value, and where before it."""
    for leg in range(arrays.legs):
        rest = mask & ~(1 << leg)
        if rest != mask:
            before = _profile(arrays, layer, rest)
            after = ride_next(arrays, before, rest, leg)
            if after[here.exit, here.slot] == profile[here.exit, here.slot]:
                _, came = step_back(arrays, before, rest, leg, here, after)
                return leg, came, before
    raise AssertionError("a layer holds a value that nothing leads to")


def _profile(arrays: DayArrays, layer: _Layer, mask: int) -> Profile:
    profile = np.full((len(arrays.exits), arrays.slots), IMPOSSIBLE)
    rows = np.flatnonzero(layer.masks == mask)
    profile[layer.exits[rows]] = layer.profile[rows]
    return profile
