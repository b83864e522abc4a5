"""Gusts, whatever their direction: they strike when a hedge ends or a lorry passes."""

from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Party, Reading, Stretch
from replanner.hazards.wind import gust_bounds, wind_limit


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge the gust; without a gust forecast only a mean wind that is too much already."""
    if not stretch.ridden:
        return None
    gust = gust_bounds(stretch, conditions, limits)
    limit = wind_limit(party, limits, "gust")
    return Reading(gust.certain(limit.level), gust.at_least, limit)
