"""The weather codes of the hourly table: a subset of WMO code table 4677, as Open-Meteo gives it.

A code can show that something is there; its absence proves nothing, since one code tells only
one thing of the hour, and some are given for parts of the world only.
"""

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.model import Conditions

FOG = (45.0, 48.0)
FREEZING = (56.0, 57.0, 66.0, 67.0, 71.0, 73.0, 75.0, 77.0, 85.0, 86.0)  # freezing rain and snow
THUNDERSTORM = (95.0, 96.0, 99.0)


def is_code(conditions: Conditions, codes: tuple[float, ...]) -> NDArray[np.bool_]:
    """Return True where the hour's code is one of those, which rise; False where it is missing."""
    told = conditions.column("weather_code")
    found = np.asarray(told == codes[0])
    if not (told > codes[0]).any():
        return found
    for code in codes[1:]:
        found |= told == code
    return found
