"""How weather stretches the riding time of a section.

The slowest cause counts, not their product: who already creeps in fog does not creep twice. A
missing amount of rain is taken for light rain and a missing gust for a gusty hour, so that times
are never told shorter for want of data; missing visibility lengthens nothing by itself, since
some services never give it.
"""

from functools import reduce

import numpy as np

from replanner.hazards.chippings import days_since_laid
from replanner.hazards.drying import hours_to_dry
from replanner.hazards.known import filled, rain_in_last
from replanner.hazards.limits import Limits
from replanner.hazards.model import AVOID, CAUTION, Conditions, Floats, Party, Stretch
from replanner.hazards.weather_codes import FOG, is_code
from replanner.hazards.wind import gust_bounds, wind_limit
from replanner.trip.model import SurfaceClass


def pace_factor(stretch: Stretch, conditions: Conditions, party: Party, limits: Limits) -> Floats:
    """Return how many times the dry riding minutes the stretch takes, hour by hour; at least 1."""
    if not stretch.ridden:
        return np.ones(conditions.time.shape)
    causes = [
        _by_wet(stretch, conditions, limits),
        _by_surface(stretch, conditions, limits),
        _by_fog(conditions, limits),
        _by_gust(stretch, conditions, party, limits),
    ]
    return reduce(np.maximum, causes)


def _by_wet(stretch: Stretch, conditions: Conditions, limits: Limits) -> Floats:
    amount = conditions.column("precipitation_amount")
    light, heavy = limits.figure("pace.rain_light"), limits.figure("pace.rain_heavy")
    wet = hours_to_dry(stretch, conditions, limits).at_least > 0
    factor = np.where(wet | np.isnan(amount), light, 1.0)
    return np.where(amount >= limits.figure("pace.rain_heavy_mm"), heavy, factor)


def _by_surface(stretch: Stretch, conditions: Conditions, limits: Limits) -> Floats:
    """Return the slowing on a wet track and on loose chippings, from a top speed there."""
    factor = np.ones(conditions.time.shape)
    if stretch.surface is SurfaceClass.TRACK:
        rain = rain_in_last(conditions, limits.figure("wet_track.avoid_hours"))
        slow = max(1.0, stretch.speed_kmh / limits.figure("pace.track_wet_kmh"))
        factor = np.where(rain.at_most >= limits.figure("wet.trace_mm"), slow, factor)
    chippings = stretch.road.chippings
    if chippings is not None:
        days = days_since_laid(chippings, stretch, conditions)
        loose = (days >= 0) & (days <= (chippings.assumed_until - chippings.laid).days)
        slow = max(1.0, stretch.speed_kmh / limits.figure("pace.chippings_kmh"))
        factor = np.where(loose, np.maximum(factor, slow), factor)
    return factor


def _by_fog(conditions: Conditions, limits: Limits) -> Floats:
    sight = filled(conditions.column("visibility_in_air"), np.inf)
    foggy = (sight < limits.figure("pace.fog_m")) | is_code(conditions, FOG)
    factor = np.where(foggy, limits.figure("pace.fog"), 1.0)
    return np.where(
        sight < limits.figure("pace.thick_fog_m"), limits.figure("pace.thick_fog"), factor
    )


def _by_gust(stretch: Stretch, conditions: Conditions, party: Party, limits: Limits) -> Floats:
    level = wind_limit(party, limits, "gust").level(
        gust_bounds(stretch, conditions, limits).at_least
    )
    gusty = (level >= CAUTION) | np.isnan(conditions.column("wind_speed_of_gust"))
    factor = np.where(gusty, limits.figure("pace.gust_caution"), 1.0)
    return np.where(level >= AVOID, limits.figure("pace.gust_avoid"), factor)
