"""Gusts far above the mean wind: what surprises is worse than what one leans into."""

import numpy as np

from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Party, Reading, Stretch


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge how far the gust exceeds the mean; unknown where either is.

    A gust is the strongest of its hour, the mean wind that of an instant: where the wind rises
    within the hour, the wind at its end is the one the gust belongs to.
    """
    if not stretch.ridden:
        return None
    mean = conditions.column("wind_speed")
    at_end = np.full(mean.shape, np.nan)
    at_end[..., :-1] = mean[..., 1:]
    stronger = np.where(np.isnan(at_end), mean, np.maximum(mean, at_end))
    spread = np.maximum(conditions.column("wind_speed_of_gust") - stronger, 0.0)
    limit = party.limit(limits, "gust_spread")
    return Reading(limit.level(spread), spread, limit)
