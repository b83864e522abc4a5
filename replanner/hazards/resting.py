"""How much later than riding alone would have it a piece may be passed: the breaks of a long leg.

Where on a long leg riders stop is settled with the plan, after the weather was judged. So each
piece is judged over all the time in which it may be passed, breaks taken or not.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil

from replanner.trip.model import Leg, LegId, LegKind, Way
from replanner.trip.passage import in_way


@dataclass(frozen=True, slots=True, kw_only=True)
class Resting:
    """How long is ridden in one go, and how long a break then takes. [min].

    `midway` are the minutes ridden without a break by those who are on leg `first` already.
    """

    after_minutes: float
    minutes: float
    first: LegId | None = None
    midway: float = 0.0


def latest_by_breaks(
    leg: Leg, way: Way, ends: Sequence[float], resting: Resting | None
) -> tuple[float, ...]:
    """Return the breaks that may be taken on a leg before the end of each of its pieces. [min].

    They lie between halts that are breaks themselves, as few as can be and evenly spread in dry
    riding time, or at the end of a piece near by; halts that may be left out are no rest.

    Parameters
    ----------
    ends : sequence of float
        Where the pieces end: fractions of the way ridden, in order.
    resting : Resting or None
        None: nobody counts on breaks.
    """
    if resting is None or leg.kind in (LegKind.STOP, LegKind.CROSSING):
        return (0.0,) * len(ends)
    rests = sorted(
        in_way(halt.fraction, way)
        for halt in leg.halts
        if not halt.optional and halt.minutes >= resting.minutes
    )
    begun = resting.midway if leg.id == resting.first else 0.0
    breaks: list[float] = []
    for begin, end in pairwise((0.0, *rests, 1.0)):
        riding = begun + (end - begin) * leg.riding_minutes
        rides = ceil(riding / resting.after_minutes)
        for number in range(1, rides):
            left = (1.0 - number / rides) * riding / leg.riding_minutes
            breaks.append(_with_piece(ends, begin, max(end - left, begin), end))
        begun = 0.0
    return tuple(resting.minutes * sum(at < end for at in breaks) for end in ends)


def _with_piece(ends: Sequence[float], begin: float, even: float, end: float) -> float:
    """Return the earlier of where a break lies evenly and the end of the piece nearest to it."""
    between = [at for at in ends if begin < at < end]
    return min(even, min(between, key=lambda at: abs(at - even), default=even))
