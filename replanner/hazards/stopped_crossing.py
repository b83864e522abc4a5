"""A crossing that may not run: the boat stops at a gust of its own, or in a gale."""

from dataclasses import replace

from replanner.hazards.limits import Limit, Limits
from replanner.hazards.model import Conditions, Party, Reading, Stretch
from replanner.hazards.wind import gust_bounds
from replanner.trip.model import SurfaceClass


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge the gust by the boat's own limit, else by the classes of marine warnings.

    Swell is not in the hourly table: the wind stands for it.
    """
    if stretch.surface is not SurfaceClass.WATER:
        return None
    gust = gust_bounds(stretch, conditions, limits)
    limit = _limit_for(stretch, party.limit(limits, "stopped_crossing"), limits)
    return Reading(gust.certain(limit.level), gust.at_least, limit)


def _limit_for(stretch: Stretch, general: Limit, limits: Limits) -> Limit:
    stops = stretch.ferry_gust_limit
    if stops is None:
        return general
    return replace(
        general,
        clear=stops * limits.figure("stopped_crossing.clear_share"),
        caution=stops * limits.figure("stopped_crossing.caution_share"),
        avoid=stops * limits.figure("stopped_crossing.avoid_share"),
        no_go=stops,
        source="the boat's own",
    )
