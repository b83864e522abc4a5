"""What the hours round a passage say of a piece: worked out for every passage there may be.

To hazards of the hour a passage is the hour in which it begins, how many hours later it ends, and
whether a stand-in can be ridden instead. There are few of these, however many starts and members
share them: each is judged once, and the starts take it from a table.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from math import prod
from typing import Any

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.combine import two_worst
from replanner.hazards.judging import Judging
from replanner.hazards.model import Booleans, Floats, Hazard, Indices, Kind, Reading


class PassageHours:
    """The hours of some passages, U of them: from the hour before each to the hour after it.

    Parameters
    ----------
    first, last : ndarray of int, shape (U,)
        The hours in which each begins and ends, as indices of a table; the first is at least 1.
    """

    def __init__(self, first: Indices, last: Indices) -> None:
        self._before, self._lasts = first - 1, last - first
        self._begin, end = int(self._before.min()), int(self._before.max())
        self.count = end - self._begin + 1
        self._shortest, self._longest = int(self._lasts.min()), int(self._lasts.max())
        self.lengths = self._longest - self._shortest + 1

    def that_count(self, hourly: NDArray[Any]) -> NDArray[Any]:
        """Return the hours of a table that count; the table may end before them."""
        return hourly[..., self._begin : self._begin + self._span]

    def outside(self, shape: tuple[int, ...], *, fill: float | bool) -> NDArray[Any]:
        """Return the hours that count as they are outside the table, shape + (span,)."""
        return np.full((*shape, self._span), fill)

    @property
    def _span(self) -> int:
        return self.count + self._longest + 2

    def worst(self, hourly: NDArray[Any]) -> NDArray[Any]:
        """Return the worst hour of every passage there may be.

        Parameters
        ----------
        hourly : ndarray of float or bool, shape (..., span)

        Returns
        -------
        ndarray, shape (lengths, ..., count)
        """
        found = np.empty((self.lengths, *hourly.shape[:-1], self.count), hourly.dtype)
        worst = found[0]
        worst[...] = hourly[..., : self.count]
        for hour in range(1, self._shortest + 3):
            np.maximum(worst, hourly[..., hour : hour + self.count], out=worst)
        for number in range(1, self.lengths):
            hour = self._shortest + 2 + number
            np.maximum(worst, hourly[..., hour : hour + self.count], out=found[number])
            worst = found[number]
        return found

    def hold_throughout(self, holds: Booleans, members: tuple[int, ...]) -> tuple[int, Booleans]:
        """Return how many rows there are, and a flat table of where something holds in all hours.

        `holds` has the shape (N,) or members + (N,); outside the table nothing holds.
        """
        rows = members if holds.ndim > 1 else ()
        inside = self.that_count(holds)
        fails = self.outside(rows, fill=True)
        fails[..., : inside.shape[-1]] = ~inside
        return prod(rows), ~self.worst(fails).ravel()

    def places(self, members: int, variant: Booleans | None = None, variants: int = 1) -> Indices:
        """Return where each passage stands in a flat table (lengths, variants, members, count).

        That is for the first member; the others stand `count` on from each other. `variant` is
        that of each passage; None: the first.
        """
        row = (self._lasts - self._shortest) * variants
        if variant is not None:
            row = row + variant
        return np.asarray(row * (members * self.count) + (self._before - self._begin))


@dataclass(frozen=True, slots=True, kw_only=True)
class HourTables:
    """What the hazards of the hour say of every passage there may be.

    Each table is flat, (lengths, variants, members, count); the second variant, where there is
    one, holds where a stand-in can be ridden.

    Parameters
    ----------
    members : int
        1 where all members have the same weather.
    severity : ndarray
        The severity of the piece if no hazard of the minute says anything.
    worst, second : ndarray
        The responses of the two worst kinds, those kept `apart` left out.
    unknown : ndarray of bool
    apart : dict of Kind to ndarray
        The response of each of these kinds.
    """

    members: int
    severity: Floats
    worst: Floats
    second: Floats
    unknown: Booleans
    apart: dict[Kind, Floats]


def hour_tables(
    judging: Judging,
    readings: Sequence[tuple[Hazard, Reading]],
    hours: PassageHours,
    members: tuple[int, ...],
    variants: int,
    apart: frozenset[Kind],
) -> HourTables:
    """Judge hazards of the hour; where there are none, nothing is bad.

    Parameters
    ----------
    readings : sequence of (Hazard, Reading)
        Levels of shape (N,) or members + (N,), along the hours `hours` counts by.
    variants : int
        1: nowhere is there a stand-in that can be ridden; 2: at some starts there is.
    apart : frozenset of Kind
        Kinds that hazards of the minute may have as well.
    """
    if not readings:
        nothing = np.zeros(variants * hours.lengths * hours.count)
        known = np.zeros(nothing.shape, np.bool_)
        return HourTables(
            members=1, severity=nothing, worst=nothing, second=nothing, unknown=known, apart={}
        )
    levels = [hours.that_count(reading.level) for _, reading in readings]
    seen = reduce(np.maximum, levels)  # NaN where any is missing
    given = seen.shape[-1]
    rows = members if seen.ndim > 1 else ()
    missing = hours.outside(rows, fill=True)
    missing[..., :given] = np.isnan(seen)
    responses = _by_kind(judging, [hazard for hazard, _ in readings], levels, variants)
    hourly = hours.outside((len(responses), variants, *rows), fill=0.0)
    for number, by_variant in enumerate(responses.values()):
        for variant, response in enumerate(by_variant):
            hourly[number, variant, ..., :given] = response
    if missing[..., :given].any():
        hourly[np.isnan(hourly)] = 0.0
    worst_hours = hours.worst(hourly)
    tables = {kind: worst_hours[:, number] for number, kind in enumerate(responses)}
    unknown = hours.worst(missing)[:, None]
    if variants > 1:
        unknown = np.repeat(unknown, variants, axis=1)
    joined = [table for kind, table in tables.items() if kind not in apart]
    worst, second = two_worst(joined or [np.zeros(unknown.shape)])
    of_all = two_worst(list(tables.values())) if apart & tables.keys() else (worst, second)
    return HourTables(
        members=prod(rows),
        severity=judging.severity(*of_all, unknown).ravel(),
        worst=worst.ravel(),
        second=second.ravel(),
        unknown=unknown.ravel(),
        apart={kind: table.ravel() for kind, table in tables.items() if kind in apart},
    )


def _by_kind(
    judging: Judging, hazards: Sequence[Hazard], levels: Sequence[Floats], variants: int
) -> dict[Kind, list[Floats]]:
    """Return the worst response of each kind in each variant, NaN where nothing is known of it."""
    taken_alike: dict[tuple[Kind, bool, float], tuple[Hazard, Floats]] = {}
    for hazard, level in zip(hazards, levels, strict=True):
        key = hazard.kind, *judging.taken_like(hazard)
        if key in taken_alike:
            taken_alike[key] = hazard, np.fmax(taken_alike[key][1], level)
        else:
            taken_alike[key] = hazard, level
    found: dict[Kind, list[Floats]] = {}
    for hazard, level in taken_alike.values():
        responses = [
            judging.response(hazard, level, np.asarray(variant > 0)) for variant in range(variants)
        ]
        if hazard.kind in found:
            responses = [np.fmax(*pair) for pair in zip(found[hazard.kind], responses, strict=True)]
        found[hazard.kind] = responses
    return found
