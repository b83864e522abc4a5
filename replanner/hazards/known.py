"""What can be said for sure when part of the data is missing.

A hazard works out the level it has at least and at most; `settle` keeps what both agree on.
"""

from typing import NamedTuple

import numpy as np

from replanner.hazards.model import CAUTION, Conditions, Floats


class Bounds(NamedTuple):
    """A figure that lies between two: equal where everything is known, one shape."""

    at_least: Floats
    at_most: Floats


def filled(values: Floats, instead: float) -> Floats:
    """Return the values with the missing ones replaced."""
    return np.where(np.isnan(values), instead, values)


def bounds_of(values: Floats) -> Bounds:
    """Return the bounds of a figure that is never negative: 0 to infinity where missing."""
    return Bounds(filled(values, 0.0), filled(values, np.inf))


def settle(at_least: Floats, at_most: Floats) -> Floats:
    """Return the level that is certain.

    Caution or worse counts as soon as it is the least that can be; below caution is only
    believed where nothing missing could lift it; anything between is unknown (NaN).
    """
    low = np.where(at_most < CAUTION, at_most, np.nan)
    return np.where(at_least >= CAUTION, at_least, low)


def rain_in_last(conditions: Conditions, hours: float) -> Bounds:
    """Return the precipitation of the hour at the index and the `hours` hours before it, in mm.

    Hours before the table begins are missing hours.
    """
    amount = conditions.column("precipitation_amount")
    back = int(hours) + 1
    missing = np.isnan(amount)
    total = _windowed(filled(amount, 0.0), back)
    gaps = _windowed(missing.astype(np.float64), back)
    early = np.arange(amount.shape[-1]) < back - 1
    # differences of running sums leave dust far below what any gauge tells
    at_least = np.maximum(np.round(total, 6), 0.0)
    return Bounds(at_least, np.where((gaps > 0) | early, np.inf, at_least))


def _windowed(values: Floats, back: int) -> Floats:
    """Return the sum of each value and the back - 1 before it, along the last axis."""
    pad = np.zeros((*values.shape[:-1], 1))
    running = np.concatenate([pad, np.cumsum(values, axis=-1)], axis=-1)
    start = np.maximum(np.arange(1, values.shape[-1] + 1) - back, 0)
    return np.asarray(running[..., 1:] - running[..., start])
