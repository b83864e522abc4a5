"""The mean wind: an hour of leaning into it tires, and it carries spray and sand."""

from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Party, Reading, Stretch
from replanner.hazards.wind import wind_limit


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge the ten minute mean wind."""
    if not stretch.ridden:
        return None
    mean = conditions.column("wind_speed")
    limit = wind_limit(party, limits, "mean_wind")
    return Reading(limit.level(mean), mean, limit)
