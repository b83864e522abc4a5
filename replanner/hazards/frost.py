"""Frost and ice at the height of the road.

No official air temperature for road ice was found; 3 to 4 degC is convention.
"""

import numpy as np

from replanner.hazards.drying import hours_to_dry
from replanner.hazards.known import bounds_of
from replanner.hazards.limits import Limits
from replanner.hazards.model import AVOID, NO_GO, Conditions, Floats, Party, Reading, Stretch
from replanner.hazards.weather_codes import FREEZING, is_code


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge the air at the road: cold is caution, cold on a wet road or in hoar worse.

    Snow and freezing rain are no-go whatever the temperature. Where that alone would not be, it
    is not told: a mild figure would stand beside a word that says ice.
    """
    if not stretch.ridden:
        return None
    air = conditions.column("air_temperature")
    wet = hours_to_dry(stretch, conditions, limits)
    falls = is_code(conditions, FREEZING)
    dry_limit, wet_limit = party.limit(limits, "frost"), party.limit(limits, "frost_wet")
    hoar = (air <= limits.figure("frost.hoar_below")) & (
        air - conditions.column("dew_point_temperature") <= limits.figure("frost.hoar_spread")
    )

    def level(temperature: Floats, hours_wet: Floats) -> Floats:
        found = np.where(hours_wet > 0, wet_limit.level(temperature), dry_limit.level(temperature))
        found = np.maximum(found, np.where(hoar, AVOID, 0.0))
        return np.where(falls, NO_GO, found)

    levels = bounds_of(air, np.inf, -np.inf).with_other(wet, level)
    told = np.where(falls & ~(wet_limit.level(air) >= NO_GO), np.nan, air + 0.0 * wet.at_least)
    return Reading(levels.settled(), told, wet_limit)
