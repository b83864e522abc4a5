"""Rain while riding: sight through the visor, spray, grip, and hands that get cold."""

from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Party, Reading, Stretch
from replanner.trip.model import Exposure, SurfaceClass


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge the rain of the hour, more strictly on exposed roads and on tracks."""
    if not stretch.ridden:
        return None
    amount = conditions.column("precipitation_amount")
    limit = party.limit(limits, _limit_for(stretch))
    return Reading(limit.level(amount), amount, limit)


def _limit_for(stretch: Stretch) -> str:
    if stretch.surface is SurfaceClass.TRACK:
        return "rain_track"
    return "rain_exposed" if stretch.exposure is Exposure.EXPOSED else "rain"
