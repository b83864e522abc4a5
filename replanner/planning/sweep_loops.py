"""One layer of the exact table, set by set: the compiled twin of the sweep's slices.

Moves are made over runs of slots of leaving that take equally long, so that the innermost loop goes
along memory.
"""

import numpy as np

from replanner.planning.day_arrays import Flags, Indices
from replanner.planning.exact_prices import Values
from replanner.planning.fast import Kernel
from replanner.planning.problem import Slots

Runs = tuple[Indices, Indices, Indices, Indices]
"""By move its first run, one more at the end; by run first slot of leaving, end and slots taken."""


@Kernel
def runs_of(arrival: Slots) -> Runs:
    """Give the runs of slots in which moves take equally long; shape (moves, slots)."""
    moves, slots = arrival.shape
    begins = np.zeros(moves + 1, np.int64)
    firsts, ends = np.empty(arrival.size, np.int64), np.empty(arrival.size, np.int64)
    takes, count = np.empty(arrival.size, np.int64), 0
    for move in range(moves):
        before = -1
        for t in range(slots):
            by = arrival[move, t] - t if arrival[move, t] < slots else -1
            if by >= 0:
                if by != before:
                    firsts[count], takes[count] = t, by
                    count += 1
                ends[count - 1] = t + 1
            before = by
        begins[move + 1] = count
    return begins, firsts[:count], ends[:count], takes[:count]


@Kernel
def bettered(
    here: Values, there: Values, move: int, runs: Runs, worth: Values, paid: float
) -> None:
    """Better the slots of leaving by those of arriving, within the slots there are."""
    begins, firsts, ends, takes = runs
    stop = len(there) - 1
    for run in range(begins[move], begins[move + 1]):
        first, by = firsts[run], takes[run]
        count = min(ends[run], stop - by) - first
        if count > 0:
            left, arrived = here[first : first + count], there[first + by : first + by + count]
            worths = worth[move, first : first + count]
            for t in range(count):
                value = arrived[t] + worths[t] - paid
                left[t] = value if value > left[t] else left[t]


@Kernel
def waited_back(values: Values) -> None:
    """Let slots look on to later ones."""
    best, slots = -np.inf, len(values)
    for t in range(slots):
        value = values[slots - 1 - t]
        best = value if value > best else best
        values[slots - 1 - t] = best


@Kernel
def ready_to_ride(
    ready: Values,
    reached: Flags,
    smaller: Values,
    set_: int,
    ways: tuple[Indices, Values, Indices],
    rides: tuple[Runs, Values],
    waits: Flags,
) -> None:
    """Give the value of being ready at the entries to ride a set, and where anything is begun."""
    rests, price, way_entry = ways
    reached[:] = False
    for way in range(len(way_entry)):
        rest, e = rests[way, set_], way_entry[way]
        if rest >= 0:
            if not reached[e]:
                reached[e], ready[e] = True, -np.inf
            bettered(ready[e], smaller[rest], way, rides[0], rides[1], price[way, set_])
    for e in range(len(waits)):
        if reached[e] and waits[e]:
            waited_back(ready[e])


@Kernel
def sweep_layer(
    layer: Values,
    smaller: Values,
    ways: tuple[Indices, Values, Indices],
    rides: tuple[Runs, Values],
    roads: tuple[Runs, Values],
    waits: tuple[Flags, Flags],
    rows: Indices,
) -> None:
    """Fill a layer from that of the sets one leg smaller.

    Parameters
    ----------
    layer, smaller : ndarrays, shape (rows + 1, slots that count + 1)
        What stands in `layer` before does not matter.
    ways : rests, price, way_entry
        The first two by way and set: where the rest stands in `smaller` (-1: not allowed) and the
        price of order.
    rides, roads
        Runs and worths of the ways, and of the roads from each exit to each entry.
    waits : exit_waits, entry_waits
    rows : ndarray, shape (exits, sets)
        Where in `layer` a set is told from an exit; -1: it is not.
    """
    exits, sets = rows.shape
    entries = len(waits[1])
    ready, reached = np.empty((entries, layer.shape[1])), np.empty(entries, np.bool_)
    layer[-1] = -np.inf
    for s in range(sets):
        ready_to_ride(ready, reached, smaller, s, ways, rides, waits[1])
        for a in range(exits):
            if rows[a, s] >= 0:
                here = layer[rows[a, s]]
                here[:] = -np.inf
                for e in range(entries):
                    if reached[e]:
                        bettered(here, ready[e], a * entries + e, roads[0], roads[1], 0.0)
                if waits[0][a]:
                    waited_back(here)


@Kernel
def living(values: Values) -> tuple[Flags, int]:
    """Tell in which rows anything is possible, and the slot after the last."""
    possible, stop = np.zeros(len(values), np.bool_), 0
    for row in range(len(values)):
        for t in range(values.shape[1] - 1, -1, -1):
            if values[row, t] > -np.inf:
                possible[row], stop = True, max(stop, t + 1)
                break
    return possible, stop
