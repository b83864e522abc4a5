"""The gust's part across the road, on the heading that has most of it."""

import numpy as np

from replanner.hazards.known import Bounds, filled
from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Floats, Party, Reading, Stretch
from replanner.hazards.track_wind import off_nearest
from replanner.hazards.wind import gust_bounds, wind_limit


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge the gust against the headings; heading or direction unknown: the whole gust counts."""
    if not stretch.ridden:
        return None
    gust = gust_bounds(stretch, conditions, limits)
    share = _share_across(stretch, conditions)
    limit = wind_limit(party, limits, "crosswind")
    across = gust.at_least * share
    # an unknown gust is without bound
    at_most = across if gust.known else np.where(np.isinf(gust.at_most), np.inf, across)
    return Reading(Bounds(across, at_most).certain(limit.level), across, limit)


def _share_across(stretch: Stretch, conditions: Conditions) -> Floats:
    """Return the largest share 0..1 of a wind that blows across one of the headings."""
    blows_from = conditions.column("wind_from_direction")
    if not stretch.headings_deg:
        return np.ones(blows_from.shape)
    # most of a wind is across the heading next to a right angle with it, whichever way round: the
    # crosswind of `resolve_on_track` at 1 m/s
    off_across = off_nearest(blows_from, np.asarray(stretch.headings_deg) + 90.0, 180.0)
    return filled(np.cos(np.radians(off_across)), 1.0)
