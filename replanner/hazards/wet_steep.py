"""Wet and steep and narrow at once: no room, no grip, no way to stop.

Each alone is a caution; together they are no-go, whatever the surface. A steep narrow pass in
any wet is left out when its parallel valley road is as good (common practice, no source).
"""

import numpy as np

from replanner.hazards.drying import hours_to_dry
from replanner.hazards.limits import Limits
from replanner.hazards.model import NO_GO, Conditions, Party, Reading, Stretch
from replanner.hazards.reported import seen_wet
from replanner.trip.model import SurfaceClass


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge a steep narrow stretch that is wet now or has not dried; the figure is its grade.

    Riders who have seen it wet are believed. A track of unknown width is taken to be narrow; a
    grade that is not known is not steep.
    """
    limit = party.limit(limits, "wet_steep")
    grade = stretch.road.steepest_grade_percent
    if not stretch.ridden or grade is None or limit.caution is None or grade <= limit.caution:
        return None
    if not _narrow(stretch, limits):
        return None
    wet = hours_to_dry(stretch, conditions, limits)
    seen = seen_wet(stretch, conditions.time)
    level = wet.each(lambda hours: np.where((hours > 0) | seen, NO_GO, 0.0)).settled()
    return Reading(level, np.full(level.shape, grade), limit)


def _narrow(stretch: Stretch, limits: Limits) -> bool:
    width = stretch.road.width_m
    if width is None:
        return stretch.surface is SurfaceClass.TRACK
    return width < limits.figure("wet_steep.narrow_m")
