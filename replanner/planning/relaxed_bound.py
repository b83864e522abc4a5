"""An upper bound on the rest of a day that remembers only some of the legs ridden.

The exact table needs every set of legs; with many legs it would not fit. Here each place remembers
only some legs, mostly those begun nearby: arriving there forgets whether any other was ridden, so
it may be ridden again, and the value can only be too high: a bound. Prices of order, exclusions and
precedence hold against remembered legs only, which is too high again. The plan itself is never
taken from here. (Neighbourhood memory after Baldacci, R., Mingozzi, A. and Roberti, R. (2011), "New
route relaxation and pricing strategies for the vehicle routing problem", Operations Research 59,
1269-1283.)

Each leg and each group of exclusive legs has a multiplier besides: riding it costs that much and
every day that may still ride it is given that much. A day that rides it once gains or loses nothing
by that, a bound that rides it often falls; where one must be ridden the multiplier may be a reward
instead, and a bound that leaves it out falls (Lagrangian relaxation: Geoffrion, A. M. (1974),
Mathematical Programming Study 2, 82-114).

Slots are swept in blocks so short that no ride begun in a block ends in it: all slots of a block
at once. The compiled twin goes slot by slot.
"""

from dataclasses import dataclass, replace

import numpy as np

from replanner.planning import fast
from replanner.planning.day_arrays import (
    IMPOSSIBLE,
    DayArrays,
    Flags,
    Indices,
    SetsOfLegs,
    mask_of,
)
from replanner.planning.exact_prices import Values
from replanner.planning.given_back import GivenBack
from replanner.planning.problem import Slots
from replanner.planning.relaxed_loops import sweep_slots

NO_LEG = 62
"""Stands where a place remembers fewer legs than another; no set of legs has it."""


@dataclass(frozen=True, slots=True)
class Memory:
    """Which legs each place remembers; the first of a place is bit 0 of its remembered sets.

    Parameters
    ----------
    exits, entries : ndarrays of int, shape (places, bits)
        Legs by exit and by entry, filled up with `NO_LEG`.
    """

    exits: Indices
    entries: Indices

    @property
    def bits(self) -> int:
        """Bits of a remembered set."""
        return int(self.exits.shape[1])


def legs_of(remembered: Indices, sets: SetsOfLegs) -> SetsOfLegs:
    """Give the sets of legs of remembered sets, shape (places, sets)."""
    full = np.zeros((len(remembered), len(sets)), dtype=np.int64)
    for bit in range(remembered.shape[1]):
        full |= (sets >> bit & 1) << remembered[:, bit, np.newaxis]
    return full & ~(1 << NO_LEG)


def all_of(remembered: Indices) -> SetsOfLegs:
    """Give all legs each place remembers as a mask."""
    return np.asarray(np.bitwise_or.reduce(1 << remembered, axis=1) & ~(1 << NO_LEG))


def remembered_of(remembered: Indices, masks: SetsOfLegs) -> SetsOfLegs:
    """Give the remembered sets of sets of legs, the others forgotten.

    Parameters
    ----------
    remembered : ndarray of int, shape (..., bits)
    masks : ndarray of int
        Of a shape that goes with that of `remembered` without its last axis.
    """
    sets = np.zeros(np.broadcast_shapes(remembered.shape[:-1], masks.shape), dtype=np.int64)
    for bit in range(remembered.shape[-1]):
        sets |= (masks >> remembered[..., bit] & 1) << bit
    return sets


@dataclass(frozen=True, slots=True)
class RelaxedBound:
    """Upper bounds by place, remembered set and slot.

    Parameters
    ----------
    memory : Memory
    multipliers : ndarray of float, shape (scarce,)
        Of the scarce legs of the day, as in `RelaxedDay`. [units]
    given_back : GivenBack
        What of them is given back to days begun.
    to_go : ndarray of float, shape (exits, sets, slots + 1)
        Value to go, multipliers paid but not given; the last slot holds nothing. [units]
    at_entry : ndarray of float, shape (entries, sets, slots + 1)
        The same when arrived at an entry. [units]
    of_day : float
        Bound on the whole day. [units]
    """

    memory: Memory
    multipliers: Values
    given_back: GivenBack
    to_go: Values
    at_entry: Values
    of_day: float

    def known_at_exits(self, exits: Indices, masks: SetsOfLegs) -> tuple[Indices, Values]:
        """Remembered set and what is given back at exits with sets ridden, by row."""
        memory = self.memory.exits
        given = self.given_back.to(masks, all_of(memory)[exits])
        return remembered_of(memory[exits], masks), given

    def known_at_entries(self, sets: SetsOfLegs) -> tuple[Indices, Values]:
        """Remembered set and what is given back at each entry, shapes (sets, entries)."""
        masks, entries = sets[:, np.newaxis], self.memory.entries
        known = np.broadcast_to(all_of(entries), (len(sets), len(entries)))
        ridden = np.broadcast_to(masks, known.shape)
        given = self.given_back.to(ridden.reshape(-1), known.reshape(-1)).reshape(known.shape)
        return remembered_of(entries, masks), given


@dataclass(frozen=True, slots=True)
class Remembering:
    """A day laid out for sweeping with a memory, whatever the multipliers.

    Parameters
    ----------
    memory : Memory
    entry_set : ndarray of int, shape (exits, entries, sets)
        The set remembered at the entry of the one remembered at the exit.
    exit_set : ndarray of int, shape (ways, sets)
        The set remembered after riding a way of the one remembered before.
    paid : ndarray of float, shape (ways, sets)
        Price of order of riding it there, as a negative number; -inf: not allowed.
    may_close : ndarray of bool, shape (exits, sets)
        Whether the day may end there, as far as remembered legs tell.
    blocks : tuple of Block
        Empty where loops are compiled.
    """

    memory: Memory
    entry_set: Indices
    exit_set: Indices
    paid: Values
    may_close: Flags
    blocks: tuple["Block", ...]


@dataclass(frozen=True, slots=True)
class Block:
    """Slots `first` to `stop` - 1 of a sweep: where each move looks, and what it is worth.

    By slot, then by move, then by set; roads by exit, then by entry.

    `rounds` more rounds are swept where a ride of no slots ends in this very slot.
    """

    first: int
    stop: int
    rounds: int
    ride_looks: Indices
    ride_worth: Values
    road_looks: Indices
    road_worth: Values
    closing: Values


Moves = tuple[
    tuple[Slots, Values],
    tuple[Indices, Indices, Indices, Values],
    tuple[Slots, Values, Indices],
    tuple[Values, Flags],
    tuple[Flags, Flags, Indices],
]


class RelaxedDay:
    """A day's moves, ready for sweeping with any legs remembered.

    Parameters
    ----------
    arrays : DayArrays

    Attributes
    ----------
    ways : ndarray of int
        Ways as indices of the arrays, sorted by entry.
    scarce : ndarray of int
        Masks of legs of which at most one is ridden, once; single legs among them.
    lowest : ndarray of float, shape (scarce,)
        Lowest multiplier of each: 0, or none where one must be ridden (a reward is fair too).
    uses : ndarray of float, shape (legs, scarce)
        1 where riding the leg uses it up.
    """

    def __init__(self, arrays: DayArrays) -> None:
        self.arrays = arrays
        self.ways = np.lexsort((arrays.way_exit, arrays.way_leg, arrays.way_entry))
        self.way_leg = arrays.way_leg[self.ways]
        self.way_entry = arrays.way_entry[self.ways]
        self.way_exit = arrays.way_exit[self.ways]
        self.ride_arrival = arrays.ride_arrival[self.ways]
        self.ride_worth = arrays.ride_worth[self.ways]
        self.entry_starts = np.flatnonzero(np.diff(self.way_entry, prepend=-1))
        begun = self.way_entry[self.entry_starts]
        self._begun = begun if len(begun) < len(arrays.entries) else slice(None)  # it is quicker
        groups = dict.fromkeys((*(1 << leg for leg in range(arrays.legs)), *arrays.exclusive))
        demanded = {1 << leg for leg in range(arrays.legs) if arrays.musts >> leg & 1}
        demanded |= set(arrays.exactly)
        self.scarce = np.array(list(groups), dtype=np.int64)
        self.lowest = np.array([-np.inf if group in demanded else 0.0 for group in groups])
        legs = np.arange(arrays.legs)[:, np.newaxis]
        self.uses = (self.scarce >> legs & 1).astype(np.float64)
        still = self.ride_arrival == np.arange(arrays.slots)
        self._rounds = np.zeros(arrays.slots, dtype=np.int64)
        for slot in np.flatnonzero(still.any(axis=0)).tolist():
            self._rounds[slot] = len(set(self.way_leg[still[:, slot]].tolist()))
        self._roads_by_slot: tuple[Slots, Values] | None = None

    def bytes_needed(self, bits: int) -> int:
        """Memory of sweeping with so many legs remembered."""
        arrays = self.arrays
        stations = len(arrays.exits) + len(arrays.entries)
        moves = len(arrays.exits) * (len(arrays.entries) + 1) + len(self.ways)
        looks = 0 if fast.available() else 2 * moves
        return (1 << bits) * (arrays.slots + 1) * (stations + looks) * 8

    def remembering(self, memory: Memory) -> Remembering:
        """Lay out the day for a memory."""
        arrays = self.arrays
        sets = np.arange(1 << memory.bits, dtype=np.int64)
        at_exit, at_entry = legs_of(memory.exits, sets), legs_of(memory.entries, sets)
        before = at_entry[self.way_entry]
        legs = self.way_leg[:, np.newaxis]
        closed_by = np.array(arrays.closed_by, dtype=np.int64)[legs]
        own_after = np.array(arrays.own_after, dtype=np.int64)[legs]
        price = arrays.order_cost * np.bitwise_count(before & own_after)
        entry_set = remembered_of(memory.entries[:, np.newaxis], at_exit[:, np.newaxis])
        exit_set = remembered_of(memory.exits[self.way_exit][:, np.newaxis], before | 1 << legs)
        paid = np.where(before & closed_by == 0, -price, IMPOSSIBLE)
        may_close = _may_close(arrays, memory, at_exit)
        return self.laid_out(Remembering(memory, entry_set, exit_set, paid, may_close, ()))

    def laid_out(self, day: Remembering) -> Remembering:
        """Lay out in these slots what is known of a day in other ones."""
        return day if fast.available() else replace(day, blocks=tuple(self._blocks(day)))

    def bound(self, day: Remembering, multipliers: Values) -> RelaxedBound:
        """Sweep back from the last slot, all remembered sets at once.

        Parameters
        ----------
        day : Remembering
        multipliers : ndarray of float, shape (scarce,)
            At least `lowest`. [units]
        """
        arrays = self.arrays
        tables = self.swept(day, multipliers)
        to_go, at_entry = (np.ascontiguousarray(table.transpose(1, 2, 0)) for table in tables)
        best = float((arrays.start_worth + to_go[0, 0, :-1]).max(initial=IMPOSSIBLE))
        given_back = GivenBack.of(arrays, self.scarce, np.isneginf(self.lowest), multipliers)
        of_day = best + float(multipliers.sum())
        return RelaxedBound(day.memory, multipliers, given_back, to_go, at_entry, of_day)

    def swept(self, day: Remembering, multipliers: Values) -> tuple[Values, Values]:
        """Give the value to go at exits and at entries, both of shape (slots + 1, places, sets)."""
        arrays = self.arrays
        sets, width = 1 << day.memory.bits, arrays.slots + 1
        price = self.price_of_ways(multipliers)
        to_go = np.full((width, len(arrays.exits), sets), IMPOSSIBLE)
        at_entry = np.full((width, len(arrays.entries), sets), IMPOSSIBLE)
        if fast.available():
            sweep_slots(to_go, at_entry, price, *self.moves(day))
        else:
            for block in day.blocks:
                self._sweep_block(to_go, at_entry, block, price[:, np.newaxis])
        return to_go, at_entry

    def price_of_ways(self, multipliers: Values) -> Values:
        """Give the multipliers each way pays."""
        return np.asarray((self.uses @ multipliers)[self.way_leg])

    def moves(self, day: Remembering) -> Moves:
        """Give rides, ways, roads, closing and waits as the compiled loops take them."""
        arrays = self.arrays
        return (
            (self.ride_arrival, self.ride_worth),
            (self.way_entry, self.way_exit, day.exit_set, day.paid),
            (*self._roads(), day.entry_set),
            (arrays.closing_worth, day.may_close),
            (arrays.exit_waits, arrays.entry_waits, self._rounds),
        )

    def _roads(self) -> tuple[Slots, Values]:
        """Give slots of arriving and worths of roads, shapes (slots, exits, entries)."""
        if self._roads_by_slot is None:
            self._roads_by_slot = (
                np.ascontiguousarray(self.arrays.road_arrival.transpose(2, 0, 1)),
                np.ascontiguousarray(self.arrays.road_worth.transpose(2, 0, 1)),
            )
        return self._roads_by_slot

    def _blocks(self, day: Remembering) -> list[Block]:
        """Cut the day into blocks, the last first."""
        arrays = self.arrays
        exits, entries, sets = len(arrays.exits), len(arrays.entries), 1 << day.memory.bits
        road_arrival, road_worth = self._roads()
        ride_arrival, ride_worth = self.ride_arrival.T, self.ride_worth.T
        exit_ = self.way_exit[:, np.newaxis] * sets + day.exit_set
        entry = np.arange(entries)[:, np.newaxis] * sets + day.entry_set
        closing = np.where(day.may_close, 0.0, IMPOSSIBLE)
        soonest = self.ride_arrival.min(axis=0, initial=arrays.slots).tolist()
        blocks: list[Block] = []
        stop = arrays.slots
        while stop:
            first = stop - 1
            while first and soonest[first - 1] >= stop and soonest[stop - 1] >= stop:
                first -= 1
            now = slice(first, stop)
            blocks.append(
                Block(
                    first,
                    stop,
                    int(self._rounds[first]) if stop - first == 1 else 0,
                    ride_arrival[now, ..., np.newaxis] * (exits * sets) + exit_,
                    ride_worth[now, ..., np.newaxis] + day.paid,
                    road_arrival[now, ..., np.newaxis] * (entries * sets) + entry,
                    road_worth[now, ..., np.newaxis],
                    arrays.closing_worth.T[now, ..., np.newaxis] + closing,
                )
            )
            stop = first
        return blocks

    def _sweep_block(self, to_go: Values, at_entry: Values, block: Block, price: Values) -> None:
        now = slice(block.first, block.stop)
        if block.rounds:
            to_go[now] = block.closing
            _wait(to_go[block.first : block.stop + 1], self.arrays.exit_waits)
        self._ride_and_travel(to_go, at_entry, block, price)
        for _ in range(block.rounds):
            before = to_go[now].copy()
            self._ride_and_travel(to_go, at_entry, block, price)
            if np.array_equal(before, to_go[now]):
                break

    def _ride_and_travel(
        self, to_go: Values, at_entry: Values, block: Block, price: Values
    ) -> None:
        now, since = slice(block.first, block.stop), slice(block.first, block.stop + 1)
        if len(self.ways):
            after = to_go.reshape(-1).take(block.ride_looks)
            after += block.ride_worth
            after -= price
            at_entry[now, self._begun] = np.maximum.reduceat(after, self.entry_starts, axis=1)
        _wait(at_entry[since], self.arrays.entry_waits)
        going = at_entry.reshape(-1).take(block.road_looks)
        going += block.road_worth
        best = going.max(axis=2, initial=IMPOSSIBLE)
        np.maximum(best, block.closing, out=to_go[now])
        _wait(to_go[since], self.arrays.exit_waits)


def _wait(values: Values, waits: Flags) -> None:
    """Let slots look on to later ones, where waiting is allowed; shape (slots, places, sets)."""
    if waits.all():
        for slot in range(len(values) - 2, -1, -1):
            np.maximum(values[slot], values[slot + 1], out=values[slot])
    elif waits.any():
        values[:, waits] = np.maximum.accumulate(values[::-1, waits], axis=0)[::-1]


def _may_close(arrays: DayArrays, memory: Memory, at_exit: SetsOfLegs) -> Flags:
    """Tell with which sets the day may end, as far as legs never forgotten tell.

    A leg remembered here but not everywhere may have been ridden and forgotten on the way: it
    can't be asked for.
    """
    known = -1
    for place in (*memory.exits.tolist(), *memory.entries.tolist()):
        known &= mask_of(tuple(place))
    musts = arrays.musts & known
    closes = at_exit & musts == musts
    rideable = mask_of(arrays.rideable)
    for group in arrays.exactly:
        if group & rideable & ~known == 0:
            closes &= np.bitwise_count(at_exit & group) == 1
    return np.asarray(closes)
