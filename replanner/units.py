"""Units of measurement: one set inside, the rider's at the edges.

Inside: m/s, degC, mm, m, km for road distance, minutes for riding time, hPa, degrees. Answers of
forecast services say their unit in words of their own; `to_inside` turns those it knows and
refuses the rest, since a guessed unit is a wrong forecast.
"""

from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

METRES_PER_MILE = 1609.344  # international mile, exact by definition
METRES_PER_FOOT = 0.3048  # exact by definition
METRES_PER_SECOND_PER_KNOT = 1852.0 / 3600.0  # international nautical mile, exact

Floats = NDArray[np.float64]

# unit as written by a service: (inside unit, factor, offset); inside = given * factor + offset
_INSIDE: dict[str, tuple[str, float, float]] = {
    "m/s": ("m/s", 1.0, 0.0),
    "ms": ("m/s", 1.0, 0.0),
    "km/h": ("m/s", 1.0 / 3.6, 0.0),
    "mp/h": ("m/s", METRES_PER_MILE / 3600.0, 0.0),
    "mph": ("m/s", METRES_PER_MILE / 3600.0, 0.0),
    "kn": ("m/s", METRES_PER_SECOND_PER_KNOT, 0.0),
    "°C": ("degC", 1.0, 0.0),
    "°F": ("degC", 5.0 / 9.0, -160.0 / 9.0),
    "mm": ("mm", 1.0, 0.0),
    "inch": ("mm", 25.4, 0.0),
    "cm": ("mm", 10.0, 0.0),
    "m": ("m", 1.0, 0.0),
    "ft": ("m", METRES_PER_FOOT, 0.0),
    "%": ("%", 1.0, 0.0),
    "°": ("deg", 1.0, 0.0),
    "hPa": ("hPa", 1.0, 0.0),
    "J/kg": ("J/kg", 1.0, 0.0),
    "W/m²": ("W/m2", 1.0, 0.0),
    "wmo code": ("1", 1.0, 0.0),
}


class UnitSystem(StrEnum):
    """What the rider reads: metric (km, km/h, degC, mm) or imperial (mi, mph, degF, in)."""

    METRIC = "metric"
    IMPERIAL = "imperial"


def to_inside(values: ArrayLike, unit: str, inside_unit: str) -> Floats:
    """Turn values in a service's unit into the unit used inside.

    Parameters
    ----------
    values : array_like, any shape
        Values in `unit`; NaN stays NaN.
    unit : str
        The unit as the service writes it, e.g. ``"mp/h"``.
    inside_unit : str
        The unit wanted: m/s, degC, mm, m, %, deg, hPa, J/kg, W/m2 or 1.

    Returns
    -------
    ndarray of float64, same shape

    Raises
    ------
    ValueError
        If the unit is unknown or measures something else.

    Examples
    --------
    >>> round(float(to_inside(30.0, "mp/h", "m/s")), 2)
    13.41
    """
    if unit not in _INSIDE:
        raise ValueError(f"unit {unit!r} is not known")
    found, factor, offset = _INSIDE[unit]
    if found != inside_unit:
        raise ValueError(f"unit {unit!r} does not measure {inside_unit}")
    return np.asarray(np.asarray(values, dtype=np.float64) * factor + offset)


def require_non_negative(name: str, values: ArrayLike) -> Floats:
    """Return the values as floats; raise ValueError naming the argument if one is negative."""
    array = np.asarray(values, dtype=np.float64)
    if np.any(array < 0):
        raise ValueError(f"{name} must not be negative, got {float(np.nanmin(array))}")
    return array
