"""Timing an order of legs, and finding the first or last leg of a set: compiled twins.

Of `days_begun`, `order_timing`, `plan_ranking` and `found_order`; rules and ties are told there.
Profiles are of shape (exits, slots).
"""

import numpy as np

from replanner.planning.day_arrays import Flags, Indices, SetsOfLegs
from replanner.planning.exact_prices import Values
from replanner.planning.fast import Kernel
from replanner.planning.problem import Slots

Moves = tuple[Slots, Values, Slots, Values]
"""road_arrival, road_worth, ride_arrival, ride_worth of `DayArrays`"""

Ways = tuple[Indices, Indices, Indices]
"""way_leg, way_entry, way_exit of `DayArrays`"""

Waits = tuple[Flags, Flags]
"""exit_waits, entry_waits of `DayArrays`"""


@Kernel
def waited(profile: Values, waits: Flags) -> Values:
    """Give the best value by slot of leaving, waits done where allowed."""
    ready = profile.copy()
    for place in range(len(waits)):
        if waits[place]:
            for t in range(1, ready.shape[1]):
                ready[place, t] = max(ready[place, t], ready[place, t - 1])
    return ready


@Kernel
def reached(ready: Values) -> Indices:
    """Give the exits one can be at: few, of a day split into levels."""
    exits = [a for a in range(len(ready)) if ready[a].max() > -np.inf]
    return np.array(exits, dtype=np.int64)


@Kernel
def arrived_at(entry: int, exits: Indices, ready: Values, moves: Moves) -> Values:
    """Give the value of arriving at an entry by slot."""
    road_arrival, road_worth = moves[0], moves[1]
    slots = ready.shape[1]
    arrived = np.full(slots, -np.inf)
    for a in exits:
        for t in range(slots):
            arrival = road_arrival[a, entry, t]
            if ready[a, t] > -np.inf and arrival < slots:
                arrived[arrival] = max(arrived[arrival], ready[a, t] + road_worth[a, entry, t])
    return arrived


@Kernel
def waited_out(arrived: Values) -> Values:
    """Give the best value by slot of setting out, waits done."""
    begun = arrived.copy()
    for t in range(1, len(begun)):
        begun[t] = max(begun[t], begun[t - 1])
    return begun


@Kernel
def set_out(entry: int, exits: Indices, ready: Values, moves: Moves, waits: Waits) -> Values:
    """Give the value of setting out on a leg at an entry by slot, waits there done."""
    begun = arrived_at(entry, exits, ready, moves)
    return waited_out(begun) if waits[1][entry] else begun


@Kernel
def latest_wait(values: Values, slot: int) -> int:
    """Latest slot from which waiting until `slot` gives the best there."""
    best = slot
    for t in range(slot - 1, -1, -1):
        if values[t] > values[best]:
            best = t
    return best


@Kernel
def latest_source(
    arrival: Slots, worth: Values, values: Values, at: tuple[int, float], least: int
) -> int:
    """Latest slot of leaving, from `least` on, that arrives `at` a slot with a value; else -1."""
    slot, value = at
    for t in range(slot, max(least, 0) - 1, -1):
        if arrival[t] == slot and values[t] + worth[t] == value:
            return t
    return -1


@Kernel
def latest_left(
    roads: tuple[Slots, Values],
    come_to: tuple[Flags, int, Values],
    here: tuple[Values, Values, Indices],
    waits: Flags,
    left: Flags,
) -> int:
    """Find the exits left as late as can be, all that are as good; when they were reached.

    Parameters
    ----------
    roads : arrivals, worths
        Of shape (exits, entries, slots).
    come_to : entries, slot, values
        Which are come to in that slot, and with what value each. [units]
    here : profile, ready, exits
        Of the day begun, and the exits one can be at.
    left : ndarray of bool, shape (entries, exits)
        Written: from which exit to which entry.
    """
    entries, slot, values = come_to
    profile, ready, exits = here
    leaving, reached_in = -1, -1
    when = np.full(left.shape, -1)
    for e in np.flatnonzero(entries):
        for a in exits:
            row = roads[0][a, e], roads[1][a, e]
            when[e, a] = latest_source(*row, ready[a], (slot, values[e]), leaving)
            leaving = max(leaving, when[e, a])
    left[:] = False
    for a in exits:
        if (when[:, a] == leaving).any():
            at = latest_wait(profile[a], leaving) if waits[a] else leaving
            if at > reached_in:
                reached_in, left[:] = at, False
            if at == reached_in:
                left[:, a] = when[:, a] == leaving
    return reached_in


@Kernel
def started(
    leg: int,
    here: tuple[Flags, int, Values],
    price: float,
    arrived: Values,
    moves: Moves,
    ways: Ways,
    waits: Waits,
    ridden: Flags,
) -> int:
    """Find the ways by which a leg leads `here`, started as late as can be; that slot, else -1.

    Parameters
    ----------
    here : exits, slot, profile
        The latter of the day with the leg.
    arrived : ndarray of float, shape (entries, slots)
        Of the day without it.
    ridden : ndarray of bool, shape (ways,)
        Written.
    """
    at, slot, after = here
    start, entry, riding = -1, -1, arrived[0]
    ridden[:] = False
    for w in range(len(ways[0])):
        x = ways[2][w]
        if ways[0][w] != leg or not at[x]:
            continue
        if ways[1][w] != entry:
            entry = ways[1][w]
            riding = waited_out(arrived[entry]) if waits[1][entry] else arrived[entry]
        value = after[x, slot] + price
        begun = latest_source(moves[2][w], moves[3][w], riding, (slot, value), start)
        if begun > start:
            start, ridden[:] = begun, False
        ridden[w] = begun == start and begun >= 0
    return start


@Kernel
def step_back(
    leg: int,
    here: tuple[Flags, int, Values],
    before: tuple[Values, Values, Indices],
    price: float,
    moves: Moves,
    ways: Ways,
    waits: Waits,
    told: tuple[Flags, Flags],
) -> tuple[int, int]:
    """Tell how a leg was ridden to be `here`: its start, and the slot of reaching exits before it.

    Parameters
    ----------
    here : exits, slot, profile
        The exits are written: those before the leg; the profile is that with it.
    before : profile, ready, exits
        Of the day without it, and the exits one can be at.
    told : ways, roads
        Written: the ways by which it was ridden, and from which exit to which entry; of shapes
        (ways,) and (entries, exits).

    Returns
    -------
    start, slot
        -1 where it was not ridden last: the exits stay as they are then.
    """
    at, ridden, entries = here[0], told[0], len(waits[1])
    arrived = np.full((entries, before[1].shape[1]), -np.inf)
    begins = np.zeros(entries, np.bool_)
    begins[ways[1][(ways[0] == leg) & at[ways[2]]]] = True
    for e in np.flatnonzero(begins):
        arrived[e] = arrived_at(int(e), before[2], before[1], moves)
    start = started(leg, here, price, arrived, moves, ways, waits, ridden)
    if start < 0:
        return -1, -1
    came, values = np.full(entries, -1), np.full(entries, -np.inf)
    for e in ways[1][ridden]:
        came[e] = latest_wait(arrived[e], start) if waits[1][e] else start
        values[e] = arrived[e, came[e]]
    come_to = came == came.max(), int(came.max()), values
    ridden &= come_to[0][ways[1]]
    reached_in = latest_left((moves[0], moves[1]), come_to, before, waits[0], told[1])
    for a in range(len(at)):
        at[a] = told[1][:, a].any()
    return start, reached_in


@Kernel
def ride_leg(
    leg: int, price: float, ready: Values, moves: Moves, ways: Ways, waits: Waits
) -> Values:
    """Give the profile of having ridden a leg next."""
    _, _, ride_arrival, ride_worth = moves
    way_leg, way_entry, way_exit = ways
    exits, slots = reached(ready), ready.shape[1]
    after = np.full(ready.shape, -np.inf)
    riding, entry = np.empty(0), -1
    for w in range(len(way_leg)):
        if way_leg[w] == leg:
            if way_entry[w] != entry:
                entry = way_entry[w]
                riding = set_out(entry, exits, ready, moves, waits)
            x = way_exit[w]
            for t in range(slots):
                arrival = ride_arrival[w, t]
                if arrival < slots:
                    value = riding[t] - price + ride_worth[w, t]
                    after[x, arrival] = max(after[x, arrival], value)
    return after


@Kernel
def legs_in(legs: int) -> int:
    """Count the legs of a small set."""
    count = 0
    while legs:
        legs &= legs - 1
        count += 1
    return count


@Kernel
def first_leg(
    mask: int,
    rests: tuple[SetsOfLegs, Indices, Values],
    ready: Values,
    value: float,
    rules: tuple[SetsOfLegs, SetsOfLegs, float],
    moves: Moves,
    ways: Ways,
    waits: Waits,
) -> tuple[int, float]:
    """Find the first leg of a set that may be ridden next in a day worth so much; its price.

    Parameters
    ----------
    rests : sets, rows, values
        A layer of the table: of the sets one leg smaller.
    ready : ndarray of float, shape (exits, slots)
        Of the day begun, order against all of `mask` paid.
    rules : first_of, own_before, order_cost

    Returns
    -------
    leg, price
        The latter of riding it before what is to come; leg -1: none may.
    """
    sets, rows, values = rests
    first_of, own_before, order_cost = rules
    _, _, ride_arrival, ride_worth = moves
    way_leg, way_entry, way_exit = ways
    exits, entries, stop = reached(ready), len(waits[1]), values.shape[1] - 1
    known, riding = np.zeros(entries, np.bool_), np.empty((entries, ready.shape[1]))
    for leg in range(len(first_of)):
        rest = mask & ~(1 << leg)
        if rest == mask or rest & first_of[leg] != 0:
            continue
        column = np.searchsorted(sets, rest)
        if column == len(sets) or sets[column] != rest:
            continue
        price = order_cost * legs_in(rest & own_before[leg])
        for w in range(len(way_leg)):
            if way_leg[w] != leg:
                continue
            e, there = way_entry[w], values[rows[way_exit[w], column]]
            if not known[e]:
                known[e], riding[e] = True, set_out(e, exits, ready, moves, waits)
            for t in range(ready.shape[1]):
                through = riding[e, t] + ride_worth[w, t] - price
                if through + there[min(ride_arrival[w, t], stop)] == value:
                    return leg, price
    return -1, 0.0


@Kernel
def time_legs(
    order: Indices,
    prices: Values,
    told: tuple[Indices, Indices],
    start_worth: Values,
    closing: tuple[Slots, Values],
    moves: Moves,
    ways: Ways,
    waits: Waits,
) -> tuple[float, int, int]:
    """Time an order that keeps all rules: value (-inf: impossible), slots of leaving and finishing.

    Parameters
    ----------
    prices : ndarray of float, shape (order,)
        Price of order of each leg of it. [units]
    told : ways, starts
        Shape (order,), written.
    closing : closing_arrival, closing_worth
    """
    exits, slots = closing[0].shape
    profiles = np.full((len(order) + 1, exits, slots), -np.inf)
    profiles[0, 0] = start_worth
    for i in range(len(order)):
        ready = waited(profiles[i], waits[0])
        profiles[i + 1] = ride_leg(order[i], prices[i], ready, moves, ways, waits)
    profile = profiles[len(order)]
    ready = waited(profile, waits[0])
    best, finish = -np.inf, -1
    for a in range(exits):
        for t in range(slots):
            value, arrival = ready[a, t] + closing[1][a, t], closing[0][a, t]
            if value > best or (value == best and arrival < finish):
                best, finish = value, arrival
    if best == -np.inf:
        return best, -1, -1
    ends = closing[0].reshape(exits, 1, slots), closing[1].reshape(exits, 1, slots)
    end = np.ones(1, np.bool_), finish, np.full(1, best)
    closed = np.zeros((1, exits), np.bool_)
    t = latest_left(ends, end, (profile, ready, reached(ready)), waits[0], closed)
    at = closed[0].copy()
    ridden = np.zeros((len(order), len(ways[0])), np.bool_)
    roads = np.zeros((len(order), len(waits[1]), exits), np.bool_)
    for i in range(len(order) - 1, -1, -1):
        ready = waited(profiles[i], waits[0])
        here, before = (at, t, profiles[i + 1]), (profiles[i], ready, reached(ready))
        told[1][i], t = step_back(
            order[i], here, before, prices[i], moves, ways, waits, (ridden[i], roads[i])
        )
    a = 0
    for i in range(len(order)):
        for w in range(len(ways[0])):
            if ridden[i, w] and roads[i, ways[1][w], a]:
                told[0][i], a = w, ways[2][w]
                break
    return best, t, finish


@Kernel
def last_leg(
    mask: int,
    here: tuple[Flags, int, Values],
    layer: tuple[SetsOfLegs, Indices, int, Values],
    rules: tuple[SetsOfLegs, SetsOfLegs, float],
    moves: Moves,
    ways: Ways,
    waits: Waits,
) -> tuple[int, int, Values]:
    """Find which leg of a set was ridden last to be `here`; slot and profile before.

    Parameters
    ----------
    here : exits, slot, profile
        The exits are written: those before it.
    layer : masks, exits, first, profile
        All sets one leg smaller, sorted.
    rules : closed_by, own_after, order_cost
        Sets by leg.
    """
    masks, exits, first, profile = layer
    closed_by, own_after, order_cost = rules
    places, slots = len(waits[0]), moves[2].shape[1]
    ridden = np.zeros(len(ways[0]), np.bool_), np.zeros((len(waits[1]), places), np.bool_)
    whole = np.full((places, slots), -np.inf)
    for leg in range(len(closed_by)):
        rest = mask & ~(1 << leg)
        if rest == mask or rest & closed_by[leg] != 0:
            continue
        row = np.searchsorted(masks, rest)
        whole[:] = -np.inf
        while row < len(masks) and masks[row] == rest:
            whole[exits[row], first : first + profile.shape[1]] = profile[row]
            row += 1
        price = order_cost * legs_in(rest & own_after[leg])
        ready = waited(whole, waits[0])
        before = whole, ready, reached(ready)
        start, slot = step_back(leg, here, before, price, moves, ways, waits, ridden)
        if start >= 0:
            return leg, slot, whole
    return -1, -1, whole
