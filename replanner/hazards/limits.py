"""Limits: at which figure a hazard becomes caution, avoid, no-go, with where the figure is from.

A limit is piecewise linear through (clear, 0), (caution, 2), (avoid, 3), (no-go, 4). It may
rise (`caution < avoid`, e.g. gusts) or fall (e.g. visibility). Where avoid or no-go is not
given, the level never gets there from this figure alone.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

# From how many figures on it pays to look first which of them are beyond the clear one.
_MANY = 256

Thresholds = tuple[float | None, float | None, float | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit of `config/limits.toml`.

    Parameters
    ----------
    name : str
    unit : str
    clear : float
        The figure at which nothing is felt of it: level 0.
    caution, avoid, no_go : float or None
        The figures of level 2, 3 and 4; strictly monotone from `clear` on.
    source : str
        Published source, "common practice, no source", "from memory" or "assumption".
    """

    name: str
    unit: str
    clear: float
    caution: float | None
    avoid: float | None
    no_go: float | None
    source: str

    @property
    def rising(self) -> bool:
        """True where larger is worse."""
        known = [x for x in (self.caution, self.avoid, self.no_go) if x is not None]
        return not known or known[0] > self.clear

    def level(self, value: ArrayLike) -> NDArray[np.float64]:
        """Return the level 0..4 of each value, same shape; NaN stays NaN (unknown)."""
        rising, figures, levels = _curve(self)
        given = np.asarray(value, np.float64)
        signed = given if rising else -given
        if signed.size < _MANY:
            return np.asarray(np.interp(signed, figures, levels))
        # little of it is felt most often: only there, and where it is unknown, it is worked out
        flat, level = signed.ravel(), np.zeros(signed.size)
        felt = (~(flat <= figures[0])).nonzero()[0]
        level[felt] = np.interp(flat[felt], figures, levels)
        return level.reshape(signed.shape)

    def threshold(self, level: float) -> float | None:
        """Return the figure of the highest threshold at or below that level; None below 2."""
        reached: float | None = None
        for figure, at in ((self.caution, 2.0), (self.avoid, 3.0), (self.no_go, 4.0)):
            if figure is not None and level >= at:
                reached = figure
        return reached

    def tightened(self, own: Thresholds) -> "Limit":
        """Return the stricter of this limit and somebody's own thresholds, step by step."""
        pick = min if self.rising else max

        def stricter(default: float | None, mine: float | None) -> float | None:
            if default is None or mine is None:
                return default if mine is None else mine
            return pick(default, mine)

        pairs = zip((self.caution, self.avoid, self.no_go), own, strict=True)
        return self._with(*(stricter(default, mine) for default, mine in pairs))

    def shifted(self, by: float) -> "Limit":
        """Return the limit with every threshold moved by the same figure (clear stays)."""
        return self._with(*(None if step is None else step + by for step in self._steps))

    @property
    def _steps(self) -> Thresholds:
        return self.caution, self.avoid, self.no_go

    def _with(self, caution: float | None, avoid: float | None, no_go: float | None) -> "Limit":
        """Return the limit with other steps, a milder step never coming after a stricter one.

        Where a step passes `clear`, `clear` moves ahead of it by the distance it had before.
        """
        pick = min if self.rising else max
        steps: list[float | None] = []
        for step in (no_go, avoid, caution):
            ahead = [known for known in (step, *steps) if known is not None]
            steps.append(None if step is None else pick(ahead))
        first = [step for step in steps if step is not None]
        clear = self.clear
        if first and pick(first[-1], clear) == first[-1]:
            clear = first[-1] - self._margin()
        return replace(self, clear=clear, caution=steps[2], avoid=steps[1], no_go=steps[0])

    def _margin(self) -> float:
        """Return the signed distance from `clear` to the first step."""
        known = [step for step in (self.caution, self.avoid, self.no_go) if step is not None]
        return known[0] - self.clear if known else 1.0


@lru_cache(maxsize=1024)
def _curve(limit: Limit) -> tuple[bool, NDArray[np.float64], NDArray[np.float64]]:
    """Return whether figures rise with the level, figures signed so that they do, and levels."""
    steps = [(limit.clear, 0.0)]
    steps += [
        (figure, level)
        for figure, level in ((limit.caution, 2.0), (limit.avoid, 3.0), (limit.no_go, 4.0))
        if figure is not None
    ]
    figures, levels = np.array(steps, np.float64).T
    return limit.rising, figures.copy() if limit.rising else -figures, levels.copy()


@dataclass(frozen=True, slots=True)
class Limits:
    """All limits, and the plain figures (drying hours, factors, prices) beside them.

    `figures` holds single numbers by dotted name, e.g. ``"wet.lingers_hours"``.
    """

    limits: Mapping[str, Limit]
    figures: Mapping[str, float]

    def __getitem__(self, name: str) -> Limit:
        return self.limits[name]

    def figure(self, name: str) -> float:
        """Return a plain figure; raises KeyError naming it if `config/limits.toml` lacks it."""
        return self.figures[name]
