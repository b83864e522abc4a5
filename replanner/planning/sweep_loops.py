"""One layer of the exact table, set by set: the compiled twin of the sweep's slices."""

import numpy as np

from replanner.planning.day_arrays import Flags, Indices
from replanner.planning.exact_prices import Values
from replanner.planning.fast import Kernel
from replanner.planning.problem import Slots


@Kernel
def stretches(arrival: Slots, stop: int) -> tuple[Indices, Indices]:
    """Give the first slot of leaving that arrives before `stop` and that after the last, by move.

    Most moves of a day split into levels are none.
    """
    firsts, ends = np.zeros(len(arrival), np.int64), np.zeros(len(arrival), np.int64)
    for move in range(len(arrival)):
        for t in range(arrival.shape[1]):
            if arrival[move, t] < stop:
                if ends[move] == 0:
                    firsts[move] = t
                ends[move] = t + 1
    return firsts, ends


@Kernel
def sweep_layer(  # noqa: C901, PLR0912 - one loop nest, compiled whole
    layer: Values,
    smaller: Values,
    ways: tuple[Indices, Values, Indices],
    rides: tuple[Slots, Values],
    roads: tuple[Slots, Values],
    waits: tuple[Flags, Flags],
    rows: Indices,
) -> None:
    """Fill a layer, all impossible before, from that of the sets one leg smaller.

    Parameters
    ----------
    layer, smaller : ndarrays, shape (rows + 1, slots that count + 1)
    ways : rests, price, way_entry
        The first two by way and set: where the rest stands in `smaller` (-1: not allowed) and the
        price of order.
    rides : ride_arrival, ride_worth
    roads : road_arrival, road_worth
    waits : exit_waits, entry_waits
    rows : ndarray, shape (exits, sets)
        Where in `layer` a set is told from an exit; -1: it is not.
    """
    rests, price, way_entry = ways
    ride_arrival, ride_worth = rides
    road_arrival, road_worth = roads
    exit_waits, entry_waits = waits
    exits, sets = rows.shape
    width = layer.shape[1]
    stop, entries = width - 1, road_arrival.shape[1]
    ready, reached = np.empty((entries, width)), np.empty(entries, np.bool_)
    ride_first, ride_end = stretches(ride_arrival, stop)
    road_first, road_end = stretches(road_arrival.reshape(exits * entries, -1), stop)
    for s in range(sets):
        reached[:] = False
        for w in range(len(way_entry)):
            row = rests[w, s]
            if row >= 0 and ride_end[w] > 0:
                e, paid = way_entry[w], price[w, s]
                if not reached[e]:
                    reached[e], ready[e] = True, -np.inf
                for t in range(ride_first[w], ride_end[w]):
                    arrival = ride_arrival[w, t]
                    if arrival < stop:
                        value = smaller[row, arrival] + ride_worth[w, t] - paid
                        ready[e, t] = max(ready[e, t], value)
        for e in range(entries):
            if reached[e] and entry_waits[e]:
                for t in range(stop - 1, -1, -1):
                    ready[e, t] = max(ready[e, t], ready[e, t + 1])
        for a in range(exits):
            here = rows[a, s]
            if here < 0:
                continue
            for e in range(entries):
                if reached[e]:
                    for t in range(road_first[a * entries + e], road_end[a * entries + e]):
                        arrival = min(road_arrival[a, e, t], stop)
                        value = ready[e, arrival] + road_worth[a, e, t]
                        layer[here, t] = max(layer[here, t], value)
            if exit_waits[a]:
                for t in range(stop - 1, -1, -1):
                    layer[here, t] = max(layer[here, t], layer[here, t + 1])
