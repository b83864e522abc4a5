"""Days begun: legs ridden in some order, and the best value of being anywhere then, by slot."""

from dataclasses import dataclass, field

import numpy as np

from replanner.planning import fast, order_loops
from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, Flags, Indices
from replanner.planning.exact_prices import Values
from replanner.planning.problem import Slots

MOST_KEPT_BYTES = 16_000_000
"""Memory of the days begun that are kept: some hundred of a day split by its tank."""

Profile = Values
"""Best value of having ridden what has been, arriving at exit a in slot t; shape (exits, slots)."""


@dataclass(frozen=True, slots=True)
class Begun:
    """A day begun.

    Parameters
    ----------
    ridden : int
        The legs ridden, as a mask.
    profile : ndarray of float, shape (exits, slots)
        Best value by slot of arriving at an exit. [units]
    exits : ndarray of int
        The exits one can be at.
    ready : ndarray of float, shape (exits, slots)
        Best value by slot of leaving an exit, waits there done. [units]
    arrived : dict of ndarray of float, shape (slots,)
        Best value by slot of arriving at an entry, as far as it has been asked for. [units]
    """

    ridden: int
    profile: Profile
    exits: Indices
    ready: Values
    arrived: dict[int, Values] = field(default_factory=dict)

    @property
    def bytes(self) -> int:
        """Memory of the values."""
        return self.profile.nbytes + self.ready.nbytes

    @classmethod
    def of(cls, arrays: DayArrays, ridden: int, profile: Profile) -> "Begun":
        """Go on from a profile."""
        exits = np.flatnonzero(profile.max(axis=1, initial=IMPOSSIBLE) > IMPOSSIBLE)
        ready = profile.copy()
        waits = exits[arrays.exit_waits[exits]]
        ready[waits] = np.maximum.accumulate(profile[waits], axis=1)
        return cls(ridden, profile, exits, ready)

    @classmethod
    def at_start(cls, arrays: DayArrays) -> "Begun":
        """Nothing ridden yet."""
        return cls.of(arrays, 0, profile_at_start(arrays))


def profile_at_start(arrays: DayArrays) -> Profile:
    """Nothing ridden: at the start, leaving is free to choose."""
    profile = np.full((len(arrays.exits), arrays.slots), IMPOSSIBLE)
    profile[0] = arrays.start_worth
    return profile


def ride_next(arrays: DayArrays, begun: Begun, leg: int) -> Begun:
    """Ride `leg` next; all is impossible if what is ridden already forbids it."""
    after = np.full_like(begun.profile, IMPOSSIBLE)
    allowed, price = not begun.ridden & arrays.closed_by[leg], price_of_order(arrays, begun, leg)
    if allowed and fast.available():
        after = order_loops.ride_leg(leg, price, begun.ready, *moves_of(arrays))
    elif allowed:
        ways = np.flatnonzero(ways_met(arrays, begun) & (arrays.way_leg == leg))
        entries = arrays.way_entry[ways].tolist()
        riding = [ready_to_ride(arrays, begun, entry) for entry in entries]
        if riding:
            moves = arrays.ride_arrival[ways], arrays.ride_worth[ways] - price
            np.maximum.at(after, arrays.way_exit[ways], arriving(*moves, np.stack(riding)))
    return Begun.of(arrays, begun.ridden | 1 << leg, after)


class DaysBegun:
    """Days begun by the legs ridden so far: whoever tells of a day asks for the same ones again."""

    def __init__(self, arrays: DayArrays) -> None:
        self.arrays = arrays
        self._days: dict[tuple[int, ...], Begun] = {}
        self._most = max(MOST_KEPT_BYTES // max(Begun.at_start(arrays).bytes, 1), arrays.legs + 1)

    def after(self, order: tuple[int, ...]) -> Begun:
        """Return the day in which these legs have been ridden, in this order."""
        if order not in self._days:
            if len(self._days) >= self._most:
                self._days.clear()
            self._days[order] = (
                ride_next(self.arrays, self.after(order[:-1]), order[-1])
                if order
                else Begun.at_start(self.arrays)
            )
        return self._days[order]


def price_of_order(arrays: DayArrays, begun: Begun, leg: int) -> float:
    """Price of riding a leg after what has been ridden, against the rider's own order. [units]."""
    return arrays.order_cost * (begun.ridden & arrays.own_after[leg]).bit_count()


def arriving(arrival: Slots, worth: Values, values: Values) -> Values:
    """Values by slot of leaving, brought to the slot of arriving; the best of each slot.

    All of shape (slots,), or all of shape (moves, slots).
    """
    rows, width = values.size // max(values.shape[-1], 1), values.shape[-1] + 1
    result = np.full(rows * width, IMPOSSIBLE)
    into = arrival.reshape(rows, width - 1) + np.arange(rows)[:, np.newaxis] * width
    np.maximum.at(result, into.reshape(-1), (values + worth).reshape(-1))
    return result.reshape((*values.shape[:-1], width))[..., :-1]


def moves_of(
    arrays: DayArrays,
) -> tuple[order_loops.Moves, order_loops.Ways, order_loops.Waits]:
    """Give a day's moves, ways and waits as the compiled loops take them."""
    return (
        (arrays.road_arrival, arrays.road_worth, arrays.ride_arrival, arrays.ride_worth),
        (arrays.way_leg, arrays.way_entry, arrays.way_exit),
        (arrays.exit_waits, arrays.entry_waits),
    )


def ways_met(arrays: DayArrays, begun: Begun) -> Flags:
    """Tell which ways are come to; most of those of a split day are not."""
    return np.asarray(arrays.met[begun.exits].any(axis=0))[arrays.way_entry]


def arrived_at(arrays: DayArrays, begun: Begun, entry: int) -> Values:
    """Value of arriving at an entry by slot."""
    if entry not in begun.arrived:
        exits = begun.exits[arrays.met[begun.exits, entry]]
        roads = arrays.road_arrival[exits, entry], arrays.road_worth[exits, entry]
        begun.arrived[entry] = arriving(*roads, begun.ready[exits]).max(axis=0, initial=IMPOSSIBLE)
    return begun.arrived[entry]


def ready_to_ride(arrays: DayArrays, begun: Begun, entry: int) -> Values:
    """Value of setting out on a leg at an entry by slot, waits there done."""
    arrived = arrived_at(arrays, begun, entry)
    return np.maximum.accumulate(arrived) if arrays.entry_waits[entry] else arrived
