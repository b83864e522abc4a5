"""Animals on the road: collisions with deer peak in the hour after sunset, 30-fold."""

import numpy as np

from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Party, Reading, Stretch


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge the minutes to sunset on forest and grazing legs; the whole night counts as after."""
    if not stretch.ridden or not stretch.animals:
        return None
    left = np.minimum(conditions.minutes_to_sunset, conditions.minutes_to_dusk)
    limit = party.limit(limits, "dusk_animals")
    return Reading(limit.level(left), left, limit)
