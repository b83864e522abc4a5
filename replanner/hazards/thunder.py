"""Thunder: a motorcycle gives no shelter, and an open road none either."""

import numpy as np

from replanner.hazards.known import Bounds, bounds_of
from replanner.hazards.limits import Limits
from replanner.hazards.model import Conditions, Party, Reading, Stretch
from replanner.hazards.weather_codes import THUNDERSTORM, is_code


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge the chance of thunder."""
    if not stretch.ridden:
        return None
    chance = chance_of_thunder(conditions, limits)
    limit = party.limit(limits, "thunder")
    return Reading(chance.certain(limit.level), chance.at_least, limit)


def chance_of_thunder(conditions: Conditions, limits: Limits) -> Bounds:
    """Return the chance of thunder from a forecast code, or unstable air and the chance of rain.

    An estimate of ours (assumption): CAPE as a share of a very unstable value, times the
    precipitation probability. [%]
    """
    unstable = conditions.column("atmosphere_convective_available_potential_energy")
    unstable = unstable / limits.figure("thunder.very_unstable_cape")
    rain = conditions.column("precipitation_probability")
    said = np.where(is_code(conditions, THUNDERSTORM), limits.figure("thunder.code_chance"), 0.0)
    share = bounds_of(unstable, 0.0, 1.0).each(lambda each: np.minimum(each, 1.0))
    chance = share.with_other(bounds_of(rain, 0.0, 100.0), np.multiply)
    return chance.each(lambda each: np.maximum(each, said))
