"""How far the smallest tank is planned to be ridden, and what a leg takes from it."""

from collections.abc import Sequence
from enum import StrEnum
from itertools import pairwise

import numpy as np

from replanner.trip.model import Day, Leg, LegKind, Tour
from replanner.trip.underway import Underway
from replanner.units import Floats

# Plan on four fifths of the tank (a long-distance riders' rule, published).
USABLE_TANK = 0.8
# Where a road's minutes are known and its kilometres are not it counts as ridden at this speed:
# more than connectors are, so that the tank is not told as fuller than it is. Assumption. [km/h]
UNKNOWN_ROAD_SPEED = 80.0
# So little ridden on does not make of what was told what is only reckoned. Assumption. [km]
_HARDLY_RIDDEN_KM = 1.0


def roads_km(known_km: Floats, dry_minutes: Floats) -> Floats:
    """Return the kilometres of roads, reckoned by their dry minutes where they are NaN; alike."""
    return np.where(np.isnan(known_km), dry_minutes * UNKNOWN_ROAD_SPEED / 60.0, known_km)


class TankKnown(StrEnum):
    """How far it is known what has been ridden since the tank was full."""

    TOLD = "told"  # by the riders, or full in the morning
    RECKONED = "reckoned"  # by the plan, from what they have told on the day
    UNKNOWN = "unknown"  # at best reckoned from a tank that nobody has told of


def smallest_tank_km(tour: Tour) -> float | None:
    """Return how far the smallest tank lasts [km]; None: no rider gives a range."""
    tanks = (rider.tank_range_km for rider in tour.riders)
    return min((tank for tank in tanks if tank is not None), default=None)


def usable_km(tour: Tour) -> float | None:
    """Return how far it is planned to be ridden [km]; None: no rider gives a range."""
    smallest = smallest_tank_km(tour)
    return None if smallest is None else USABLE_TANK * smallest


def ridden_since_full(day: Day, underway: Underway | None) -> float | None:
    """Return the kilometres since the tank was full when a day begins, or what is left of it.

    What was told or reckoned counts first; a tank full in the morning still is where the riders
    have not been seen to leave the start of the day (`day` is the whole of it), nor by the plan
    can have. None: not known.
    """
    if underway is None or underway.tank_km is not None:
        return km_since_full(underway)
    return 0.0 if _is_morning(day, underway) else None


def told_km(day: Day, underway: Underway) -> float | None:
    """Return what of `ridden_since_full` is told rather than reckoned. [km]; None: nothing."""
    full = underway.tank_km in (None, 0.0) and _is_morning(day, underway)
    return 0.0 if full else underway.tank_told_km


def _is_morning(day: Day, underway: Underway) -> bool:
    return underway.in_the_morning and underway.place == day.start and not underway.ridden


def tank_known(underway: Underway | None) -> TankKnown:
    """Return how far the tank of the rest of a day is known; before the day begins it is full."""
    if underway is None:
        return TankKnown.TOLD
    if underway.tank_km is None or underway.tank_told_km is None:
        return TankKnown.UNKNOWN
    since_told = abs(underway.tank_km - underway.tank_told_km)  # less than told: filled up since
    return TankKnown.TOLD if since_told <= _HARDLY_RIDDEN_KM else TankKnown.RECKONED


def km_since_full(underway: Underway | None) -> float | None:
    """Return the kilometres since the tank was full, of the rest of a day. None: not known."""
    return 0.0 if underway is None else underway.tank_km


def stretches_km(leg: Leg, pumps: Sequence[float]) -> tuple[float, ...]:
    """Return the kilometres to each pump of a leg in turn, and from the last one to its end.

    A crossing takes nothing: the boat burns its own.

    Parameters
    ----------
    pumps : sequence of float
        Fractions of the way ridden, in order.
    """
    length = 0.0 if leg.kind is LegKind.CROSSING else leg.distance_km
    at = (0.0, *pumps, 1.0)
    return tuple((there - here) * length for here, there in pairwise(at))


def fill_ups(
    km: float, pumps: Sequence[tuple[float, str]], left_km: float, usable_km: float
) -> tuple[tuple[str, ...], float]:
    """Return where to fill up on a way, as late as can be, and how far the tank falls short.

    Parameters
    ----------
    km : float
        Length of the way. [km]
    pumps : sequence of (float, str)
        Where on it there is fuel [km], in order, and what the place is called.
    left_km, usable_km : float
        How far what is left in the tank is planned to be ridden, and a full one. [km]

    Returns
    -------
    tuple of str
        As far as the tank gets.
    float
        To the next pump, or to the end where there is none. 0: it lasts. [km]
    """
    found: list[str] = []
    at, reach = 0.0, max(left_km, 0.0)
    ahead = list(pumps)
    while at + reach < km:
        within = [pump for pump in ahead if pump[0] <= at + reach]
        ahead = ahead[len(within) :]
        if not within:
            return tuple(found), (ahead[0][0] if ahead else km) - (at + reach)
        at, name = within[-1]
        found.append(name)
        reach = usable_km
    return tuple(found), 0.0
