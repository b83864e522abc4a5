"""Heat with gear on: the air temperature, or what damp air makes of it."""

import numpy as np

from replanner.hazards.felt import heat_index
from replanner.hazards.known import Bounds, filled
from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Party, Reading, Stretch


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge the larger of air temperature and heat index."""
    if not stretch.ridden:
        return None
    air = conditions.column("air_temperature")
    # services tell slightly more than 100 % at times; the regression is not made for it
    humidity = np.minimum(conditions.column("relative_humidity"), 100.0)
    felt = np.maximum(air, heat_index(air, filled(humidity, 0.0)))
    limit = party.limit(limits, "heat")
    unknown = np.isnan(air) | np.isnan(humidity)
    if not unknown.any():
        return Reading(limit.level(felt), felt, limit)
    damp = np.broadcast_to(air, felt.shape)[unknown]
    at_most = felt.copy()
    at_most[unknown] = filled(np.maximum(damp, heat_index(damp, 100.0)), np.inf)
    level = Bounds(filled(felt, -np.inf), at_most).certain(limit.level)
    return Reading(level, felt, limit)
