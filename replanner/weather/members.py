"""Estimated members: what else the weather could do, made from one forecast.

Neighbourhood method: a forecast is more often wrong about *when* and *how much* than about
*what*, so its neighbours are the same weather a little earlier, later, weaker, stronger. The
further ahead, the wider. They are estimates, to be told as such; a real ensemble is better.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from replanner.weather.hourly import PointHours

Floats = NDArray[np.float64]


class _Neighbour(NamedTuple):
    """How far one member lies from the forecast, as parts of the full spread, -1..1."""

    later: float
    stronger: float


# All figures are assumptions, no source. The pairs are spread evenly over "earlier or later" and
# "weaker or stronger", so that the median member is near the forecast itself.
_NEIGHBOURS = (
    _Neighbour(0.0, 0.0),
    _Neighbour(-1.0, 0.0),
    _Neighbour(1.0, 0.0),
    _Neighbour(0.0, -1.0),
    _Neighbour(0.0, 1.0),
    _Neighbour(-0.5, 0.5),
    _Neighbour(0.5, 0.5),
    _Neighbour(-0.5, -0.5),
    _Neighbour(0.5, -0.5),
    _Neighbour(-0.5, 0.0),
    _Neighbour(0.5, 0.0),
)
# No shift at once: the hazards already count the worst of the hours beside a passage.
HOURS_AT_ONCE, HOURS_PER_DAY_AHEAD, MOST_HOURS = 0.0, 1.0, 4.0
GUST_SHARE_AT_ONCE, GUST_SHARE_PER_DAY_AHEAD, MOST_GUST_SHARE = 0.10, 0.05, 0.35
RAIN_SHARE_AT_ONCE, RAIN_SHARE_PER_DAY_AHEAD, MOST_RAIN_SHARE = 0.30, 0.15, 0.80

# What moves in time together: a front brings its wind, rain, cloud and fog at one time.
_SHIFTED = (
    "wind_speed",
    "wind_from_direction",
    "wind_speed_of_gust",
    "precipitation_amount",
    "precipitation_probability",
    "visibility_in_air",
    "cloud_area_fraction",
    "weather_code",
    "atmosphere_convective_available_potential_energy",
)


class Spread(NamedTuple):
    """How wide the members lie at a lead time: shift [h], and shares of gust and rain."""

    shift_hours: float
    gust_share: float
    rain_share: float


def spread_at(lead_hours: float) -> Spread:
    """Return how wide the members lie; never narrower with longer lead.

    Raises
    ------
    ValueError
        If the lead is negative or not a number.
    """
    if not lead_hours >= 0:
        raise ValueError(f"lead_hours must not be negative, got {lead_hours}")
    days = lead_hours / 24.0
    return Spread(
        min(HOURS_AT_ONCE + HOURS_PER_DAY_AHEAD * days, MOST_HOURS),
        min(GUST_SHARE_AT_ONCE + GUST_SHARE_PER_DAY_AHEAD * days, MOST_GUST_SHARE),
        min(RAIN_SHARE_AT_ONCE + RAIN_SHARE_PER_DAY_AHEAD * days, MOST_RAIN_SHARE),
    )


def neighbours(hours: PointHours, lead_hours: float) -> PointHours:
    """Return one forecast as estimated members.

    Parameters
    ----------
    hours : PointHours
        Columns of shape (N,).
    lead_hours : float
        From the time of asking to the hours that matter, at least 0. [h]

    Returns
    -------
    PointHours
        Columns of shape (M, N); member 0 is the forecast itself. An hour the forecast does not
        know is unknown in every member; so is one whose shifted weather it does not know.

    Raises
    ------
    ValueError
        If the lead is negative or the columns already hold members.
    """
    spread = spread_at(lead_hours)
    for name, column in hours.columns.items():
        if column.ndim != 1:
            raise ValueError(f"column {name} already holds members, shape {column.shape}")
    stronger = np.array([neighbour.stronger for neighbour in _NEIGHBOURS])
    shares = {
        "wind_speed": spread.gust_share,
        "wind_speed_of_gust": spread.gust_share,
        "precipitation_amount": spread.rain_share,
    }
    at = _shifted_hours(hours.time.size, spread)
    columns = {}
    for name, column in hours.columns.items():
        members = _moved(column, at) if name in _SHIFTED else np.tile(column, (len(at), 1))
        if name in shares:
            members = members * (1.0 + stronger * shares[name])[:, None]
        columns[name] = members
    return PointHours(hours.time, columns)


def _shifted_hours(count: int, spread: Spread) -> NDArray[np.int64]:
    """Return from which hour each member takes each of its hours, shape (M, N).

    The ends keep what is known nearest to them.
    """
    shifts = [round(neighbour.later * spread.shift_hours) for neighbour in _NEIGHBOURS]
    hours = np.arange(count) - np.array(shifts)[:, None]
    return np.asarray(np.clip(hours, 0, max(count - 1, 0)), np.int64)


def _moved(column: Floats, at: NDArray[np.int64]) -> Floats:
    """Return a column as each member has it; an hour unknown in the forecast stays unknown.

    A neighbour knows no more than the forecast does.
    """
    moved = column[at]
    moved[:, np.isnan(column)] = np.nan
    return np.asarray(moved)
