"""A day in coarser slots, on which multipliers are bettered sooner.

Times are rounded, so nothing found on it holds for the day itself; but any multipliers give a
bound, and good ones for the coarse day are good for the day.
"""

from dataclasses import replace

import numpy as np

from replanner.planning.day_arrays import DayArrays
from replanner.planning.problem import Slots

MOST_SLOTS_AT_ONCE = 3
FEWEST_SLOTS = 60
"""A coarse day still has so many slots."""


def coarser(arrays: DayArrays) -> DayArrays:
    """Give the day with up to three slots taken as one; itself if it has few."""
    by = min(MOST_SLOTS_AT_ONCE, arrays.slots // FEWEST_SLOTS)
    if by <= 1:
        return arrays
    return replace(
        arrays,
        slots=-(-arrays.slots // by),
        latest=arrays.latest // by,
        start_worth=np.ascontiguousarray(arrays.start_worth[::by]),
        road_arrival=_arrival(arrays.road_arrival, by),
        road_worth=np.ascontiguousarray(arrays.road_worth[..., ::by]),
        closing_arrival=_arrival(arrays.closing_arrival, by),
        closing_worth=np.ascontiguousarray(arrays.closing_worth[..., ::by]),
        ride_arrival=_arrival(arrays.ride_arrival, by),
        ride_worth=np.ascontiguousarray(arrays.ride_worth[..., ::by]),
    )


def _arrival(arrival: Slots, by: int) -> Slots:
    """Round the slots taken to the nearest coarse ones, but what takes time takes one at least."""
    slots = arrival.shape[-1]
    left = np.arange(0, slots, by)
    takes = arrival[..., ::by] - left
    last = -(-slots // by)
    coarse = left // by + np.maximum((takes + by // 2) // by, takes > 0)
    rounded: Slots = np.where(arrival[..., ::by] == slots, last, np.minimum(coarse, last))
    return rounded
