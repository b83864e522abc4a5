"""What can be said for sure when part of the data is missing.

A hazard works out the level it has at least and at most; `settle` keeps what both agree on.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from replanner.hazards.model import CAUTION, Conditions, Floats


class Bounds(NamedTuple):
    """A figure that lies between two: equal where everything is known, one shape.

    Often nothing is missing, and both are one array: what is made of it is made once.
    """

    at_least: Floats
    at_most: Floats

    @property
    def known(self) -> bool:
        """True where nothing is missing and both are one array."""
        return self.at_most is self.at_least

    def each(self, worked_out: Callable[[Floats], Floats]) -> "Bounds":
        """Return what is worked out from either bound."""
        least = worked_out(self.at_least)
        return Bounds(least, least if self.known else worked_out(self.at_most))

    def with_other(
        self, other: "Bounds", worked_out: Callable[[Floats, Floats], Floats]
    ) -> "Bounds":
        """Return what is worked out from either bound of this and of another figure."""
        least = worked_out(self.at_least, other.at_least)
        if self.known and other.known:
            return Bounds(least, least)
        return Bounds(least, worked_out(self.at_most, other.at_most))

    def settled(self) -> Floats:
        """Return the level that is certain (`settle`), these being levels."""
        return self.at_least if self.known else settle(self.at_least, self.at_most)

    def certain(self, level: Callable[[Floats], Floats], at_least: Floats | None = None) -> Floats:
        """Return the level that is certain, worked out twice only where the bounds differ.

        `level` is asked about single figures, in any order. `at_least` is that of the lower bound
        where more than the figure lifts it; None: what `level` makes of it.
        """
        certain = level(self.at_least) if at_least is None else at_least
        if not self.known:
            differ = (self.at_least != self.at_most).nonzero()
            certain[differ] = settle(certain[differ], level(self.at_most[differ]))
        return certain


def filled(values: Floats, instead: float) -> Floats:
    """Return the values with the missing ones replaced; the very same where none is missing."""
    missing = np.isnan(values)
    return np.where(missing, instead, values) if missing.any() else values


def bounds_of(values: Floats, least: float = 0.0, most: float = np.inf) -> Bounds:
    """Return the bounds of a figure: where missing, the least and the most it can be."""
    missing = np.isnan(values)
    if not missing.any():
        return Bounds(values, values)
    return Bounds(np.where(missing, least, values), np.where(missing, most, values))


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
    amount = conditions.with_memory("precipitation_amount")
    back = int(hours) + 1
    missing = np.isnan(amount)
    total = _windowed(filled(amount, 0.0), back)
    gaps = _windowed(missing.astype(np.float64), back)
    early = np.arange(amount.shape[-1]) < back - 1
    # differences of running sums leave dust far below what any gauge tells
    at_least = np.maximum(np.round(total, 6), 0.0)
    at_most = np.where((gaps > 0) | early, np.inf, at_least)
    return Bounds(at_least[..., conditions.memory :], at_most[..., conditions.memory :])


def _windowed(values: Floats, back: int) -> Floats:
    """Return the sum of each value and the back - 1 before it, along the last axis."""
    pad = np.zeros((*values.shape[:-1], 1))
    running = np.concatenate([pad, np.cumsum(values, axis=-1)], axis=-1)
    start = np.maximum(np.arange(1, values.shape[-1] + 1) - back, 0)
    return np.asarray(running[..., 1:] - running[..., start])
