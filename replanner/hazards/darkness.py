"""Riding towards dusk and in the dark."""

import numpy as np

from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Party, Reading, Stretch
from replanner.trip.model import Exposure, SurfaceClass

# How a tour file marks a leg that is not ridden in the last half hour of sun.
_SUNSET_30 = "sunset-30"


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge the minutes of light left; exposed roads and tracks are no-go after civil dusk.

    Legs that ask for the last half hour of sun to be over are judged by sunset less that.
    """
    if not stretch.ridden:
        return None
    left = conditions.minutes_to_dusk
    name = "darkness"
    if stretch.last_light == _SUNSET_30:
        margin = limits.figure("last_light.before_sunset_minutes")
        left = np.minimum(conditions.minutes_to_sunset - margin, left)
        name = "last_light"
    elif stretch.exposure is Exposure.EXPOSED or stretch.surface is SurfaceClass.TRACK:
        name = "darkness_exposed"
    limit = party.limit(limits, name)
    return Reading(limit.level(left), left, limit)
