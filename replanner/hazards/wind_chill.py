"""Cold hands: wind chill at the riding speed, an extrapolation above 5 degC and 53 km/h."""

from dataclasses import replace

import numpy as np

from replanner.hazards.felt import (
    FACE_TO_TEN_METRES,
    wind_chill_extrapolated,
    wind_chill_riding,
)
from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Party, Reading, Stretch


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge the wind chill of riding, still air taken."""
    if not stretch.ridden:
        return None
    felt = wind_chill_riding(conditions.column("air_temperature"), stretch.speed_kmh)
    limit = party.limit(limits, "wind_chill")
    as_wind = np.asarray(FACE_TO_TEN_METRES * stretch.speed_kmh)
    if wind_chill_extrapolated(conditions.column("air_temperature"), as_wind).any():
        limit = replace(limit, source=f"{limit.source}; extrapolated beyond the published chart")
    return Reading(limit.level(felt), felt, limit)
