"""Riding and rest on one way of a leg: how long is ridden without a break, from each start.

Whoever sits down for `Rules.break_minutes` has had his break: at a halt, while waiting for a boat
and on it, at a stop. A leg that asks for more riding in one go than `Rules.break_after_minutes` has
breaks of its own, as few as can be, at the ends of its sections where these lie well, else evenly
spread.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from replanner.planning.problem import Slots
from replanner.planning.rules import Rules
from replanner.trip.model import HaltKind, Leg, LegKind
from replanner.trip.passage import Delay, Passage, in_way
from replanner.trip.spans import Flags
from replanner.units import Floats

_SITTING = (HaltKind.FUEL, HaltKind.CAFE, HaltKind.VISIT)
_A_DAY = 24.0 * 60.0  # [min]
_WHOLE = 6  # decimals of a fraction that count: halts at one place are one rest


@dataclass(frozen=True, slots=True, kw_only=True)
class LegRest:
    """Whole slots of riding of one way of a leg, for each of T starts.

    Parameters
    ----------
    before : ndarray of int, shape (T,)
        To the first rest on it; where there is none, the whole of it.
    after : ndarray of int, shape (T,)
        From the last rest to the end; where there is none, the whole of it.
    rests : ndarray of bool, shape (T,)
        Whether there is any rest on it.
    """

    before: Slots
    after: Slots
    rests: Flags


def drawn_out(leg: Leg, taken: Flags, rules: Rules) -> Floats:
    """Return what the halts taken lack of a break, of shape (H, T); pictures are not waited at."""
    lacking = np.array([[max(rules.break_minutes - halt.minutes, 0.0)] for halt in leg.halts])
    sitting = np.array([[halt.kind in _SITTING] for halt in leg.halts], dtype=np.bool_)
    if not leg.halts:
        return np.zeros(taken.shape)
    return np.asarray(np.where(taken & sitting, lacking, 0.0))


def stops_of(leg: Leg, passage: Passage, taken: Flags, longer: Floats) -> tuple[Delay, ...]:
    """Return what is stood still at the halts taken, in the way ridden.

    Parameters
    ----------
    taken, longer : ndarrays, shape (H, T)
        Which halts are made from which starts, and by how much longer than they take. [min]
    """
    return tuple(
        Delay(in_way(halt.fraction, passage.way), np.where(here, halt.minutes, 0.0) + more)
        for halt, here, more in zip(leg.halts, taken, longer, strict=True)
    )


def own_breaks(
    leg: Leg, passage: Passage, stops: Sequence[Delay], rules: Rules, begun: float = 0.0
) -> list[Delay]:
    """Return the breaks that riding a leg in one go would lack.

    Parameters
    ----------
    passage : Passage
        As ridden from each of T starts.
    stops : sequence of Delay
        What is stood still on it anyway.
    begun : float
        Ridden on it without a break before this part of it. [min]
    """
    if not _ridden(leg):
        return []
    riding = replace(passage, delays=())
    most = longest_ride_slots(rules) * rules.slot_minutes
    resting = _resting(stops, rules)
    patterns = np.array(list(resting.values()), dtype=np.bool_)
    patterns = patterns.reshape(len(resting), passage.starts.size)
    found: dict[float, Flags] = {}
    for pattern in np.unique(patterns, axis=1).T:
        starts = (patterns == pattern[:, None]).all(axis=0)
        at = sorted(at for at, rests in zip(resting, pattern, strict=True) if rests)
        for number, (first, last) in enumerate(pairwise((0.0, *at, 1.0))):
            before = 0.0 if number else min(begun, most)
            for point, needed in _cut(riding, first, last, starts, most, before):
                found[point] = found.get(point, np.zeros(starts.shape, np.bool_)) | needed
    return [
        Delay(point, np.where(needed, rules.break_minutes, 0.0))
        for point, needed in sorted(found.items())
    ]


def _cut(
    riding: Passage, first: float, last: float, starts: Flags, most: float, before: float
) -> Iterator[tuple[float, Flags]]:
    """Cut a stretch ridden in one go by as few breaks as can be; each with the starts it is for.

    `before` are the minutes of it that were ridden before its first point.
    """
    left = starts & (_between(riding, first, last) + before > most)
    count = 0
    while left.any():
        count += 1
        for points in _spread(riding, first, last, count, left, before):
            parts = [_between(riding, a, b) for a, b in pairwise((first, *points, last))]
            parts[0] = parts[0] + before
            fits = left & np.all([part <= most + 1e-6 for part in parts], axis=0)
            if fits.any():
                yield from ((point, fits) for point in points)
                left = left & ~fits


def _spread(
    riding: Passage, first: float, last: float, count: int, starts: Flags, before: float
) -> Iterator[tuple[float, ...]]:
    """Give points that part a stretch evenly in time: at ends of sections first, then exactly."""
    knots = np.array([first, *(f for f in riding.fractions if first < f < last), last])
    at_knots = np.array([riding.minutes_to(float(knot))[starts].mean() for knot in knots])
    parts = np.linspace(at_knots[0] - before, at_knots[-1], count + 2)[1:-1]
    even = np.interp(np.maximum(parts, at_knots[0]), at_knots, knots).tolist()
    ends = knots[1:-1].tolist()
    if ends:
        distances = np.abs(np.subtract.outer(np.array(even), np.array(ends)))
        near = sorted({ends[nearest] for nearest in distances.argmin(axis=1).tolist()})
        if len(near) == count:
            yield tuple(near)
    yield tuple(even)


def _between(riding: Passage, first: float, last: float) -> Floats:
    return riding.minutes_to(last) - riding.minutes_to(first)


def _resting(stops: Iterable[Delay], rules: Rules) -> dict[float, Flags]:
    """Return where on the way, and from which starts, the riders stand still for a break."""
    still: dict[float, Floats] = {}
    for stop in stops:
        at = round(stop.fraction, _WHOLE)
        still[at] = still.get(at, 0.0) + stop.minutes
    rests = {at: minutes >= rules.break_minutes for at, minutes in still.items()}
    return {at: flags for at, flags in rests.items() if flags.any()}


def _ridden(leg: Leg) -> bool:
    return leg.kind not in (LegKind.STOP, LegKind.CROSSING)


def longest_ride_slots(rules: Rules) -> int:
    """Return the whole slots that may be ridden without a break, at least one."""
    minutes = min(rules.break_after_minutes, _A_DAY)
    return max(int(minutes // rules.slot_minutes), 1)


def pause_slots(rules: Rules) -> int:
    """Return the slots of a break."""
    return int(whole_slots(np.array([rules.break_minutes]), rules)[0])


def whole_slots(minutes: Floats, rules: Rules) -> NDArray[np.int64]:
    """Return minutes of riding as slots, begun ones counted whole."""
    return np.ceil(np.round(minutes / rules.slot_minutes, 6)).astype(np.int64)


def leg_rest(
    leg: Leg, passage: Passage, stops: Sequence[Delay], rules: Rules, begun: float = 0.0
) -> LegRest:
    """Return how long a leg is ridden up to its first rest and from its last one.

    Minutes lost in a slow window are ridden. No more than the longest ride is counted: what a
    window adds to a leg cut for that is not cut again.

    Parameters
    ----------
    passage : Passage
        As ridden in the end, stops, slow windows and waits for a boat included.
    stops : sequence of Delay
        What of it is stood still: halts, own breaks.
    begun : float
        Ridden on it without a break before this part of it. [min]
    """
    none = np.zeros(passage.starts.shape, dtype=np.int64)
    if not _ridden(leg):
        return LegRest(before=none, after=none, rests=passage.minutes >= rules.break_minutes)
    still = replace(
        passage, piece_minutes=np.zeros_like(passage.piece_minutes), delays=tuple(stops)
    )
    whole = passage.minutes - still.minutes
    before, after = whole.copy(), whole.copy()
    rested = np.zeros(whole.shape, dtype=np.bool_)
    for at, rests in sorted(_resting(stops, rules).items()):
        ridden = passage.minutes_to(at) - still.minutes_to(at)
        before = np.where(rests & ~rested, ridden, before)
        after = np.where(rests, whole - ridden, after)
        rested = rested | rests
    before, after = before + begun, np.where(rested, after, after + begun)
    most = longest_ride_slots(rules)
    return LegRest(
        before=np.minimum(whole_slots(before, rules), most),
        after=np.minimum(whole_slots(after, rules), most),
        rests=rested,
    )
