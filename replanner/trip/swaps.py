"""Loops that may be ridden on another day than the rider put them, from the same base.

A loop begins and ends at one base, so it goes as a whole into any slot spent there: the evening of
the arrival, a morning, an afternoon, the morning of the departure. What is bound to hours of the
week, to tides or to sailings stays where the rider put it, unless he lists it elsewhere himself.
"""

from collections import Counter
from collections.abc import Sequence

from replanner.trip.model import Day, Leg, LegId, LegKind, Tour

MOST_SHARED = 12
"""So many legs that several days may ride are dealt out within half a second of a night. Without
compiled loops 14 take four seconds, with them 18 take ten, and 700 MB. Loops beyond stay on their
own days. Assumption."""


def loops_to_swap(tour: Tour, days: Sequence[Day]) -> frozenset[LegId]:
    """Return the loops that some other of the days left may ride: of too many those worth most.

    Legs that the rider lists on several days himself count first.
    """
    listed = Counter(leg for day in days for leg in day.legs)
    room = max(MOST_SHARED - sum(count > 1 for count in listed.values()), 0)
    found = dict.fromkeys(leg for day in days for leg in loops_of_other_days(tour, day, days))
    by_worth = sorted(found, key=lambda leg: -tour.legs[leg].worth_minutes)
    return frozenset(by_worth[:room])


def loops_of_other_days(tour: Tour, day: Day, days: Sequence[Day]) -> tuple[LegId, ...]:
    """Return the loops of other days' own orders that this day could take, in their order.

    Parameters
    ----------
    days : sequence of Day
        The days left, this one among them.
    """
    bases = {day.start, day.end}
    return tuple(
        dict.fromkeys(
            leg
            for other in days
            if other.date != day.date
            for leg in other.own_order
            if leg not in day.legs and _swaps(tour.legs[leg]) and tour.legs[leg].start in bases
        )
    )


def _swaps(leg: Leg) -> bool:
    bound = leg.windows or leg.tides is not None or leg.ferry is not None
    return leg.kind is LegKind.LOOP and leg.start == leg.end and not bound
