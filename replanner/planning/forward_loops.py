"""Riding on from a layer of days begun, set by set: the compiled twin of `forward_rows`."""

import numpy as np

from replanner.planning.day_arrays import Flags, Indices, SetsOfLegs
from replanner.planning.exact_prices import Values
from replanner.planning.fast import Kernel
from replanner.planning.problem import Slots


@Kernel
def size_of(legs: int) -> int:
    """Count the legs of a set."""
    pairs = legs - (legs >> 1 & 0x5555555555555555)
    fours = (pairs & 0x3333333333333333) + (pairs >> 2 & 0x3333333333333333)
    eights = fours + (fours >> 4) & 0x0F0F0F0F0F0F0F0F
    return eights * 0x0101010101010101 >> 56


@Kernel
def given_back(
    ridden: int,
    remembered: int,
    sets: tuple[SetsOfLegs, SetsOfLegs, SetsOfLegs],
    prices: tuple[Flags, Values, Values, float],
) -> float:
    """Do as `GivenBack.to` for one day.

    Parameters
    ----------
    sets : own_after, closed_by, groups
    prices : must, of_leg, of_group, order_cost
    """
    own_after, closed_by, groups = sets
    must, of_leg, of_group, order_cost = prices
    forgotten = ridden & ~remembered
    given = 0.0
    for leg in range(len(of_leg)):
        if ridden >> leg & 1 == 0:
            left = of_leg[leg] - order_cost * size_of(forgotten & own_after[leg])
            if must[leg] or (left > 0.0 and ridden & closed_by[leg] == 0):
                given += left
    for group in range(len(groups)):
        if ridden & groups[group] == 0:
            given += of_group[group]
    return given


@Kernel
def column_of(ridden: int, remembered: Indices) -> int:
    """Give the remembered set of a set of legs."""
    column = 0
    for bit in range(len(remembered)):
        column |= (ridden >> remembered[bit] & 1) << bit
    return column


@Kernel
def last_slot(ridden: int, exit_: int, chance: tuple[Indices, SetsOfLegs, Slots], last: int) -> int:
    """Do as `LastChance.of_days` for one day.

    Parameters
    ----------
    chance : musts, closed_by, slots
    """
    musts, closed_by, slots = chance
    for i in range(len(musts)):
        if ridden >> musts[i] & 1 == 0:
            if ridden & closed_by[i] != 0:
                return -1
            last = min(last, slots[exit_, i])
    return last


@Kernel
def place_in(index: Indices, mask: int, exit_: int, masks: SetsOfLegs, exits: Indices) -> int:
    """Find where the row of a set and exit stands in the index, or where it is to be put."""
    most = len(index) - 1
    mixed = mask * 0x1E3779B97F4A7C15 + exit_ * 0x3F58476D1CE4E5B9
    place = (mixed ^ mixed >> 29) & most
    while index[place] >= 0 and (masks[index[place]] != mask or exits[index[place]] != exit_):
        place = place + 1 & most
    return place


@Kernel
def ride_on(  # noqa: C901, PLR0912, PLR0915 - one loop nest, compiled whole
    found: tuple[SetsOfLegs, Indices, Values, Values],
    span: Indices,
    count: int,
    index: Indices,
    begin: int,
    end: int,
    begun: tuple[SetsOfLegs, Indices, int, Values, Values],
    tables: tuple[Values, Values],
    memory: tuple[Indices, Indices, SetsOfLegs, SetsOfLegs],
    sets: tuple[SetsOfLegs, SetsOfLegs, SetsOfLegs],
    prices: tuple[Flags, Values, Values, float],
    roads: tuple[Slots, Values],
    rides: tuple[Slots, Values],
    ways: tuple[Indices, Indices, Indices],
    waits: tuple[Flags, Flags],
    chance: tuple[Indices, SetsOfLegs, Slots],
    floor: float,
) -> int:
    """Add every day one leg longer that could be worth more than the floor; tell how many rows.

    Parameters
    ----------
    found : masks, exits, profile, reach
        Rows found so far are bettered, others added; room for each way of each set.
    span : ndarray of int, shape (2,)
        First slot of all these and last, widened.
    count : int
        Rows found so far.
    index : ndarray of int
        Empty (-1) and at least twice as long as there can be rows, a power of two.
    begin, end : int
        Rows of the layer ridden on from, no set divided.
    begun : masks, exits, first, profile, reach
        A layer.
    tables : to_go, at_entry
    memory : exits, entries, and all legs remembered by each exit and entry
    sets, prices
        As in `given_back`.
    roads : road_arrival, road_worth
    rides : ride_arrival, ride_worth
    ways : way_entry, way_exit, way_leg
    waits : exit_waits, entry_waits
    chance
        As in `last_slot`.
    """
    out_masks, out_exits, out_profile, out_reach = found
    masks, exits, first, profile, hoped = begun
    to_go, at_entry = tables
    exit_memory, entry_memory, exit_knows, entry_knows = memory
    own_after, closed_by, _ = sets
    order_cost = prices[3]
    road_arrival, road_worth = roads
    ride_arrival, ride_worth = rides
    way_entry, way_exit, way_leg = ways
    exit_waits, entry_waits = waits
    slots, entries, known = ride_arrival.shape[1], at_entry.shape[0], first + profile.shape[1]
    ready, leaving = np.empty((entries, slots + 1)), np.empty(slots)
    after, reached = np.full(slots + 1, -np.inf), np.empty(slots, dtype=np.int64)
    since, until = np.empty(entries, dtype=np.int64), np.empty(entries, dtype=np.int64)
    for new in range(count):
        index[place_in(index, out_masks[new], out_exits[new], out_masks, out_exits)] = new
    row = begin
    while row < end:
        mask = masks[row]
        ready[:] = -np.inf
        since[:], until[:] = slots, 0
        while row < end and masks[row] == mask:
            here, row = row, row + 1
            if hoped[here] <= floor:
                continue
            a = exits[here]
            column = column_of(mask, exit_memory[a])
            least = floor - given_back(mask, exit_knows[a], sets, prices)
            value, begins, ends = -np.inf, slots, 0
            until_here = last_slot(mask, a, chance, slots - 1) + 1
            for t in range(first, min(until_here, slots if exit_waits[a] else known)):
                there = profile[here, t - first] if t < known else -np.inf
                value = max(there, value) if exit_waits[a] else there
                leaving[t] = -np.inf
                if value + to_go[a, column, t] > least:
                    leaving[t] = value
                    begins, ends = min(begins, t), t + 1
                elif t >= known:
                    break
            for e in range(entries if begins < ends else 0):
                soonest, latest = slots, 0
                for t in range(begins, ends):
                    arrival = road_arrival[a, e, t]
                    soonest, latest = min(soonest, arrival), max(latest, arrival)
                    going = leaving[t] + road_worth[a, e, t]
                    ready[e, arrival] = max(ready[e, arrival], going)
                since[e], until[e] = min(since[e], soonest), max(until[e], latest + 1)
        for e in range(entries):
            begins, stop, ends = since[e], min(until[e], slots), 0
            until[e] = 0
            if begins >= stop:
                continue
            column = column_of(mask, entry_memory[e])
            least = floor - given_back(mask, entry_knows[e], sets, prices)
            value = -np.inf
            for t in range(begins, slots if entry_waits[e] else stop):
                value = max(ready[e, t], value) if entry_waits[e] else ready[e, t]
                if value + at_entry[e, column, t] > least:
                    ready[e, t] = value
                    ends = t + 1
                else:
                    ready[e, t] = -np.inf
                    if t >= stop:
                        break
            until[e] = ends
        for w in range(len(way_entry)):
            e, x, leg = way_entry[w], way_exit[w], way_leg[w]
            if until[e] == 0 or mask & closed_by[leg] != 0:
                continue
            price = order_cost * size_of(mask & own_after[leg])
            longer = mask | (1 << leg)
            alive_to = last_slot(longer, x, chance, slots - 1)
            if alive_to < 0:
                continue
            column = column_of(longer, exit_memory[x])
            later = given_back(longer, exit_knows[x], sets, prices)
            reach, seen = -np.inf, 0
            for t in range(since[e], until[e]):
                arrival = ride_arrival[w, t]
                value = ready[e, t] - price + ride_worth[w, t]
                if arrival <= alive_to and value > after[arrival]:
                    hope = value + to_go[x, column, arrival] + later
                    if hope > floor:
                        if after[arrival] == -np.inf:
                            reached[seen] = arrival
                            seen += 1
                        reach = max(reach, hope)
                        after[arrival] = value
            if seen == 0:
                continue
            place = place_in(index, longer, x, out_masks, out_exits)
            new = index[place]
            if new < 0:
                new = index[place] = count
                out_masks[new], out_exits[new], out_reach[new] = longer, x, reach
                out_profile[new] = -np.inf
                count += 1
            out_reach[new] = max(out_reach[new], reach)
            for i in range(seen):
                arrival = reached[i]
                out_profile[new, arrival] = max(out_profile[new, arrival], after[arrival])
                span[0], span[1] = min(span[0], arrival), max(span[1], arrival)
                after[arrival] = -np.inf
    return count


@Kernel
def close_rows(
    closed: Values,
    begun: tuple[SetsOfLegs, Indices, int, Values],
    demands: tuple[int, SetsOfLegs],
    closing_worth: Values,
    exit_waits: Flags,
) -> None:
    """End the day in a layer; the best value of each row into `closed`, shape (rows,).

    Parameters
    ----------
    closed : ndarray of float
        All -inf.
    begun : masks, exits, first, profile
    demands : musts, exactly
    """
    masks, exits, first, profile = begun
    musts, exactly = demands
    for row in range(len(masks)):
        met = masks[row] & musts == musts
        for group in exactly:
            met = met and size_of(masks[row] & group) == 1
        if met:
            a, value, best = exits[row], -np.inf, -np.inf
            for t in range(first, closing_worth.shape[1]):
                here = profile[row, t - first] if t - first < profile.shape[1] else -np.inf
                value = max(here, value) if exit_waits[a] else here
                best = max(best, value + closing_worth[a, t])
            closed[row] = best
