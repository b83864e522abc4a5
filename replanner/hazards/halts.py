"""Whether a photo or drone halt has the wind, the dry air and the light it is made for.

A halt that cannot be judged does not fit. Local rules on flying are not known here.
"""

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.known import bounds_of, filled
from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions
from replanner.hazards.thunder import chance_of_thunder
from replanner.trip.model import Halt, HaltKind

Booleans = NDArray[np.bool_]


def weather_fits(halt: Halt, conditions: Conditions, limits: Limits) -> Booleans:
    """Return for each hour, shape (..., N), whether wind, rain and sight suit the halt.

    Photos want no rain and no fog; drones as well no thunder and gusts below seven tenths of the
    maker's figure (common practice, no source), or of a careful figure where it is not known.
    """
    if halt.kind not in (HaltKind.PHOTO, HaltKind.DRONE):
        return np.ones(conditions.time.shape, np.bool_)
    rain = bounds_of(conditions.column("precipitation_amount")).at_most
    sight = filled(conditions.column("visibility_in_air"), 0.0)
    fits = (rain < limits.figure("halt.rain_mm")) & (sight >= limits.figure("halt.sight_m"))
    if halt.kind is HaltKind.PHOTO:
        return np.asarray(fits)
    maker = limits.figure("halt.drone_gust") if halt.gust_limit is None else halt.gust_limit
    gust = np.maximum(
        bounds_of(conditions.column("wind_speed_of_gust")).at_most,
        filled(conditions.column("wind_speed"), 0.0),
    )
    chance = chance_of_thunder(conditions, limits).at_most
    return np.asarray(
        fits
        & (gust < limits.figure("halt.drone_share") * maker)
        & (chance < limits.figure("halt.thunder_chance"))
    )


def light_fits(halt: Halt, conditions: Conditions) -> Booleans:
    """Return for each instant, shape of its time, whether the light suits the halt.

    Photos and drones want civil daylight; where the halt asks for a side, the sun must be up and
    stand in that arc, clockwise from its first bearing to its second.
    """
    fits = np.ones(conditions.time.shape, np.bool_)
    if halt.kind in (HaltKind.PHOTO, HaltKind.DRONE):
        fits = filled(conditions.minutes_to_dusk, -1.0) > 0
    if halt.light_from_deg is None:
        return fits
    first, last = halt.light_from_deg
    inside = (conditions.sun_azimuth - first) % 360.0 <= (last - first) % 360.0
    return np.asarray(fits & inside & (conditions.sun_elevation > 0))
