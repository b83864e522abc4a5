"""The sweep of the relaxed bound slot by slot: the compiled twin of `RelaxedDay`'s blocks."""

import numpy as np

from replanner.planning.day_arrays import Flags, Indices
from replanner.planning.exact_prices import Values
from replanner.planning.fast import Kernel
from replanner.planning.problem import Slots


@Kernel
def sweep_slots(  # noqa: C901, PLR0912 - one loop nest, compiled whole
    to_go: Values,
    at_entry: Values,
    rides: tuple[Slots, Values],
    ways: tuple[Indices, Indices, Indices, Values],
    roads: tuple[Slots, Values, Indices],
    closing: tuple[Values, Flags],
    waits: tuple[Flags, Flags, Indices],
) -> None:
    """Fill `to_go` and `at_entry`, all impossible before; shapes as in `RelaxedBound`.

    Parameters
    ----------
    rides : ride_arrival, ride_worth
        Shape (ways, slots), multipliers paid.
    ways : way_entry, way_exit, exit_set, paid
        As in `RelaxedDay` and `Remembering`.
    roads : road_arrival, road_worth, entry_set
    closing : closing_worth, may_close
    waits : exit_waits, entry_waits, rounds
        The last: how many more rounds a slot needs at most, for rides of no slots.
    """
    ride_arrival, ride_worth = rides
    way_entry, way_exit, exit_set, paid = ways
    road_arrival, road_worth, entry_set = roads
    closing_worth, may_close = closing
    exit_waits, entry_waits, rounds = waits
    exits, sets, width = to_go.shape
    slots, entries = width - 1, at_entry.shape[0]
    for t in range(slots - 1, -1, -1):
        for e in range(entries):
            if entry_waits[e]:
                at_entry[e, :, t] = at_entry[e, :, t + 1]
        for a in range(exits):
            if exit_waits[a]:
                to_go[a, :, t] = to_go[a, :, t + 1]
            for q in range(sets):
                if may_close[a, q] and closing_worth[a, t] > to_go[a, q, t]:
                    to_go[a, q, t] = closing_worth[a, t]
        for _ in range(rounds[t] + 1):
            better = False
            for w in range(len(way_entry)):
                arrival = ride_arrival[w, t]
                if arrival < slots:
                    e, x = way_entry[w], way_exit[w]
                    for q in range(sets):
                        value = to_go[x, exit_set[w, q], arrival] + (ride_worth[w, t] + paid[w, q])
                        at_entry[e, q, t] = max(at_entry[e, q, t], value)
            for a in range(exits):
                for e in range(entries):
                    arrival = road_arrival[a, e, t]
                    if arrival < slots:
                        for q in range(sets):
                            value = at_entry[e, entry_set[a, e, q], arrival] + road_worth[a, e, t]
                            if value > to_go[a, q, t]:
                                to_go[a, q, t] = value
                                better = True
            if not better:
                break


@Kernel
def follow(  # noqa: C901, PLR0912 - one loop nest, compiled whole
    times: Values,
    slot: int,
    tables: tuple[Values, Values],
    rides: tuple[Slots, Values],
    ways: tuple[Indices, Indices, Indices, Indices, Values],
    roads: tuple[Slots, Values, Indices],
    waits: tuple[Flags, Flags],
) -> None:
    """Follow the relaxed day of best value from a slot of leaving; count the rides of each leg.

    Parameters
    ----------
    times : ndarray of float, shape (legs,)
        Counted up.
    tables : to_go, at_entry
    rides : ride_arrival, ride_worth
        Shape (ways, slots), multipliers paid.
    ways : way_leg, way_entry, way_exit, exit_set, paid
    roads : road_arrival, road_worth, entry_set
    waits : exit_waits, entry_waits
    """
    to_go, at_entry = tables
    ride_arrival, ride_worth = rides
    way_leg, way_entry, way_exit, exit_set, paid = ways
    road_arrival, road_worth, entry_set = roads
    exit_waits, entry_waits = waits
    slots = to_go.shape[2] - 1
    place, ridden = 0, 0
    for _ in range(2 * slots):
        value = to_go[place, ridden, slot]
        if value == -np.inf:
            return
        found, until = -1, slots if exit_waits[place] else slot + 1
        for e in range(at_entry.shape[0]):
            for t in range(slot, until):
                arrival = road_arrival[place, e, t]
                going = at_entry[e, entry_set[place, e, ridden], arrival] + road_worth[place, e, t]
                if going >= value:
                    found, slot = e, arrival
                    break
            if found >= 0:
                break
        if found < 0:
            return
        ridden = entry_set[place, found, ridden]
        value = at_entry[found, ridden, slot]
        until = slots if entry_waits[found] else slot + 1
        way = -1
        for w in range(len(way_entry)):
            if way_entry[w] == found:
                after = exit_set[w, ridden]
                for t in range(slot, until):
                    arrival = ride_arrival[w, t]
                    riding = to_go[way_exit[w], after, arrival] + ride_worth[w, t]
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
