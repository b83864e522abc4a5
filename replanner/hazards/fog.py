"""Visibility on the road: fog is below 1000 m (WMO), headlights are due below 100 m."""

import numpy as np

from replanner.hazards.known import bounds_of
from replanner.hazards.limits import Limits
from replanner.hazards.model import CAUTION, Conditions, Party, Reading, Stretch
from replanner.hazards.weather_codes import FOG, is_code
from replanner.trip.model import Exposure


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge the visibility; a weather code that says fog counts, one that does not proves nothing.

    Fog of unknown density is taken for thick fog. Where the code alone shows it, no sight is told:
    a figure that says fair would stand beside a word that says fog.
    """
    if not stretch.ridden:
        return None
    sight = conditions.column("visibility_in_air")
    exposed = stretch.exposure is Exposure.EXPOSED
    limit = party.limit(limits, "visibility_exposed" if exposed else "visibility")
    said = is_code(conditions, FOG)
    thick = np.where(np.isnan(sight), limits.figure("fog.unknown_density_level"), CAUTION)
    floor = np.where(said, thick, 0.0)
    seen = bounds_of(sight, np.inf, 0.0).each(limit.level)
    level = seen.each(lambda each: np.maximum(each, floor)).settled()
    # not known is infinite in the better of both: fair
    told = np.where(said & ~(seen.at_least >= CAUTION), np.nan, sight)
    return Reading(level, told, limit)
