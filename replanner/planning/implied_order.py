"""The order that a day's musts imply by their windows, and the moves no plan can hold by it.

A leg that can't be begun any more after another was ridden at its earliest never comes after it.
Where both must be ridden that is an order, and orders follow from orders: so windows shrink by what
must come before and after, and connectors fall away. A day begun from which some must can't be
reached in time any more is dead. (Tests after Dumas, Y., Desrosiers, J., Gelinas, E. and Solomon,
M. M. (1995), "An optimal algorithm for the traveling salesman problem with time windows",
Operations Research 43, 367-371; from memory.)

Nothing is assumed of times: how soon a place can be come to is the soonest of all slots of leaving
from then on, and other legs may be ridden on the way, even twice. So what is told can only be too
little: no plan that holds all musts is lost.
"""

from dataclasses import dataclass, replace

import numpy as np

from replanner.planning.day_arrays import (
    IMPOSSIBLE,
    DayArrays,
    Flags,
    Indices,
    SetsOfLegs,
    mask_of,
)
from replanner.planning.problem import Slots

FEWEST_MUSTS = 5
"""With fewer musts a bound remembers them all, and there is little to imply."""

MOST_ROUNDS = 10
"""Windows may shrink by a slot a round; whatever is reached by then holds."""


@dataclass(frozen=True, slots=True)
class LastChance:
    """Until when musts can still be reached.

    Parameters
    ----------
    musts : ndarray of int, shape (musts,)
        Legs; none where it is not worth asking.
    closed_by : ndarray of int, shape (musts,)
        Masks of the legs after which they can't be ridden.
    slots : ndarray of int, shape (exits, musts)
        Last slot of being at an exit; -1: never.
    """

    musts: Indices
    closed_by: SetsOfLegs
    slots: Slots

    def of_days(self, masks: SetsOfLegs, exits: Indices, last: int) -> Slots:
        """Last slot up to `last` in which days begun are not dead, shape (rows,); -1: none."""
        left = masks[:, np.newaxis] >> self.musts & 1 == 0
        until = np.where(left, self.slots[exits], last).min(axis=1, initial=last)
        closed = left & (masks[:, np.newaxis] & self.closed_by != 0)
        return np.asarray(np.where(closed.any(axis=1), -1, until))


def last_chance(arrays: DayArrays) -> LastChance:
    """Tell until when the musts of a day can still be reached from its exits."""
    musts = _musts(arrays)
    if len(musts) < FEWEST_MUSTS or not arrays.possible:
        none = np.zeros(0, dtype=np.int64)
        return LastChance(none, none, np.zeros((len(arrays.exits), 0), dtype=np.int64))
    latest = _latest(arrays, _Roads.of(arrays))[musts]
    closed_by = np.array(arrays.closed_by, dtype=np.int64)[musts]
    return LastChance(musts, closed_by, np.ascontiguousarray(latest.T))


def in_implied_order(arrays: DayArrays) -> DayArrays:
    """Give the day without moves that no plan with all its musts holds, its order closed.

    A day with few musts is given as it is; one that has no plan can't be left.
    """
    musts = _musts(arrays)
    if len(musts) < FEWEST_MUSTS or not arrays.possible:
        return arrays
    roads = _Roads.of(arrays)
    for _ in range(MOST_ROUNDS):
        soonest = _soonest(arrays, roads)
        latest = _latest(arrays, roads)
        never_after = _never_after(arrays, soonest, musts)
        barred = _barred(arrays, soonest, latest, never_after, musts)
        if not barred.any():
            break
        arrays = replace(
            arrays,
            ride_arrival=np.where(barred, arrays.slots, arrays.ride_arrival),
            ride_worth=np.where(barred, IMPOSSIBLE, arrays.ride_worth),
        )
    alive = arrays.way_leg[(arrays.ride_arrival < arrays.slots).any(axis=1)]
    if not np.isin(musts, alive).all():
        return replace(arrays, start_worth=np.full(arrays.slots, IMPOSSIBLE))
    arrays = _ordered(arrays, never_after)
    arrays = _connected(arrays, never_after, musts)
    return arrays.narrowed(mask_of(tuple(alive.tolist())), arrays.musts, arrays.exactly)


def _musts(arrays: DayArrays) -> Indices:
    legs = [leg for leg in range(arrays.legs) if arrays.musts >> leg & 1]
    return np.array(legs, dtype=np.int64)


@dataclass(frozen=True, slots=True)
class _Roads:
    """Connectors whatever the wait before.

    `soonest[a, e, t]` is the soonest arrival of those left in slot t or later, `last[a, e, t + 1]`
    the last slot of leaving that arrives by t; shapes (exits, entries, slots + 1).
    """

    soonest: Slots
    last: Slots

    @classmethod
    def of(cls, arrays: DayArrays) -> "_Roads":
        return cls(_since(arrays.road_arrival), _until(arrays.road_arrival))


def _since(arrival: Slots) -> Slots:
    """Soonest arrival by the first slot of leaving, one slot after the last added."""
    none = np.full((*arrival.shape[:-1], 1), arrival.shape[-1])
    whole = np.concatenate([arrival, none], axis=-1)
    return np.asarray(np.minimum.accumulate(whole[..., ::-1], axis=-1)[..., ::-1])


def _until(arrival: Slots) -> Slots:
    """Last slot of leaving by one more than the last slot of arriving; -1: none."""
    slots = arrival.shape[-1]
    rows = arrival.reshape(-1, slots)
    last = np.full((len(rows), slots + 2), -1)
    row, left = np.nonzero(rows < slots)
    # Of equal places the last written stays, and slots of leaving rise.
    last[row, rows[row, left] + 1] = left
    return np.maximum.accumulate(last[:, :-1], axis=1).reshape(*arrival.shape[:-1], slots + 1)


def _finish(arrays: DayArrays) -> Slots:
    """Soonest end of each way, shape (ways,)."""
    return np.asarray(arrays.ride_arrival.min(axis=1, initial=arrays.slots))


def _last_start(arrays: DayArrays) -> Slots:
    """Last slot in which each way can be begun, shape (ways,); -1: none."""
    able = arrays.ride_arrival < arrays.slots
    last = arrays.slots - 1 - np.argmax(able[:, ::-1], axis=1)
    return np.where(able.any(axis=1), last, -1)


def _soonest(arrays: DayArrays, roads: _Roads) -> Slots:
    """Soonest slot at entries after each leg, in the last row after leaving the start.

    Shape (legs + 1, entries); the number of slots: never.
    """
    legs, slots = arrays.legs, arrays.slots
    at_exit = np.full((legs + 1, len(arrays.exits)), slots)
    np.minimum.at(at_exit, (arrays.way_leg, arrays.way_exit), _finish(arrays))
    leaving = np.flatnonzero(arrays.start_worth > IMPOSSIBLE)
    at_exit[legs, 0] = leaving[0] if leaving.size else slots
    rides = _since(arrays.ride_arrival)
    ways = np.arange(len(arrays.way_leg))
    again = np.arange(legs + 1)[:, np.newaxis] == arrays.way_leg
    exits, entries = np.ix_(np.arange(len(arrays.exits)), np.arange(len(arrays.entries)))
    while True:
        at_entry = roads.soonest[exits, entries, at_exit[:, :, np.newaxis]].min(axis=1)
        ridden = np.where(again, slots, rides[ways, at_entry[:, arrays.way_entry]])
        better = at_exit.copy()
        np.minimum.at(better.T, arrays.way_exit, ridden.T)
        if np.array_equal(better, at_exit):
            return np.asarray(at_entry)
        at_exit = better


def _latest(arrays: DayArrays, roads: _Roads) -> Slots:
    """Last slot at exits from which each leg, in the last row the end, can be reached in time.

    Shape (legs + 1, exits); -1: never.
    """
    legs = arrays.legs
    at_exit = np.full((legs + 1, len(arrays.exits)), -1)
    able = arrays.closing_worth > IMPOSSIBLE
    last = arrays.slots - 1 - np.argmax(able[:, ::-1], axis=1)
    at_exit[legs] = np.where(able.any(axis=1), last, -1)
    at_entry = np.full((legs + 1, len(arrays.entries)), -1)
    np.maximum.at(at_entry, (arrays.way_leg, arrays.way_entry), _last_start(arrays))
    rides = _until(arrays.ride_arrival)
    ways = np.arange(len(arrays.way_leg))
    exits, entries = np.ix_(np.arange(len(arrays.exits)), np.arange(len(arrays.entries)))
    while True:
        ridden = rides[ways, at_exit[:, arrays.way_exit] + 1]
        np.maximum.at(at_entry.T, arrays.way_entry, ridden.T)
        led = roads.last[exits, entries, at_entry[:, np.newaxis] + 1]
        better = np.maximum(at_exit, led.max(axis=2, initial=-1))
        if np.array_equal(better, at_exit):
            return at_exit
        at_exit = better


def _never_after(arrays: DayArrays, soonest: Slots, musts: Indices) -> Flags:
    """Tell which leg (second axis) never comes after which; of a leg itself: it is never ridden."""
    legs = arrays.legs
    in_time = soonest[:legs, arrays.way_entry] <= _last_start(arrays)
    able = np.zeros((legs, legs), dtype=np.bool_)
    np.logical_or.at(able.T, arrays.way_leg, in_time.T)
    closed_by = np.array(arrays.closed_by, dtype=np.int64)
    never = ~able | (closed_by >> np.arange(legs)[:, np.newaxis] & 1 == 1)
    np.fill_diagonal(never, val=False)
    for must in musts.tolist():
        never |= never[:, must, np.newaxis] & never[must]
    return np.asarray(never)


def _barred(
    arrays: DayArrays, soonest: Slots, latest: Slots, never_after: Flags, musts: Indices
) -> Flags:
    """Tell which rides, by slot of starting, no plan can hold; shape (ways, slots)."""
    legs, way_leg = arrays.legs, arrays.way_leg
    before = never_after[np.ix_(way_leg, musts)]  # the must comes before the way's leg
    after = never_after[np.ix_(musts, way_leg)].T
    came = np.where(before, soonest[np.ix_(musts, arrays.way_entry)].T, 0).max(axis=1, initial=0)
    since = np.maximum(came, soonest[legs, arrays.way_entry])
    goes = np.where(after, latest[np.ix_(musts, arrays.way_exit)].T, arrays.slots)
    until = np.minimum(goes.min(axis=1, initial=arrays.slots), latest[legs, arrays.way_exit])
    until[never_after[way_leg, way_leg]] = -1
    now = np.arange(arrays.slots)
    outside = (now < since[:, np.newaxis]) | (arrays.ride_arrival > until[:, np.newaxis])
    return np.asarray(outside & (arrays.ride_arrival < arrays.slots))


def _ordered(arrays: DayArrays, never_after: Flags) -> DayArrays:
    bits = 1 << np.arange(arrays.legs, dtype=np.int64)
    closed_by = np.where(never_after.T, bits, 0).sum(axis=1)
    first_of = np.where(never_after & ~never_after.T, bits, 0).sum(axis=1)
    return replace(
        arrays,
        closed_by=tuple(a | b for a, b in zip(arrays.closed_by, closed_by.tolist(), strict=True)),
        first_of=tuple(a | b for a, b in zip(arrays.first_of, first_of.tolist(), strict=True)),
    )


def _connected(arrays: DayArrays, never_after: Flags, musts: Indices) -> DayArrays:
    """Leave out connectors with a must between, too soon or too late for what they connect."""
    slots, ways = arrays.slots, arrays.way_leg
    before, after = never_after[:, musts], never_after[musts].T
    between = (after.astype(np.int64) @ before.T.astype(np.int64)) > 0
    direct: Flags = ~never_after & ~between & ~np.eye(arrays.legs, dtype=np.bool_)
    first: Flags = np.asarray(~before.any(axis=1))
    begins = np.vstack([direct[np.ix_(ways, ways)], first[ways]])
    exits = np.append(arrays.way_exit, 0)[:, np.newaxis]
    left = np.append(_finish(arrays), 0)[:, np.newaxis]
    since = np.full(arrays.met.shape, slots)
    np.minimum.at(since, (exits, arrays.way_entry), np.where(begins, left, slots))
    until = np.full(arrays.met.shape, -1)
    np.maximum.at(until, (exits, arrays.way_entry), np.where(begins, _last_start(arrays), -1))
    now, arrival = np.arange(slots), arrays.road_arrival
    early: Flags = np.asarray(now < since[..., np.newaxis])
    barred = early | (arrival > until[..., np.newaxis])
    arrival = np.where(barred, slots, arrival)
    met: Flags = np.asarray((arrival < slots).any(axis=2))
    ends = np.zeros(len(arrays.exits), dtype=np.bool_)
    last: Flags = np.asarray(~after.any(axis=1))
    np.logical_or.at(ends, arrays.way_exit, last[ways])
    return replace(
        arrays,
        road_arrival=arrival,
        road_worth=np.where(barred, IMPOSSIBLE, arrays.road_worth),
        met=met,
        closing_arrival=np.where(ends[:, np.newaxis], arrays.closing_arrival, slots),
        closing_worth=np.where(ends[:, np.newaxis], arrays.closing_worth, IMPOSSIBLE),
    )
