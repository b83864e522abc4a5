"""How much later than riding alone would have it a piece may be passed: the breaks of a long leg.

Where on a long leg riders stop is settled with the plan, after the weather was judged. So each
piece is judged over all the time in which it may be passed, breaks taken or not.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil

from replanner.trip.model import Leg, LegKind, Way
from replanner.trip.passage import in_way


@dataclass(frozen=True, slots=True, kw_only=True)
class Resting:
    """How long is ridden in one go, and how long a break then takes. [min]."""

    after_minutes: float
    minutes: float


def latest_by_breaks(
    leg: Leg, way: Way, ends: Sequence[float], resting: Resting | None
) -> tuple[float, ...]:
    """Return the breaks that may be taken on a leg before each of its points. [min].

    They lie between halts that are breaks themselves, as few as can be and evenly spread, in dry
    riding time; halts that may be left out are no rest.

    Parameters
    ----------
    ends : sequence of float
        Fractions of the way ridden, in order.
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
    late = [0] * len(ends)
    for begin, end in pairwise((0.0, *rests, 1.0)):
        whole = max(ceil((end - begin) * leg.riding_minutes / resting.after_minutes) - 1, 0)
        for number, at in enumerate(ends):
            if at > begin:
                ridden = (at - begin) * leg.riding_minutes
                # n breaks in more than n rides: the k-th never comes before the ride k - 1 is full
                late[number] += min(whole, 1 + int(ridden // resting.after_minutes))
    return tuple(count * resting.minutes for count in late)
