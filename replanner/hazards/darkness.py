"""Riding towards dusk and in the dark."""

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Party, Reading, Stretch
from replanner.trip.model import Exposure, SurfaceClass

# How a tour file marks a leg that is not ridden in the last half hour of sun.
_SUNSET_30 = "sunset-30"


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge the minutes of light left; exposed roads and tracks are no-go after civil dusk.

    Legs not ridden in the last half hour of sun are judged by sunset less that in the evening.
    In the morning they have light from civil dawn on, as all legs; the dark is no-go for them.
    """
    if not stretch.ridden:
        return None
    left = conditions.minutes_to_dusk
    name = "darkness"
    if stretch.last_light == _SUNSET_30:
        margin = limits.figure("last_light.before_sunset_minutes")
        by_sunset = np.minimum(conditions.minutes_to_sunset - margin, left)
        left = np.where(_before_sunrise(conditions), left, by_sunset)
        name = "last_light"
    elif stretch.exposure is Exposure.EXPOSED or stretch.surface is SurfaceClass.TRACK:
        name = "darkness_exposed"
    limit = party.limit(limits, name)
    return Reading(limit.level(left), left, limit)


def _before_sunrise(conditions: Conditions) -> NDArray[np.bool_]:
    """Return True in the hours from midnight to sunrise; a day without sun has no sunrise.

    Minutes to sunset are negative both before sunrise and after sunset; until noon the sun
    stands in the east, all the world over.
    """
    left = conditions.minutes_to_sunset
    before = (left < 0) & np.isfinite(left)
    down = before.nonzero()[0]  # nobody asks where the sun stands by day
    before[down] = conditions.only(down).before_noon()
    return np.asarray(before)
