"""What the air feels like: wind chill at riding speed and the heat index.

Both are published fits with a range of their own; outside it the figure is an extrapolation and
is to be labelled so.
"""

import numpy as np
from numpy.typing import ArrayLike

from replanner.hazards.model import Floats
from replanner.units import require_non_negative

# The index is made for a wind measured at 10 m of which two thirds reach the face (Osczevski and
# Bluestein 2005); what blows at a rider's face is the riding speed itself, hence 1.5 times it.
FACE_TO_TEN_METRES = 1.5

# Range of the published chart (Environment Canada 2001).
_CHART_COLDEST, _CHART_WARMEST = -50.0, 5.0
_CHART_SLOWEST, _CHART_FASTEST = 5.0, 80.0
# Below this speed the fit has no meaning: the index is the air temperature.
_CALM_KMH = 4.8

_NOT_DEFINED_BELOW_F = 80.0


def wind_chill(air_temperature: ArrayLike, wind_speed: ArrayLike) -> Floats:
    """Return the wind chill index of 2001.

    Parameters
    ----------
    air_temperature : array_like
        [degC]
    wind_speed : array_like
        At 10 m. [km/h]

    Returns
    -------
    ndarray
        Broadcast shape; the air temperature itself below 4.8 km/h. [degC]

    Raises
    ------
    ValueError
        If a speed is negative.

    References
    ----------
    Environment Canada, Wind Chill Calculation Chart; US NWS Wind Chill Temperature Index (2001).

    Examples
    --------
    >>> round(float(wind_chill(0.0, 20.0)), 2)
    -5.24
    """
    air = np.asarray(air_temperature, np.float64)
    speed = require_non_negative("wind_speed", wind_speed)
    # numpy's power of one number and of an array differ in the last digit: always the array's
    power = (np.maximum(np.atleast_1d(speed), _CALM_KMH) ** 0.16).reshape(speed.shape)
    felt = 13.12 + 0.6215 * air - 11.37 * power + 0.3965 * air * power
    return np.where(speed < _CALM_KMH, air, felt)


def wind_chill_riding(air_temperature: ArrayLike, riding_speed: ArrayLike) -> Floats:
    """Return the wind chill on a bare face at a riding speed [km/h], entered as 1.5 times it."""
    speed = require_non_negative("riding_speed", riding_speed)
    return wind_chill(air_temperature, FACE_TO_TEN_METRES * speed)


def wind_chill_extrapolated(air_temperature: ArrayLike, wind_speed: ArrayLike) -> np.ndarray:
    """Return True where the figure lies outside the published chart (-50..5 degC, 5..80 km/h)."""
    air = np.asarray(air_temperature, np.float64)
    speed = require_non_negative("wind_speed", wind_speed)
    by_speed = (speed >= _CHART_SLOWEST) & (speed <= _CHART_FASTEST)
    if not by_speed.any():  # most riding is faster than any wind of the chart
        return np.ones(np.broadcast_shapes(air.shape, speed.shape), np.bool_)
    return np.asarray(~((air >= _CHART_COLDEST) & (air <= _CHART_WARMEST) & by_speed))


def heat_index(air_temperature: ArrayLike, relative_humidity: ArrayLike) -> Floats:
    """Return the heat index of the US weather service, with both adjustments.

    Parameters
    ----------
    air_temperature : array_like
        [degC]
    relative_humidity : array_like
        [%]

    Returns
    -------
    ndarray
        Broadcast shape; the simple form where that averages below 80 degF with the air
        temperature, the regression above. [degC]

    References
    ----------
    L. P. Rothfusz, The heat index equation, NWS Southern Region SR 90-23 (1990), and the two
    adjustments of the Weather Prediction Center's page "The Heat Index Equation".
    """
    air = np.asarray(air_temperature, np.float64) * 1.8 + 32.0
    humidity = np.asarray(relative_humidity, np.float64)
    simple = 0.5 * (air + 61.0 + (air - 68.0) * 1.2 + humidity * 0.094)
    mild = (simple + air) / 2.0
    felt, hot = np.array(mild), ~(mild < _NOT_DEFINED_BELOW_F)
    if hot.any():  # or not known
        air, humidity = np.broadcast_arrays(air, humidity)
        felt[hot] = _rothfusz(air[hot], humidity[hot])
    return np.asarray((felt - 32.0) / 1.8)


def _rothfusz(air: Floats, humidity: Floats) -> Floats:
    """Return the regression with its adjustments; temperatures in degF."""
    felt = (
        -42.379
        + 2.04901523 * air
        + 10.14333127 * humidity
        - 0.22475541 * air * humidity
        - 6.83783e-3 * air**2
        - 5.481717e-2 * humidity**2
        + 1.22874e-3 * air**2 * humidity
        + 8.5282e-4 * air * humidity**2
        - 1.99e-6 * air**2 * humidity**2
    )
    dry = (humidity < 13.0) & (air >= 80.0) & (air <= 112.0)  # noqa: PLR2004 - the page's own
    root = np.sqrt(np.maximum(17.0 - np.abs(air - 95.0), 0.0) / 17.0)
    felt = felt - np.where(dry, (13.0 - humidity) / 4.0 * root, 0.0)
    damp = (humidity > 85.0) & (air >= 80.0) & (air <= 87.0)  # noqa: PLR2004 - the page's own
    return np.asarray(felt + np.where(damp, (humidity - 85.0) / 10.0 * (87.0 - air) / 5.0, 0.0))
