"""Cold hands: wind chill at the riding speed, an extrapolation above 5 degC and 53 km/h."""

from replanner.hazards.felt import wind_chill_riding
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
    return Reading(limit.level(felt), felt, limit)
