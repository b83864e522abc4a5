"""Riding on from a layer of days begun, set by set: the compiled twin of the vectorised step."""

import numpy as np

from replanner.planning.day_arrays import Flags, Indices, SetsOfLegs
from replanner.planning.exact_prices import Values
from replanner.planning.fast import Kernel
from replanner.planning.problem import Slots


@Kernel
def ride_on(  # noqa: C901, PLR0912, PLR0915 - one loop nest, compiled whole
    found: tuple[SetsOfLegs, Indices, Values, Values],
    begun: tuple[Indices, SetsOfLegs, Indices, Values],
    tables: tuple[Values, Values],
    memory: tuple[Indices, Indices, SetsOfLegs, Values],
    roads: tuple[Slots, Values],
    rides: tuple[Slots, Values],
    ways: tuple[Indices, Indices, Indices, SetsOfLegs, SetsOfLegs],
    waits: tuple[Flags, Flags],
    prices: tuple[float, float],
) -> int:
    """Write every day one leg longer that could be worth more than the floor; tell how many.

    Parameters
    ----------
    found : masks, exits, profile, reach
        Written; room for each way of each set.
    begun : groups, masks, exits, profile
        A layer; where each set begins, and its end. Profiles of all slots and one more.
    tables : to_go, at_entry
    memory : exits, entries, scarce, multipliers
        As in `RelaxedBound`.
    roads : road_arrival, road_worth
    rides : ride_arrival, ride_worth
    ways : way_entry, way_exit, way_leg, closed_by, own_after
    waits : exit_waits, entry_waits
    prices : order_cost, floor
    """
    out_masks, out_exits, out_profile, out_reach = found
    groups, masks, exits, profile = begun
    to_go, at_entry = tables
    exit_memory, entry_memory, scarce, multipliers = memory
    road_arrival, road_worth = roads
    ride_arrival, ride_worth = rides
    way_entry, way_exit, way_leg, closed_by, own_after = ways
    exit_waits, entry_waits = waits
    order_cost, floor = prices
    bits = exit_memory.shape[1]
    slots, entries = ride_arrival.shape[1], at_entry.shape[0]
    ready = np.empty((entries, slots))
    lives = np.empty(entries, dtype=np.bool_)
    count = 0
    for g in range(len(groups) - 1):
        mask = masks[groups[g]]
        given = 0.0
        for k in range(len(scarce)):
            if mask & scarce[k] == 0:
                given += multipliers[k]
        ready[:] = -np.inf
        for row in range(groups[g], groups[g + 1]):
            a = exits[row]
            column = 0
            for b in range(bits):
                column |= (mask >> exit_memory[a, b] & 1) << b
            value = -np.inf
            for t in range(slots):
                value = max(profile[row, t], value) if exit_waits[a] else profile[row, t]
                if value + to_go[a, column, t] + given > floor:
                    for e in range(entries):
                        arrival = road_arrival[a, e, t]
                        if arrival < slots:
                            going = value + road_worth[a, e, t]
                            ready[e, arrival] = max(ready[e, arrival], going)
        for e in range(entries):
            column = 0
            for b in range(bits):
                column |= (mask >> entry_memory[e, b] & 1) << b
            lives[e] = False
            value = -np.inf
            for t in range(slots):
                value = max(ready[e, t], value) if entry_waits[e] else ready[e, t]
                if value + at_entry[e, column, t] + given > floor:
                    ready[e, t] = value
                    lives[e] = True
                else:
                    ready[e, t] = -np.inf
        for w in range(len(way_entry)):
            e, x = way_entry[w], way_exit[w]
            if not lives[e] or mask & closed_by[w] != 0:
                continue
            against = 0
            others = mask & own_after[w]
            while others:
                others &= others - 1
                against += 1
            price = order_cost * against
            longer = mask | (1 << way_leg[w])
            column = 0
            for b in range(bits):
                column |= (longer >> exit_memory[x, b] & 1) << b
            later = 0.0
            for k in range(len(scarce)):
                if longer & scarce[k] == 0:
                    later += multipliers[k]
            reach = -np.inf
            for t in range(slots):
                out_profile[count, t] = -np.inf
            for t in range(slots):
                arrival = ride_arrival[w, t]
                if arrival < slots:
                    value = ready[e, t] - price + ride_worth[w, t]
                    hope = value + to_go[x, column, arrival] + later
                    if hope > floor:
                        reach = max(reach, hope)
                        out_profile[count, arrival] = max(out_profile[count, arrival], value)
            if reach > floor:
                out_masks[count], out_exits[count], out_reach[count] = longer, x, reach
                count += 1
    return count
