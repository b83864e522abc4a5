"""Timing an order of legs, and finding the first or last leg of a set: compiled twins.

Of `order_timing`, of `plan_ranking` and of `found_order`; rules and ties are told there. Profiles
are of shape (exits, slots).
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
def set_out(entry: int, exits: Indices, ready: Values, moves: Moves, waits: Waits) -> Values:
    """Give the value of setting out on a leg at an entry by slot, waits there done."""
    begun = arrived_at(entry, exits, ready, moves)
    if waits[1][entry]:
        for t in range(1, len(begun)):
            begun[t] = max(begun[t], begun[t - 1])
    return begun


@Kernel
def latest_wait(values: Values, slot: int) -> int:
    """Latest slot from which waiting until `slot` gives the best there."""
    best = slot
    for t in range(slot - 1, -1, -1):
        if values[t] > values[best]:
            best = t
    return best


@Kernel
def latest_left(
    arrival: Slots,
    worth: Values,
    profile: Values,
    ready: Values,
    slot: int,
    value: float,
    waits: Flags,
) -> tuple[int, int]:
    """Find the exit left as late as can be to arrive in a slot; when it was reached."""
    exit_, leaving = -1, -1
    for a in range(len(ready)):
        for t in range(ready.shape[1] - 1, leaving, -1):
            if arrival[a, t] == slot and ready[a, t] + worth[a, t] == value:
                exit_, leaving = a, t
                break
    return exit_, latest_wait(profile[exit_], leaving) if waits[exit_] else leaving


@Kernel
def step_back(
    leg: int,
    here: tuple[int, int, float],
    profile: Values,
    price: float,
    moves: Moves,
    ways: Ways,
    waits: Waits,
) -> tuple[int, int, int, int]:
    """Tell how a leg was ridden to be `here` (exit, slot, value): way, start, exit and slot before.

    The way is -1 where it was not.
    """
    road_arrival, road_worth, ride_arrival, ride_worth = moves
    way_leg, way_entry, way_exit = ways
    exit_, slot, value = here
    ready = waited(profile, waits[0])
    exits = reached(ready)
    best, start = -1, -1
    for w in range(len(way_leg)):
        if way_leg[w] == leg and way_exit[w] == exit_:
            riding = set_out(way_entry[w], exits, ready, moves, waits)
            for t in range(len(riding) - 1, start, -1):
                arrives = ride_arrival[w, t] == slot
                if arrives and riding[t] - price + ride_worth[w, t] == value:
                    best, start = w, t
                    break
    if best < 0:
        return -1, -1, -1, -1
    e = way_entry[best]
    arrived = arrived_at(e, exits, ready, moves)
    came = latest_wait(arrived, start) if waits[1][e] else start
    before, left = latest_left(
        road_arrival[:, e], road_worth[:, e], profile, ready, came, arrived[came], waits[0]
    )
    return best, start, before, left


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
    a, t = latest_left(closing[0], closing[1], profile, ready, finish, best, waits[0])
    for i in range(len(order) - 1, -1, -1):
        here = a, t, profiles[i + 1, a, t]
        told[0][i], told[1][i], a, t = step_back(
            order[i], here, profiles[i], prices[i], moves, ways, waits
        )
    return best, t, finish


@Kernel
def last_leg(
    mask: int,
    here: tuple[int, int, float],
    layer: tuple[SetsOfLegs, Indices, int, Values],
    rules: tuple[SetsOfLegs, SetsOfLegs, float],
    moves: Moves,
    ways: Ways,
    waits: Waits,
) -> tuple[int, int, int, float]:
    """Find which leg of a set was ridden last to be `here`; exit, slot and value before.

    Parameters
    ----------
    here : exit, slot, value
    layer : masks, exits, first, profile
        All sets one leg smaller, sorted.
    rules : closed_by, own_after, order_cost
        Sets by leg.
    """
    masks, exits, first, profile = layer
    closed_by, own_after, order_cost = rules
    for leg in range(len(closed_by)):
        rest = mask & ~(1 << leg)
        if rest == mask or rest & closed_by[leg] != 0:
            continue
        row = np.searchsorted(masks, rest)
        whole = np.full((len(waits[0]), moves[2].shape[1]), -np.inf)
        while row < len(masks) and masks[row] == rest:
            whole[exits[row], first : first + profile.shape[1]] = profile[row]
            row += 1
        price = order_cost * legs_in(rest & own_after[leg])
        way, _, a, t = step_back(leg, here, whole, price, moves, ways, waits)
        if way >= 0:
            return leg, a, t, whole[a, t]
    return -1, -1, -1, -np.inf
