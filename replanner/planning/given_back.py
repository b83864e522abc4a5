"""What a bound gives back to a day begun: the multipliers of legs it may still ride.

The bound has charged every ride its leg's multiplier. A day that rides a leg once is given it back,
less what it pays for riding the leg against the rider's own order after legs that the place has
forgotten (the remembered ones are priced in the bound); a leg that costs more than that is better
not ridden, and one that can no longer be ridden is given nothing.
"""

from dataclasses import dataclass

import numpy as np

from replanner.planning.day_arrays import DayArrays, Flags, SetsOfLegs
from replanner.planning.exact_prices import Values


@dataclass(frozen=True, slots=True)
class GivenBack:
    """What is given back to days with some legs ridden.

    Parameters
    ----------
    own_after, closed_by : ndarrays of int, shape (legs,)
        As in `DayArrays`.
    must : ndarray of bool, shape (legs,)
        Legs given back whatever they cost, since they must be ridden.
    of_leg : ndarray of float, shape (legs,)
        Multipliers of legs. [units]
    groups : ndarray of int
        Masks of exclusive legs.
    of_group : ndarray of float, shape (groups,)
        Their multipliers. [units]
    order_cost : float
        Price of each pair against the own order. [units]
    """

    own_after: SetsOfLegs
    closed_by: SetsOfLegs
    must: Flags
    of_leg: Values
    groups: SetsOfLegs
    of_group: Values
    order_cost: float

    @classmethod
    def of(
        cls, arrays: DayArrays, scarce: SetsOfLegs, must: Flags, multipliers: Values
    ) -> "GivenBack":
        """Sort the multipliers of scarce legs, single legs first, then groups."""
        legs = arrays.legs
        return cls(
            np.array(arrays.own_after, dtype=np.int64),
            np.array(arrays.closed_by, dtype=np.int64),
            must[:legs],
            multipliers[:legs],
            scarce[legs:],
            multipliers[legs:],
            arrays.order_cost,
        )

    def to(self, ridden: SetsOfLegs, remembered: SetsOfLegs) -> Values:
        """Give back to days that have ridden some legs, at places that remember some legs.

        Both masks by day, of shape (days,).
        """
        lowest = np.where(self.must, -np.inf, 0.0)[:, np.newaxis]
        legs = 1 << np.arange(len(self.of_leg))
        closed_by = np.where(self.must, legs, self.closed_by | legs)[:, np.newaxis]
        against = np.bitwise_count(ridden & ~remembered & self.own_after[:, np.newaxis])
        left = self.of_leg[:, np.newaxis] - self.order_cost * against
        np.maximum(left, lowest, out=left)
        left *= ridden & closed_by == 0
        unused = ridden & self.groups[:, np.newaxis] == 0
        return np.asarray(left.sum(axis=0) + self.of_group @ unused)
