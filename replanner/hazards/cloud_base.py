"""A pass with its head in the cloud, told from the air at its foot."""

from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Party, Reading, Stretch


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge how far the cloud base lies above the road; roads near their foot have no summit."""
    if not stretch.ridden or stretch.climb_m < limits.figure("cloud_base.least_climb_m"):
        return None
    above = conditions.column("cloud_base_altitude") - stretch.elevation_m
    limit = party.limit(limits, "cloud_base")
    return Reading(limit.level(above), above, limit)
