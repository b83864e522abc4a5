"""The multipliers of a relaxed bound, bettered step by step.

By the subgradient method (Held, M., Wolfe, P. and Crowder, H. P. (1974), "Validation of subgradient
optimization", Mathematical Programming 6, 62-88): a leg the bound rides twice gets dearer, one it
does not ride gets cheaper, in steps that shrink while nothing gets better.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from replanner.planning import fast, relaxed_loops
from replanner.planning.day_arrays import IMPOSSIBLE
from replanner.planning.exact_prices import Values
from replanner.planning.relaxed_bound import RelaxedDay, Remembering

PATIENCE = 3
"""Steps without a better bound before they get shorter."""

SHORTER = 0.6


@dataclass(frozen=True, slots=True)
class Steps:
    """How many steps at most, and the length of the first; 1 aims right at the target."""

    most: int
    length: float


def better_multipliers(
    day: RelaxedDay,
    memory: Remembering,
    known: Values,
    target: float,
    *,
    steps: Steps,
    stopped: Callable[[], bool],
) -> Values:
    """Better the multipliers for a memory; give those of the best bound.

    Parameters
    ----------
    known : ndarray of float, shape (scarce,)
        Multipliers to begin with. [units]
    target : float
        The value of the best plan known, which the bound can't fall below; -inf if there is none:
        then steps are aimed lower by a tenth of all the day's prices together. [units]
    """
    now = best = known
    value, times = relaxed_day(day, memory, now)
    best_value = value
    length, waited = steps.length, 0
    unknown = 0.0 if target > IMPOSSIBLE else _all_prices(day) / 10
    for _ in range(steps.most):
        slope = times @ day.uses - 1
        slope[(now <= day.lowest) & (slope < 0)] = 0.0
        steepness = float(slope @ slope)
        if stopped() or best_value <= target or steepness == 0.0:
            break
        step = length * (value - target if target > IMPOSSIBLE else unknown) / steepness
        now = np.rint(np.maximum(day.lowest, now + step * slope))
        value, times = relaxed_day(day, memory, now)
        waited += 1
        if value < best_value:
            best, best_value, waited = now, value, 0
        elif waited == PATIENCE:
            length, waited = length * SHORTER, 0
    return best


def _all_prices(day: RelaxedDay) -> float:
    """Sum each leg's dearest worth or price and as many connectors of the dearest."""
    legs = np.zeros(day.arrays.legs)
    np.maximum.at(legs, day.way_leg, _dearest(day.ride_worth).max(axis=1, initial=0.0))
    return float(legs.sum() + len(legs) * _dearest(day.arrays.road_worth).max(initial=0.0))


def _dearest(worth: Values) -> Values:
    return np.where(worth == IMPOSSIBLE, 0.0, np.abs(worth))


def relaxed_day(day: RelaxedDay, memory: Remembering, multipliers: Values) -> tuple[float, Values]:
    """Find the relaxed day of best value; the bound it is, and how often it rides each leg.

    Of moves equally good the one to the first entry or by the first way is followed, the earliest.
    """
    arrays = day.arrays
    times = np.zeros(arrays.legs)
    if fast.available():
        price = day.price_of_ways(multipliers)
        moves = day.moves(memory)
        best = relaxed_loops.relaxed_day(times, arrays.start_worth, price, day.way_leg, *moves)
        return best + float(multipliers.sum()), times
    tables = day.swept(memory, multipliers)
    by_leaving = arrays.start_worth + tables[0][:-1, 0, 0]
    slot = int(np.argmax(by_leaving))
    _follow(times, day, memory, tables, day.price_of_ways(multipliers), slot)
    return float(by_leaving[slot] + multipliers.sum()), times


def _follow(
    times: Values,
    day: RelaxedDay,
    memory: Remembering,
    tables: tuple[Values, Values],
    price: Values,
    slot: int,
) -> None:
    """Follow the relaxed day, look by look: the twin of the compiled `follow`."""
    arrays, (to_go, at_entry) = day.arrays, tables
    exit_, ridden = 0, 0
    places = np.arange(len(arrays.entries))[:, np.newaxis]
    stops = np.append(day.entry_starts, len(day.ways))
    ways_of = {int(day.way_entry[i]): slice(i, j) for i, j in pairwise(stops)}
    for _ in range(2 * arrays.slots):  # rides of no slots could go on for ever
        value = to_go[slot, exit_, ridden]
        if value == IMPOSSIBLE or not len(places):
            return
        until = arrays.slots if arrays.exit_waits[exit_] else slot + 1
        there = memory.entry_set[exit_, :, ridden]
        arrival = arrays.road_arrival[exit_, :, slot:until]
        going = at_entry[arrival, places, there[:, np.newaxis]]
        going += arrays.road_worth[exit_, :, slot:until]
        best = int(np.argmax(going >= value))
        entry, later = divmod(best, until - slot)
        if going[entry, later] < value:
            return  # the day closes here
        slot = int(arrival[entry, later])
        ridden = int(there[entry])
        value = at_entry[slot, entry, ridden]
        until = arrays.slots if arrays.entry_waits[entry] else slot + 1
        ways = ways_of[entry]
        arrival = day.ride_arrival[ways, slot:until]
        after = memory.exit_set[ways, ridden]
        riding = to_go[arrival, day.way_exit[ways, np.newaxis], after[:, np.newaxis]]
        riding += day.ride_worth[ways, slot:until]
        riding += (memory.paid[ways, ridden] - price[ways])[:, np.newaxis]
        best = int(np.argmax(riding >= value))
        way, later = divmod(best, until - slot)
        if riding[way, later] < value:
            return
        slot, exit_ = int(arrival[way, later]), int(day.way_exit[ways][way])
        ridden = int(after[way])
        times[day.way_leg[ways][way]] += 1
