"""Which legs each place remembers in a relaxed bound: those demanded, then those soonest begun.

A leg ridden again and again in a relaxed day is one close by; far ones cost too much on the way.
"""

import numpy as np

from replanner.planning.day_arrays import DayArrays
from replanner.planning.relaxed_bound import Memory, RelaxedDay

Nearness = dict[int, int]
"""By leg, the slots from a place to where it is begun."""


def nearest_legs(day: RelaxedDay, bits: int) -> Memory:
    """Let each place remember so many legs.

    A leg just ridden to an exit, or begun at an entry, is nearest there. An entry remembers what
    the exits remember to which its legs lead.
    """
    arrays = day.arrays
    demanded = _demanded(arrays)
    at_exit = [_near_exit(day, a) for a in range(len(arrays.exits))]
    at_entry = [_near_entry(arrays, e, at_exit) for e in range(len(arrays.entries))]
    return Memory(
        tuple(_nearest(near, demanded, bits) for near in at_exit),
        tuple(_nearest(near, demanded, bits) for near in at_entry),
    )


def _demanded(arrays: DayArrays) -> int:
    """Legs that decide whether a day is allowed."""
    demanded = arrays.musts
    for group in arrays.exactly:
        demanded |= group
    for leg, first in enumerate(arrays.first_of):
        if first:
            demanded |= first | 1 << leg
    return demanded


def _near_exit(day: RelaxedDay, a: int) -> Nearness:
    arrays = day.arrays
    takes = day.road_arrival[:, a] - np.arange(arrays.slots)[:, np.newaxis]
    soonest = takes.min(axis=0, initial=arrays.slots)
    near = {way.leg: arrays.slots for way in arrays.ways}
    for way in arrays.ways:
        there = -1 if way.exit == a else int(soonest[way.entry])
        near[way.leg] = min(near[way.leg], there)
    return near


def _near_entry(arrays: DayArrays, e: int, at_exit: list[Nearness]) -> Nearness:
    begun = [way for way in arrays.ways if way.entry == e]
    near = {way.leg: arrays.slots for way in arrays.ways}
    for way in begun:
        for leg, slots in at_exit[way.exit].items():
            near[leg] = min(near[leg], slots)
    for way in begun:
        near[way.leg] = -1
    return near


def _nearest(near: Nearness, demanded: int, bits: int) -> tuple[int, ...]:
    ranked = sorted(near, key=lambda leg: (-(demanded >> leg & 1), near[leg], leg))
    return tuple(sorted(ranked[:bits]))
