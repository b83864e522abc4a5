"""A sealed road that is wet now or has not dried yet; worst in the first rain after a dry spell."""

import numpy as np

from replanner.hazards.drying import hours_to_dry
from replanner.hazards.known import filled
from replanner.hazards.limits import Limits
from replanner.hazards.model import AVOID, Conditions, Floats, Party, Reading, Stretch
from replanner.trip.model import SurfaceClass


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge by the hours until the road is dry: the figure told is those hours."""
    if not stretch.ridden or stretch.surface is not SurfaceClass.SEALED:
        return None
    wet = hours_to_dry(stretch, conditions, limits)
    limit = party.limit(limits, "wet_road")
    slick = _first_rain(conditions, limits)
    lift = np.where(slick, AVOID, 0.0)
    level = wet.certain(limit.level, np.maximum(limit.level(wet.at_least), lift))
    return Reading(level, wet.at_least, limit)


def _first_rain(conditions: Conditions, limits: Limits) -> Floats:
    """Return True in the first hour of rain after a dry spell the whole of which was seen.

    The film of oil and rubber is washed off by the rain itself (common practice, no source).
    """
    rain = filled(conditions.with_memory("precipitation_amount"), np.inf)
    wet = rain >= limits.figure("wet.trace_mm")
    spell = int(limits.figure("wet.dry_spell_hours"))
    hours = np.arange(wet.shape[-1])
    last_wet = np.maximum.accumulate(np.where(wet, hours, -1), axis=-1)
    before = np.concatenate([np.full((*wet.shape[:-1], 1), -1), last_wet[..., :-1]], axis=-1)
    first = wet & np.isfinite(rain) & (hours - before - 1 >= spell)
    return np.asarray(first[..., conditions.memory :])
