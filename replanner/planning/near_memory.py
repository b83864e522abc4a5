"""Which legs each place remembers in a relaxed bound: those demanded, then those soonest begun.

Those demanded come first and everywhere alike, since only a leg never forgotten can be asked for.

A leg ridden again and again in a relaxed day is one close by; far ones cost too much on the way.
"""

from dataclasses import dataclass

import numpy as np

from replanner.planning.day_arrays import Indices
from replanner.planning.relaxed_bound import NO_LEG, Memory, RelaxedDay


@dataclass(frozen=True, slots=True)
class Near:
    """How soon legs are begun from each place of a day.

    Parameters
    ----------
    first, others : list of int
        The legs demanded, and the other legs that can be ridden.
    at_exit, at_entry : ndarrays of int, shape (places, legs)
        A leg just ridden to an exit, or begun at an entry, is nearest there. An entry remembers
        what the exits remember to which its legs lead. [slots]
    """

    first: list[int]
    others: list[int]
    at_exit: Indices
    at_entry: Indices

    @classmethod
    def of(cls, day: RelaxedDay) -> "Near":
        """Look how near the legs of a day are."""
        arrays = day.arrays
        demanded = arrays.musts
        for group in arrays.exactly:
            demanded |= group
        at_exit = _near_exits(day)
        return cls(
            first=[leg for leg in arrays.rideable if demanded >> leg & 1],
            others=[leg for leg in arrays.rideable if not demanded >> leg & 1],
            at_exit=at_exit,
            at_entry=_near_entries(day, at_exit),
        )

    def legs(self, bits: int) -> Memory:
        """Let each place remember so many legs."""
        return Memory(
            _nearest(self.at_exit, self.first, self.others, bits),
            _nearest(self.at_entry, self.first, self.others, bits),
        )


def nearest_legs(day: RelaxedDay, bits: int) -> Memory:
    """Let each place of a day remember so many legs."""
    return Near.of(day).legs(bits)


def _near_exits(day: RelaxedDay) -> Indices:
    """Slots from an exit to where a leg is begun, shape (exits, legs)."""
    arrays = day.arrays
    takes = arrays.road_arrival - np.arange(arrays.slots)
    soonest = takes.min(axis=2, initial=arrays.slots)
    near = np.full((len(arrays.exits), arrays.legs), arrays.slots)
    for leg, entry in zip(day.way_leg, day.way_entry, strict=True):
        near[:, leg] = np.minimum(near[:, leg], soonest[:, entry])
    near[day.way_exit, day.way_leg] = -1
    return near


def _near_entries(day: RelaxedDay, at_exit: Indices) -> Indices:
    near = np.full((len(day.arrays.entries), day.arrays.legs), day.arrays.slots)
    np.minimum.at(near, day.way_entry, at_exit[day.way_exit])
    near[day.way_entry, day.way_leg] = -1
    return near


def _nearest(near: Indices, first: list[int], others: list[int], bits: int) -> Indices:
    legs = np.full((len(near), bits), NO_LEG, dtype=np.int64)
    for place, slots in enumerate(near.tolist()):
        ranked = first + sorted(others, key=lambda leg: (slots[leg], leg))
        kept = sorted(ranked[:bits])
        legs[place, : len(kept)] = kept
    return legs
