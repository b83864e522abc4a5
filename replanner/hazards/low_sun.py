"""A low sun ahead: it blinds the rider, and from behind it blinds those who come towards him."""

import numpy as np

from replanner.hazards.known import settle
from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Floats, Party, Reading, Stretch
from replanner.hazards.track_wind import off_nearest


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge the angle between the sun and the nearest heading while the sun is low and clear.

    A road without a known heading turns into the sun somewhere. A grade lowers the sun by
    itself when climbed; which end is higher is not known, so a steep road is taken to climb.
    While the sun is not low, or well beside the road, no angle is told.
    """
    if not stretch.ridden:
        return None
    # most of a day the sun is high or down: what it would be under a clear sky is looked at for
    # the rest, and the sky itself only where the sun would blind
    lowest, highest = limits.figure("low_sun.lowest_deg"), limits.figure("low_sun.highest_deg")
    near = conditions.sun_may_stand(lowest, highest).nonzero()[0]
    clear = _under_a_clear_sky(stretch, conditions.only(near), party, limits)
    blinds = clear.level.nonzero()[0]
    at = near[blinds]
    level = _certain(clear.level[blinds], conditions.only(at), limits)
    angle = np.broadcast_to(clear.value[blinds], level.shape)
    return Reading(level, angle, clear.limit, at)


def _under_a_clear_sky(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading:
    """Judge instants at which the sun may be low, shape (K,), as if no cloud hid it."""
    height = conditions.sun_elevation
    angle = _off_heading(stretch, conditions.sun_azimuth)
    climbs = (stretch.road.steepest_grade_percent or 0.0) >= limits.figure("low_sun.climb_percent")
    limit = party.limit(limits, "low_sun")
    level = limit.level(angle)
    if climbs:
        very_low = height <= limits.figure("low_sun.very_low_deg")
        worse = party.limit(limits, "low_sun_climbing").level(angle)
        level = np.where(very_low, np.maximum(worse, level), level)
    lowest, highest = limits.figure("low_sun.lowest_deg"), limits.figure("low_sun.highest_deg")
    return Reading(np.where((height >= lowest) & (height <= highest), level, 0.0), angle, limit)


def _certain(level: Floats, conditions: Conditions, limits: Limits) -> Floats:
    """Return what is certain of a level that holds under a clear sky, shape (..., K)."""
    cloud = conditions.column("cloud_area_fraction")
    below = limits.figure("low_sun.clear_below")
    certain = np.where(cloud < below, level, 0.0)
    missing = np.isnan(cloud)
    if missing.any():
        certain = np.where(missing, settle(np.zeros(level.shape), level), certain)
    return certain


def _off_heading(stretch: Stretch, azimuth: Floats) -> Floats:
    """Return the angle from the sun to the nearest heading, 0..180 degrees."""
    if not stretch.headings_deg:
        return np.zeros(azimuth.shape)
    return off_nearest(azimuth, np.asarray(stretch.headings_deg), 360.0)
