"""Gravel: worth a word when dry, worse the more rain it has had."""

import numpy as np

from replanner.hazards.known import rain_in_last
from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Party, Reading, Stretch
from replanner.trip.model import SurfaceClass


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge by the rain of the last hours, never below the level of dry gravel."""
    if not stretch.ridden or stretch.surface is not SurfaceClass.GRAVEL:
        return None
    rain = rain_in_last(conditions, limits.figure("gravel.wet_hours"))
    limit = party.limit(limits, "gravel")
    dry = limits.figure("gravel.dry_level")
    level = rain.each(lambda amount: np.maximum(limit.level(amount), dry)).settled()
    return Reading(level, rain.at_least, limit)
