"""The multipliers of a relaxed bound, bettered step by step.

By the subgradient method (Held, M., Wolfe, P. and Crowder, H. P. (1974), "Validation of subgradient
optimization", Mathematical Programming 6, 62-88): a leg the bound rides twice gets dearer, one it
does not ride gets cheaper, in steps that shrink while nothing gets better.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from replanner.planning.day_arrays import IMPOSSIBLE
from replanner.planning.exact_prices import Values
from replanner.planning.relaxed_bound import Memory, RelaxedBound, RelaxedDay

PATIENCE = 4
"""Steps without a better bound before they get shorter."""

SHORTER = 0.6


@dataclass(frozen=True, slots=True)
class Steps:
    """How many steps at most, and the length of the first; 1 aims right at the target."""

    most: int
    length: float


def better_multipliers(
    day: RelaxedDay,
    memory: Memory,
    known: Values,
    target: float,
    *,
    steps: Steps,
    stopped: Callable[[], bool],
) -> RelaxedBound:
    """Better the multipliers for a memory; give the best bound they made.

    Parameters
    ----------
    known : ndarray of float, shape (scarce,)
        Multipliers to begin with. [units]
    target : float
        The value of the best plan known, which the bound can't fall below; -inf if there is none:
        then steps are aimed lower by a tenth of all the day's prices together. [units]
    """
    best = now = day.bound(memory, known)
    least = bound = best.of_day(day.arrays.latest)
    length, waited = steps.length, 0
    unknown = _all_prices(day) / 10
    for _ in range(steps.most):
        slope = times_ridden(day, now) @ day.uses - 1
        slope[(now.multipliers <= day.lowest) & (slope < 0)] = 0.0
        steepness = float(slope @ slope)
        if stopped() or least <= target or steepness == 0.0:
            break
        step = length * (bound - target if target > IMPOSSIBLE else unknown) / steepness
        now = day.bound(memory, np.rint(np.maximum(day.lowest, now.multipliers + step * slope)))
        bound = now.of_day(day.arrays.latest)
        waited += 1
        if bound < least:
            best, least, waited = now, bound, 0
        elif waited == PATIENCE:
            length, waited = length * SHORTER, 0
    return best


def _all_prices(day: RelaxedDay) -> float:
    """Sum each leg's dearest worth or price and as many connectors of the dearest."""
    legs = np.zeros(day.arrays.legs)
    np.maximum.at(legs, day.ways[:, 0], np.abs(day.ride_worth).max(axis=0, initial=0.0))
    return float(legs.sum() + len(legs) * np.abs(day.road_worth).max(initial=0.0))


def times_ridden(day: RelaxedDay, table: RelaxedBound) -> Values:
    """Follow the relaxed day of best value; how often it rides each leg, shape (legs,)."""
    arrays = day.arrays
    times = np.zeros(arrays.legs)
    t, a, ridden = int(np.argmax(table.to_go[: arrays.latest + 1, 0, 0])), 0, 0
    entries = np.arange(len(arrays.entries))
    for _ in range(2 * arrays.slots):  # rides of no slots could go on for ever
        if not entries.size or t == arrays.slots:
            break
        there = table.entry_set[a, :, ridden]
        going = table.at_entry[day.road_arrival[t, a], entries, there] + day.road_worth[t, a]
        e = int(np.argmax(going))
        if going[e] < table.to_go[t, a, ridden] or going[e] == IMPOSSIBLE:
            waited = table.to_go[t + 1, a, ridden] - arrays.wait
            if not arrays.exit_waits[a] or waited < table.to_go[t, a, ridden]:
                break  # the day closes here
            t += 1
            continue
        ridden = int(there[e])
        t, w = _set_out(day, table, (int(day.road_arrival[t, a, e]), e), ridden)
        if t < arrays.slots:
            times[day.ways[w, 0]] += 1
            a, ridden = int(day.ways[w, 2]), int(table.exit_set[w, ridden])
            t = int(day.ride_arrival[t, w])
    return times


def _set_out(
    day: RelaxedDay, table: RelaxedBound, arrived: tuple[int, int], ridden: int
) -> tuple[int, int]:
    """From having arrived in a slot at an entry: slot of riding and way, as the bound has it."""
    t, e = arrived
    ways = np.flatnonzero(day.ways[:, 1] == e)
    exits, after = day.ways[ways, 2], table.exit_set[ways, ridden]
    while t < day.arrays.slots:
        riding = table.to_go[day.ride_arrival[t, ways], exits, after] + day.ride_worth[t, ways]
        riding += table.paid[ways, ridden]
        w = int(np.argmax(riding))
        if riding[w] >= table.at_entry[t, e, ridden]:
            return t, int(ways[w])
        t += 1
    return t, 0
