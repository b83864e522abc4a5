"""In which slots waiting can be better than going at once: elsewhere the sweep looks no further.

What is to come at the other end of a move is never worth more when it is come to later, if one can
wait there. So leaving later is better only where the move itself is worth more later, or arrives
earlier.
"""

import numpy as np

from replanner.planning.day_arrays import DayArrays, Flags, Indices
from replanner.planning.exact_prices import Values
from replanner.planning.problem import Slots


def worth_waiting(arrays: DayArrays) -> tuple[Flags, Flags]:
    """Tell by place and slot where it can, at exits and at entries, shapes (places, slots)."""
    exits, entries = np.nonzero(arrays.met)
    roads = arrays.road_arrival[exits, entries], arrays.road_worth[exits, entries]
    ways = arrays.ride_arrival, arrays.ride_worth
    return (
        _at(arrays.exit_waits, exits, _later_better(*roads, arrays.entry_waits[entries])),
        _at(
            arrays.entry_waits,
            arrays.way_entry,
            _later_better(*ways, arrays.exit_waits[arrays.way_exit]),
        ),
    )


def _later_better(arrival: Slots, worth: Values, waits: Flags) -> Flags:
    """Tell by move and slot whether it can be better left later; `waits`: where it leads to."""
    best = np.maximum.accumulate(worth[:, ::-1], axis=1)[:, ::-1]
    first = np.minimum.accumulate(arrival[:, ::-1], axis=1)[:, ::-1]
    return np.asarray((best > worth) | (first < arrival) | ~waits[:, np.newaxis])


def _at(waits: Flags, places: Indices, better: Flags) -> Flags:
    found = np.zeros((len(waits), better.shape[1]), dtype=np.bool_)
    np.logical_or.at(found, places, better)
    return found & waits[:, np.newaxis]


def spans(flags: Flags) -> list[tuple[int, int]]:
    """Give the first and the end of each run of slots that are told."""
    edges = np.flatnonzero(np.diff(flags.astype(np.int8), prepend=0, append=0))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))
