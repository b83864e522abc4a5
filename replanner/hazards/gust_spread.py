"""Gusts far above the mean wind: what surprises is worse than what one leans into."""

import numpy as np

from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Party, Reading, Stretch


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge how far the gust exceeds the mean; unknown where either is."""
    if not stretch.ridden:
        return None
    mean = conditions.column("wind_speed")
    spread = np.maximum(conditions.column("wind_speed_of_gust") - mean, 0.0)
    limit = party.limit(limits, "gust_spread")
    return Reading(limit.level(spread), spread, limit)
