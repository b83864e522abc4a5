"""What the wind hazards share: the gust that counts, and limits shifted for the party."""

import numpy as np

from replanner.hazards.known import Bounds, bounds_of, filled
from replanner.hazards.limits import Limit, Limits
from replanner.hazards.model import Conditions, Party, Stretch
from replanner.trip.model import Exposure


def wind_limit(party: Party, limits: Limits, name: str) -> Limit:
    """Return a wind limit for the party: shifted by the riders' profile, then own limits."""
    limit = limits[name].shifted(party.wind_shift)
    own = (party.own_limits or {}).get(name)
    return limit if own is None else limit.tightened(own)


def gust_bounds(stretch: Stretch, conditions: Conditions, limits: Limits) -> Bounds:
    """Return the gust to reckon with, in m/s.

    A gust below the mean wind occurs in real answers: the larger counts. On an exposed road high
    over its foot, gusts of 1.6 times the mean and more come down the lee once the mean exceeds
    10 m/s (gust factors in complex terrain, Meteorol. Z. 13/2, 2004); the hill upwind is not
    known, so each such road is taken to have one.
    """
    high = stretch.exposure is Exposure.EXPOSED and stretch.climb_m >= limits.figure("lee.hill_m")
    # several hazards and the pace ask for it: once worked out, it is kept with the conditions
    kept_limits, kept = conditions.worked_out.get(("gust", high), (None, None))
    if kept is None or kept_limits is not limits:
        kept = _gust_bounds(conditions, limits, high=high)
        conditions.worked_out["gust", high] = limits, kept
    return Bounds(*kept)


def _gust_bounds(conditions: Conditions, limits: Limits, *, high: bool) -> Bounds:
    mean = conditions.column("wind_speed")
    floor = filled(mean, 0.0)
    if high:
        lee = mean > limits.figure("lee.mean_from")
        floor = np.where(lee, limits.figure("lee.gust_factor") * floor, floor)
    gust = bounds_of(conditions.column("wind_speed_of_gust"))
    return gust.each(lambda strength: np.maximum(strength, floor))
