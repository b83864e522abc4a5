"""Heat with gear on: the air temperature, or what damp air makes of it."""

import numpy as np

from replanner.hazards.felt import heat_index
from replanner.hazards.known import bounds_of, filled, settle
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
    felt = bounds_of(humidity, 0.0, 100.0).each(lambda damp: np.maximum(air, heat_index(air, damp)))
    limit = party.limit(limits, "heat")
    if felt.known and not np.isnan(felt.at_least).any():
        return Reading(limit.level(felt.at_least), felt.at_least, limit)
    level = settle(
        limit.level(filled(felt.at_least, -np.inf)), limit.level(filled(felt.at_most, np.inf))
    )
    return Reading(level, felt.at_least, limit)
