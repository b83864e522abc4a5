"""The relaxed bound slot by slot: the compiled twins of `RelaxedDay`'s blocks and of `followed`.

Tables are of shape (slots + 1, places, sets): the sets of a place and slot lie side by side, so
that each move reads and writes them in one go.
"""

import numpy as np

from replanner.planning.day_arrays import Flags, Indices
from replanner.planning.exact_prices import Values
from replanner.planning.fast import Kernel
from replanner.planning.problem import Slots


@Kernel
def sweep_slots(  # noqa: C901, PLR0912 - one loop nest, compiled whole
    to_go: Values,
    at_entry: Values,
    price: Values,
    rides: tuple[Slots, Values],
    ways: tuple[Indices, Indices, Indices, Values],
    roads: tuple[Slots, Values, Indices],
    closing: tuple[Values, Flags],
    waits: tuple[Flags, Flags, Indices],
) -> None:
    """Fill `to_go` and `at_entry`.

    Parameters
    ----------
    price : ndarray of float, shape (ways,)
        Multipliers each way pays. [units]
    rides : ride_arrival, ride_worth
        Shape (ways, slots).
    ways : way_entry, way_exit, exit_set, paid
        As in `RelaxedDay` and `Remembering`.
    roads : road_arrival, road_worth, entry_set
        The first two of shape (slots, exits, entries).
    closing : closing_worth, may_close
    waits : exit_waits, entry_waits, rounds
        The last: how many more rounds a slot needs at most, for rides of no slots.
    """
    ride_arrival, ride_worth = rides
    way_entry, way_exit, exit_set, paid = ways
    road_arrival, road_worth, entry_set = roads
    closing_worth, may_close = closing
    exit_waits, entry_waits, rounds = waits
    width, exits, sets = to_go.shape
    slots, entries = width - 1, at_entry.shape[1]
    to_go[slots], at_entry[slots] = -np.inf, -np.inf
    for t in range(slots - 1, -1, -1):
        for e in range(entries):
            for q in range(sets):
                at_entry[t, e, q] = at_entry[t + 1, e, q] if entry_waits[e] else -np.inf
        for a in range(exits):
            for q in range(sets):
                value = to_go[t + 1, a, q] if exit_waits[a] else -np.inf
                to_go[t, a, q] = max(value, closing_worth[a, t]) if may_close[a, q] else value
        for _ in range(rounds[t] + 1):
            better = False
            for w in range(len(way_entry)):
                arrival = ride_arrival[w, t]
                if arrival < slots:
                    here, there = at_entry[t, way_entry[w]], to_go[arrival, way_exit[w]]
                    worth = ride_worth[w, t] - price[w]
                    for q in range(sets):
                        here[q] = max(here[q], there[exit_set[w, q]] + (worth + paid[w, q]))
            for a in range(exits):
                here = to_go[t, a]
                for e in range(entries):
                    arrival = road_arrival[t, a, e]
                    if arrival < slots:
                        there, worth = at_entry[arrival, e], road_worth[t, a, e]
                        if rounds[t]:
                            for q in range(sets):
                                value = there[entry_set[a, e, q]] + worth
                                better |= value > here[q]
                        for q in range(sets):
                            here[q] = max(here[q], there[entry_set[a, e, q]] + worth)
            if not better:
                break


@Kernel
def follow(  # noqa: C901, PLR0912 - one loop nest, compiled whole
    times: Values,
    slot: int,
    to_go: Values,
    at_entry: Values,
    price: Values,
    way_leg: Indices,
    rides: tuple[Slots, Values],
    ways: tuple[Indices, Indices, Indices, Values],
    roads: tuple[Slots, Values, Indices],
    waits: tuple[Flags, Flags],
) -> None:
    """Follow the relaxed day of best value from a slot of leaving; count the rides of each leg.

    Parameters
    ----------
    times : ndarray of float, shape (legs,)
        Counted up.
    way_leg : ndarray of int, shape (ways,)
    price, rides, ways, roads
        As in `sweep_slots`.
    waits : exit_waits, entry_waits
    """
    ride_arrival, ride_worth = rides
    way_entry, way_exit, exit_set, paid = ways
    road_arrival, road_worth, entry_set = roads
    exit_waits, entry_waits = waits
    slots = to_go.shape[0] - 1
    place, ridden = 0, 0
    for _ in range(2 * slots):
        value = to_go[slot, place, ridden]
        if value == -np.inf:
            return
        found, until = -1, slots if exit_waits[place] else slot + 1
        for e in range(at_entry.shape[1]):
            for t in range(slot, until):
                arrival = road_arrival[t, place, e]
                going = at_entry[arrival, e, entry_set[place, e, ridden]] + road_worth[t, place, e]
                if going >= value:
                    found, slot = e, arrival
                    break
            if found >= 0:
                break
        if found < 0:
            return
        ridden = entry_set[place, found, ridden]
        value = at_entry[slot, found, ridden]
        until = slots if entry_waits[found] else slot + 1
        way = -1
        for w in range(len(way_entry)):
            if way_entry[w] == found:
                after = exit_set[w, ridden]
                for t in range(slot, until):
                    arrival = ride_arrival[w, t]
                    riding = to_go[arrival, way_exit[w], after] + (ride_worth[w, t] - price[w])
                    if riding + paid[w, ridden] >= value:
                        way, slot = w, arrival
                        break
                if way >= 0:
                    break
        if way < 0:
            return
        times[way_leg[way]] += 1.0
        ridden = exit_set[way, ridden]
        place = way_exit[way]


@Kernel
def relaxed_day(
    times: Values,
    start_worth: Values,
    price: Values,
    way_leg: Indices,
    rides: tuple[Slots, Values],
    ways: tuple[Indices, Indices, Indices, Values],
    roads: tuple[Slots, Values, Indices],
    closing: tuple[Values, Flags],
    waits: tuple[Flags, Flags, Indices],
) -> float:
    """Count the rides of each leg in the relaxed day of best value; give that value.

    Parameters as in `sweep_slots` and `follow`.
    """
    slots, (exits, entries, sets) = len(start_worth), roads[2].shape
    to_go = np.empty((slots + 1, exits, sets))
    at_entry = np.empty((slots + 1, entries, sets))
    sweep_slots(to_go, at_entry, price, rides, ways, roads, closing, waits)
    best, slot = -np.inf, 0
    for t in range(slots):
        if start_worth[t] + to_go[t, 0, 0] > best:
            best, slot = start_worth[t] + to_go[t, 0, 0], t
    follow(times, slot, to_go, at_entry, price, way_leg, rides, ways, roads, waits[:2])
    return best
