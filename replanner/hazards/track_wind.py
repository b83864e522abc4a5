"""Wind seen from the saddle: the part that comes from ahead and the part from the side.

All directions are degrees clockwise from true north. A wind is named by where it comes from (as
WMO and the CF names do), a track by where it leads. Ahead of the rider counts as positive
headwind, from the right as positive crosswind. A missing value gives a missing result.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from replanner.hazards.model import Floats
from replanner.units import require_non_negative


class TrackWind(NamedTuple):
    """Headwind and crosswind on a track, one shape, in m/s."""

    headwind: Floats
    crosswind: Floats


def resolve_on_track(speed: ArrayLike, from_direction: ArrayLike, track: ArrayLike) -> TrackWind:
    """Split a wind into its parts along and across a track.

    Parameters
    ----------
    speed : array_like, shape S1
        Mean wind or gust. [m/s]
    from_direction, track : array_like, shapes S2 and S3
        Any multiple of 360 may be added. [deg]

    Returns
    -------
    TrackWind
        Shape ``broadcast(S1, S2, S3)``. [m/s]

    Raises
    ------
    ValueError
        If a speed is negative or the shapes do not broadcast.

    References
    ----------
    Crosswind is V sin(angle), headwind V cos(angle): crosswind component chart of FAA-H-8083-3.

    Examples
    --------
    >>> round(float(resolve_on_track(10.0, 270.0, 0.0).crosswind), 6)
    -10.0
    """
    speed = require_non_negative("speed", speed)
    angle = np.radians(np.subtract(from_direction, track))
    return TrackWind(np.asarray(speed * np.cos(angle)), np.asarray(speed * np.sin(angle)))


def off_nearest(directions: Floats, marks: Floats, period: float) -> Floats:
    """Return the angle between each direction and the mark nearest to it.

    Parameters
    ----------
    directions : ndarray, shape (...)
        NaN gives NaN. [deg]
    marks : ndarray, shape (H,)
        At least one. [deg]
    period : float
        After how much both begin again. [deg]

    Returns
    -------
    ndarray, shape (...)
        0 to half a period. [deg]
    """
    rising = np.sort(marks % period)
    around = np.concatenate([rising[-1:] - period, rising, rising[:1] + period])
    within = directions - period * np.floor(directions / period)
    next_to = np.searchsorted(rising, within)
    before, after = around.take(next_to), around.take(next_to + 1)
    return np.asarray(np.minimum(within - before, after - within))
