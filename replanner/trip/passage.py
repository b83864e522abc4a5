"""When a leg ridden from each of many starts passes each of its points.

Instants are UTC without a zone (datetime64[s]) so that they can be worked on in arrays.
Fractions here run in the way ridden: 0 is where the ride begins, whichever end that is.
"""

from dataclasses import dataclass, replace
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from replanner.clock import require_aware
from replanner.trip.model import Way
from replanner.units import Floats

Instants = NDArray[np.datetime64]


def instant64(moment: datetime) -> np.datetime64:
    """Return an aware moment as datetime64[s], UTC. Raises ValueError without a zone."""
    return np.datetime64(require_aware("moment", moment).replace(tzinfo=None), "s")


def moment_of(instant: np.datetime64) -> datetime:
    """Return a datetime64, UTC, as an aware datetime."""
    naive: datetime = instant.astype("datetime64[s]").item()
    return naive.replace(tzinfo=UTC)


def later(instants: Instants, minutes: Floats) -> Instants:
    """Return the instants moved by minutes, begun seconds counted whole."""
    seconds = np.ceil(np.round(np.asarray(minutes, dtype=np.float64) * 60.0, 3))
    return np.asarray(instants + seconds.astype("timedelta64[s]"))


def in_way(fraction: float, way: Way) -> float:
    """Return a fraction told in the forward way as met in the way ridden."""
    return fraction if way is Way.FORWARD else 1.0 - fraction


@dataclass(frozen=True, slots=True)
class Delay:
    """Minutes spent at a fraction of the way ridden, for each start; shape (S,)."""

    fraction: float
    minutes: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """One leg ridden one way from each of many starts.

    Parameters
    ----------
    starts : ndarray of datetime64[s], shape (S,)
    fractions : ndarray, shape (K + 1,)
        Where its pieces begin and end, from 0 to 1 in the way ridden.
    piece_minutes : ndarray, shape (K, S)
        Riding minutes of each piece. [min]
    delays : tuple of Delay
        Halts, and minutes lost at a point.
    """

    way: Way
    starts: Instants
    fractions: Floats
    piece_minutes: Floats
    delays: tuple[Delay, ...] = ()

    def minutes_to(self, fraction: float, *, leaving: bool = False) -> Floats:
        """Return minutes from the start to reaching a fraction, or to leaving it; shape (S,)."""
        minutes = np.zeros(self.starts.shape)
        for first, last, riding in zip(
            self.fractions[:-1], self.fractions[1:], self.piece_minutes, strict=True
        ):
            if fraction >= last:
                minutes = minutes + riding
            elif fraction > first:
                minutes = minutes + riding * (fraction - first) / (last - first)
        for delay in self.delays:
            if delay.fraction < fraction or (leaving and delay.fraction == fraction):
                minutes = minutes + delay.minutes
        return minutes

    def reaching(self, fraction: float) -> Instants:
        """Return the instants of reaching a fraction, shape (S,)."""
        return later(self.starts, self.minutes_to(fraction))

    def leaving(self, fraction: float) -> Instants:
        """Return the instants of leaving a fraction, halts there done, shape (S,)."""
        return later(self.starts, self.minutes_to(fraction, leaving=True))

    @property
    def minutes(self) -> Floats:
        """Minutes from the start to the end of the leg, everything counted; shape (S,)."""
        return self.minutes_to(1.0, leaving=True)

    @property
    def ends(self) -> Instants:
        """The instants of being at its end, shape (S,)."""
        return later(self.starts, self.minutes)

    def course(self, number: int) -> tuple[tuple[float, datetime], ...]:
        """Return where the riders are when, from one start: points of the way, in order.

        Between two points they ride evenly; at one told twice they stand still.
        """
        at = sorted({0.0, 1.0, *self.fractions.tolist(), *(one.fraction for one in self.delays)})
        points = [
            (fraction, moment_of(moments[number]))
            for fraction in at
            for moments in (self.reaching(fraction), self.leaving(fraction))
        ]
        return tuple(dict.fromkeys(points))

    def delayed(self, fraction: float, minutes: Floats) -> "Passage":
        """Return the passage with minutes lost at a point."""
        return replace(self, delays=(*self.delays, Delay(fraction, minutes)))

    def slowed(self, minutes: Floats) -> "Passage":
        """Return the passage with minutes lost evenly along the leg; shape (S,)."""
        shares = np.diff(self.fractions)[:, None]
        return replace(self, piece_minutes=self.piece_minutes + shares * minutes)
