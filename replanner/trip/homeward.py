"""A tour of which nothing is ridden for its own sake any more: only the way in counts."""

from dataclasses import replace

from replanner.trip.model import HaltKind, Leg, LegId, Tour


def homeward(tour: Tour, first: LegId | None) -> Tour:
    """Return the tour with every leg worth nothing and no must left but the leg under way.

    Halts are left out but those for fuel: without it nobody gets in.

    Parameters
    ----------
    first : LegId or None
        The leg that has to be finished.
    """
    legs = {name: _worthless(leg, must=name == first) for name, leg in tour.legs.items()}
    return replace(tour, legs=legs)


def _worthless(leg: Leg, *, must: bool) -> Leg:
    fuel = tuple(
        replace(halt, worth_minutes=0.0)
        for halt in leg.halts
        if halt.kind is HaltKind.FUEL and not halt.optional
    )
    return replace(leg, worth_minutes=0.0, must=must, halts=fuel)
