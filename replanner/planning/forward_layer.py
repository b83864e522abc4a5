"""Days begun with equally many legs ridden, and a day's moves ready for going forward."""

from dataclasses import dataclass

import numpy as np

from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, Indices, SetsOfLegs
from replanner.planning.exact_prices import Values
from replanner.planning.implied_order import last_chance
from replanner.planning.problem import Slots


@dataclass(frozen=True, slots=True)
class Layer:
    """Days begun, sorted by set and exit.

    `profile[i]` is the best value by slot of arriving at `exits[i]` having ridden `masks[i]`, the
    slots counted from `first`; `reach[i]` bounds the value of any day begun so.
    """

    masks: SetsOfLegs
    exits: Indices
    first: int
    profile: Values
    reach: Values

    @property
    def stop(self) -> int:
        """The slot after the last of the profiles."""
        return self.first + int(self.profile.shape[1])

    def take(self, rows: Indices) -> "Layer":
        """Give some of the rows."""
        return Layer(
            self.masks[rows], self.exits[rows], self.first, self.profile[rows], self.reach[rows]
        )

    def whole(self, rows: Indices, slots: int) -> Values:
        """Give the profiles of some rows for all slots, and one after that holds nothing."""
        values = np.full((len(rows), slots + 1), IMPOSSIBLE)
        values[:, self.first : self.first + self.profile.shape[1]] = self.profile[rows]
        return values


class ForwardDay:
    """A day's moves by slot of arriving, ready for going forward."""

    def __init__(self, arrays: DayArrays) -> None:
        self.arrays = arrays
        self.ways = np.lexsort((arrays.way_exit, arrays.way_leg, arrays.way_entry))
        self.way_leg = arrays.way_leg[self.ways]
        self.way_entry = arrays.way_entry[self.ways]
        self.way_exit = arrays.way_exit[self.ways]
        self.ride_arrival = arrays.ride_arrival[self.ways]
        self.ride_worth = arrays.ride_worth[self.ways]
        self.closed_by = np.array(arrays.closed_by, dtype=np.int64)[self.way_leg]
        self.own_after = np.array(arrays.own_after, dtype=np.int64)[self.way_leg]
        self.chance = last_chance(arrays)
        self._roads: tuple[Slots, Values] | None = None

    @property
    def roads(self) -> tuple[Slots, Values]:
        """Slots of arriving and worths of roads, shapes (exits, slots, entries)."""
        if self._roads is None:
            arrays = self.arrays
            self._roads = (
                np.ascontiguousarray(arrays.road_arrival.transpose(0, 2, 1)),
                np.ascontiguousarray(arrays.road_worth.transpose(0, 2, 1)),
            )
        return self._roads


def cropped(masks: SetsOfLegs, exits: Indices, first: int, profile: Values, reach: Values) -> Layer:
    """Give a layer without the slots before and after all that is possible."""
    alive = np.flatnonzero((profile > IMPOSSIBLE).any(axis=0))
    if not alive.size:
        return Layer(masks, exits, 0, np.zeros((len(masks), 0)), reach)
    since, until = int(alive[0]), int(alive[-1]) + 1
    return Layer(masks, exits, first + since, np.ascontiguousarray(profile[:, since:until]), reach)
