"""One order of legs, fixed in the evening, that stands up best in the members of the weather.

An order is a choice of legs, each in one of its ways. In each member it is ridden as well as that
member's weather allows: leaving and starting when it is best there, and a leg that is no-go when it
could be reached, or not worth its price, is left out there for a price. The price of riding against
the rider's own order is owed by the order as told.

Weighed is the mean over the members and the mean over the worst share of them. Both only rise with
the value of any member, so a bound on every member gives a bound on both. A member's bound is its
own exact table (`sweep`): what it could still make of the legs to come if it were free to ride them
in any order. The search goes through the orders leg by leg, keeping for each beginning the sets of
legs that could still follow it; when none is left, the best order known is proven. Nothing of it is
in the product: `robust.py` beside it measures what it would gain.

Rockafellar, R. T. and Uryasev, S. (2000), "Optimization of conditional value-at-risk", Journal of
Risk 2, 21-41, for the mean of the worst share (told from memory); here of whole members.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, inf
from typing import NamedTuple

import numpy as np

from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, SetsOfLegs, day_arrays
from replanner.planning.days_begun import arriving
from replanner.planning.exact_prices import MICRO, Values
from replanner.planning.problem import DayProblem
from replanner.planning.sweep import sweep

MOST_LEGS = 10
"""The tables of all members are held at once: 12 MB a member with so many legs, 8 places and slots
of 5 minutes."""

Ready = Values
"""Best value by slot of leaving an exit, waits done; shape (members, exits, slots). [units]"""


class Told(NamedTuple):
    """A leg of the order and the way it is ridden, as numbered in the problem."""

    leg: int
    way: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What a robust order is weighed by.

    Parameters
    ----------
    mean_weight : float
        Of the mean over the members, 0 to 1; the rest is that of the worst. Assumption.
    worst_share : float
        Share of the members that are the worst, rounded up to whole ones. Assumption.
    left_out_minutes : float
        Price of a leg of the order that a member leaves out; inf: none may. Assumption. [min]
    """

    mean_weight: float = 0.5
    worst_share: float = 0.2
    left_out_minutes: float = 30.0

    def weigh(self, values: Values) -> Values:
        """Weigh values, shape (members, ...), to shape (...).

        Whole numbers below 2**53 are added exactly, so a higher value is never weighed less.
        """
        return self.mean_weight_of(values) + self.worst_weight_of(values)

    def mean_weight_of(self, values: Values) -> Values:
        """Give the part of the mean."""
        if self.mean_weight == 0.0:
            return np.zeros(values.shape[1:])
        return np.asarray(self.mean_weight * (values.sum(axis=0) / len(values)))

    def worst_weight_of(self, values: Values) -> Values:
        """Give the part of the worst."""
        if self.mean_weight == 1.0:
            return np.zeros(values.shape[1:])
        return np.asarray((1.0 - self.mean_weight) * self.worst(values))

    def worst(self, values: Values) -> Values:
        """Give the mean over the worst share of the members, shape (...)."""
        count = max(1, ceil(self.worst_share * len(values) - 1e-9))
        lowest = np.partition(values, count - 1, axis=0)[:count]
        return np.asarray(lowest.sum(axis=0) / count)


@dataclass(frozen=True, slots=True, kw_only=True)
class InMembers:
    """An order ridden in every member.

    Parameters
    ----------
    weighed : float
        By the aim; -inf: some member has no plan that comes home. [min]
    values : ndarray of float, shape (members,)
        [min]
    whole : ndarray of bool, shape (members,)
        Whether it is ridden there whole.
    """

    order: tuple[Told, ...]
    weighed: float
    values: Values
    whole: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


@dataclass(frozen=True, slots=True, kw_only=True)
class RobustOrder:
    """The best order found.

    Parameters
    ----------
    best : InMembers or None
        None: no order is known that every member comes home from.
    bound : float
        Proven upper bound on what any order is weighed. [min]
    proven : bool
        Whether it is proven best, or proven that there is none.
    looked_at : int
        Beginnings of orders that were looked at.
    """

    best: InMembers | None
    bound: float
    proven: bool
    looked_at: int


@dataclass(frozen=True, slots=True)
class _Beginning:
    """The first legs of an order, and what may follow them.

    `price` is what their order costs. `rests` are the sets of legs that may follow, shape (N,), and
    `bounds` what the orders that go on so are weighed at most. [millionths of a minute]
    """

    order: tuple[int, ...]
    ridden: int
    price: float
    ready: Ready
    rests: SetsOfLegs
    bounds: Values


class RobustSearch:
    """The members of a day, made ready to weigh orders in all of them.

    Parameters
    ----------
    members : sequence of DayProblem
        The same day but for `ride_slots` and `worth` of the ways.
    aim : Aim

    Raises
    ------
    ValueError
        If there is no member, if they differ in anything else, or if there are too many legs.
    """

    def __init__(self, members: Sequence[DayProblem], aim: Aim) -> None:
        if not members:
            raise ValueError("an order is weighed in at least one member")
        if len(members[0].legs) > MOST_LEGS:
            raise ValueError(f"a robust order is searched for up to {MOST_LEGS} legs")
        self.aim = aim
        self._members = [day_arrays(member) for member in members]
        self._day = self._members[0]
        if not all(_alike(self._day, other) for other in self._members[1:]):
            raise ValueError("members may differ in riding times and worths only")
        self._arrival = np.stack([member.ride_arrival for member in self._members])
        self._worth = np.stack([member.ride_worth for member in self._members])
        self._left_out = float(self._day.units.counted(aim.left_out_minutes))

    def weigh(self, order: Sequence[Told]) -> InMembers:
        """Ride an order in every member; its demands are not asked about."""
        values = self._closed(order, self._left_out)
        whole = self._closed(order, inf)
        return InMembers(
            order=tuple(order),
            weighed=float(self.aim.weigh(values)) / MICRO,
            values=values / MICRO,
            whole=np.asarray((whole == values) & (values > IMPOSSIBLE)),
        )

    def best(
        self,
        known: Sequence[Sequence[Told]] = (),
        stopped: Callable[[], bool] = lambda: False,
    ) -> RobustOrder:
        """Find the best order that keeps the demands of the day.

        Parameters
        ----------
        known : sequence of orders
            Orders that keep the demands: the better the best of them, the sooner the proof.
        stopped : callable
            Asked between steps; True ends the search with what it has.
        """
        if not self._day.possible:
            return RobustOrder(best=None, bound=IMPOSSIBLE, proven=True, looked_at=0)
        least, order = IMPOSSIBLE, None
        for each in known:
            weighed = float(self.aim.weigh(self._closed(each, self._left_out)))
            if weighed > least:
                least, order = weighed, tuple(each)
        to_go = [self._to_go(member) for member in self._members]
        begun = [self._begin(to_go)]
        looked_at = 0
        while begun and not stopped():
            here = begun.pop()
            looked_at += 1
            ended = here.bounds[here.rests == 0]
            if ended.size and ended[0] > least:  # nothing is to come: the bound is the value
                least, order = float(ended[0]), tuple(self._told(way) for way in here.order)
            alive = (here.bounds > least) & (here.rests != 0)
            longer = self._longer(here, here.rests[alive], to_go, least)
            begun += sorted(longer, key=lambda each: float(each.bounds.max()))
        bound = max([least, *(float(each.bounds.max(initial=IMPOSSIBLE)) for each in begun)])
        return RobustOrder(
            best=None if order is None else self.weigh(order),
            bound=bound / MICRO,
            proven=bound == least,
            looked_at=looked_at,
        )

    def _told(self, way: int) -> Told:
        return Told(int(self._day.way_leg[way]), int(self._day.way_way[way]))

    def _ready_at_start(self) -> Ready:
        day = self._day
        ready = np.full((len(self._members), len(day.exits), day.slots), IMPOSSIBLE)
        ready[:, 0] = day.start_worth
        if day.exit_waits[0]:
            ready[:, 0] = np.maximum.accumulate(ready[:, 0], axis=-1)
        return ready

    def _ridden(self, ready: Ready, way: int, left_out: float) -> Ready:
        """Ride a way next in every member, or leave it out for its price."""
        day = self._day
        entry, end = int(day.way_entry[way]), int(day.way_exit[way])
        exits = np.flatnonzero((ready > IMPOSSIBLE).any(axis=(0, 2)) & day.met[:, entry])
        after = ready - left_out
        if not exits.size:
            return after
        shape = len(self._members), exits.size, day.slots
        roads = (
            np.broadcast_to(day.road_arrival[exits, entry], shape),
            np.broadcast_to(day.road_worth[exits, entry], shape),
        )
        there = arriving(*roads, ready[:, exits]).max(axis=1)
        if day.entry_waits[entry]:
            there = np.maximum.accumulate(there, axis=-1)
        over = arriving(self._arrival[:, way], self._worth[:, way], there)
        if day.exit_waits[end]:
            over = np.maximum.accumulate(over, axis=-1)
        after[:, end] = np.maximum(after[:, end], over)
        return after

    def _closed(self, order: Sequence[Told], left_out: float) -> Values:
        """Give what an order is worth in each member, shape (members,). [millionths]."""
        day = self._day
        if not day.possible:
            return np.full(len(self._members), IMPOSSIBLE)
        ready, ridden, price = self._ready_at_start(), 0, 0.0
        for told in order:
            way = np.flatnonzero((day.way_leg == told.leg) & (day.way_way == told.way))[0]
            ready = self._ridden(ready, int(way), left_out)
            price += _price_of_order(day, ridden, told.leg)
            ridden |= 1 << told.leg
        return self._micros((ready + day.closing_worth).max(axis=(1, 2)) - price)

    def _micros(self, values: Values) -> Values:
        """Give whole millionths of a minute: a slot of finishing later is not weighed."""
        return np.asarray(np.ceil(values / self._day.units.per_micro))

    def _to_go(self, member: DayArrays) -> Values:
        """Give what a member makes of each set of legs at best. [units].

        Of shape (sets, exits, slots); a set is its row. Any of its legs may be left out for the
        price.
        """
        day, table = self._day, sweep(member, lambda: False)
        if table is None:
            raise AssertionError("nobody stops this sweep")
        exits = np.arange(len(day.exits))
        values = np.full((1 << day.legs, exits.size, day.slots), IMPOSSIBLE)
        for mask in table.masks.tolist():
            known = table.value_to_go(exits, mask)
            if known is not None:
                values[mask, :, : known.shape[-1]] = known
        for leg in range(day.legs):
            halves = values.reshape(-1, 2, 1 << leg, exits.size, day.slots)
            np.maximum(halves[:, 1], halves[:, 0] - self._left_out, out=halves[:, 1])
        return values

    def _begin(self, to_go: list[Values]) -> _Beginning:
        day = self._day
        sets = np.arange(1 << day.legs)
        kept = sets & day.musts == day.musts
        for group in day.exclusive:
            kept &= np.bitwise_count(sets & group) <= 1
        for group in day.exactly:
            kept &= np.bitwise_count(sets & group) == 1
        ready, rests = self._ready_at_start(), sets[kept]
        return _Beginning((), 0, 0.0, ready, rests, self._bounds(ready, 0, 0.0, rests, to_go))

    def _longer(
        self, here: _Beginning, rests: SetsOfLegs, to_go: list[Values], least: float
    ) -> list[_Beginning]:
        """Give the beginnings one leg longer that could still be better than `least`.

        The sets keep the exclusions; precedence is kept by what may follow each leg.
        """
        day, longer = self._day, []
        for way, leg in enumerate(day.way_leg.tolist()):
            others = rests[(rests >> leg & 1 == 1) & (rests & day.first_of[leg] == 0)] & ~(1 << leg)
            if not others.size:
                continue
            ready = self._ridden(here.ready, way, self._left_out)
            price = here.price + _price_of_order(day, here.ridden, leg)
            ridden = here.ridden | 1 << leg
            bounds = self._bounds(ready, ridden, price, others, to_go)
            better = bounds > least
            if better.any():
                order = (*here.order, way)
                longer.append(
                    _Beginning(order, ridden, price, ready, others[better], bounds[better])
                )
        return longer

    def _bounds(
        self, ready: Ready, ridden: int, price: float, rests: SetsOfLegs, to_go: list[Values]
    ) -> Values:
        """Give what orders that begin so and go on with a set are weighed at most, shape (N,)."""
        day = self._day
        against = np.zeros(len(rests), dtype=np.int64)
        for leg in range(day.legs):
            if ridden >> leg & 1:
                against += np.bitwise_count(rests & day.own_before[leg])
        some = ready > IMPOSSIBLE
        exits = np.flatnonzero(some.any(axis=(0, 2)))
        slots = np.flatnonzero(some.any(axis=(0, 1)))
        if not exits.size:
            return np.full(len(rests), IMPOSSIBLE)
        values = np.full((len(self._members), len(rests)), IMPOSSIBLE)
        since = int(slots[0])
        for member, table in enumerate(to_go):
            for at in exits.tolist():
                through = table[rests, at, since:] + ready[member, at, since:]
                values[member] = np.maximum(values[member], through.max(axis=1))
        return self.aim.weigh(self._micros(values - price - day.order_cost * against))


def _price_of_order(day: DayArrays, ridden: int, leg: int) -> float:
    return day.order_cost * (ridden & day.own_after[leg]).bit_count()


_ALIKE = (
    *("legs", "offset", "slots", "units", "latest", "exits", "entries"),
    *("musts", "exclusive", "exactly", "first_of", "closed_by"),
    *("own_before", "own_after", "order_cost"),
)
_ALIKE_ARRAYS = (
    *("start_worth", "exit_waits", "entry_waits", "way_leg", "way_way", "way_entry", "way_exit"),
    *("road_arrival", "road_worth", "closing_arrival", "closing_worth"),
)


def _alike(one: DayArrays, other: DayArrays) -> bool:
    """Tell whether two days differ in nothing but riding times and worths."""
    return all(getattr(one, name) == getattr(other, name) for name in _ALIKE) and all(
        np.array_equal(getattr(one, name), getattr(other, name)) for name in _ALIKE_ARRAYS
    )
