"""The worst hazard of a leg at each start: the record every reason is told from.

Most starts of most legs are never told of, so that findings are looked for when one is asked for.
"""

import math
from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import Any, overload

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.judged import Judged, first_member
from replanner.hazards.model import CAUTION, Finding, Floats, Instants
from replanner.hazards.passage import Indices
from replanner.hazards.walk import Walked

# Below this nothing is worth telling.
_WORTH_A_WORD = 1.0
# What a known caution is ahead of an unknown one.
_TIE = 1e-9

MaybeFinding = Finding | None


class Findings(Sequence[MaybeFinding]):
    """The worst hazard of the worst piece for each start, of the first member.

    A sequence as long as there are starts, None where nothing is above level 1; equal to any
    sequence of the same findings.

    Parameters
    ----------
    severity : ndarray, shape (K, ..., S)
        Of each piece walked.
    """

    def __init__(self, walked: tuple[Walked, ...], severity: Floats) -> None:
        self._worst_piece = first_member(severity).argmax(axis=0)
        self._pieces = tuple(_Told(piece) for piece in walked)

    @cached_property
    def _all(self) -> tuple[MaybeFinding, ...]:
        found: list[MaybeFinding] = [None] * len(self)
        for number in np.unique(self._worst_piece):
            starts = np.flatnonzero(self._worst_piece == number)
            for start, finding in self._pieces[number].at(starts):
                found[start] = finding
        return tuple(found)

    def __len__(self) -> int:
        return int(self._worst_piece.size)

    @overload
    def __getitem__(self, start: int) -> MaybeFinding: ...
    @overload
    def __getitem__(self, start: slice) -> tuple[MaybeFinding, ...]: ...
    def __getitem__(self, start: int | slice) -> MaybeFinding | tuple[MaybeFinding, ...]:
        return self._all[start]

    def __iter__(self) -> Iterator[MaybeFinding]:
        return iter(self._all)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and self._all == tuple(other)

    def __hash__(self) -> int:
        return hash(self._all)

    def __repr__(self) -> str:
        return f"Findings({self._all!r})"


class _Told:
    """What is told of one piece, all of the first member; it keeps no weather alive."""

    def __init__(self, piece: Walked) -> None:
        self._section = piece.scene.stretch.name
        self._first_hour = piece.scene.hourly.time[0]
        self._enter = first_member(piece.enter[None])[0].copy()
        self._judged = tuple(each.of_first_member() for each in piece.judged)
        self._responses = tuple(first_member(part).copy() for part in piece.responses)

    def at(self, starts: Indices) -> list[tuple[int, Finding]]:
        """Return the finding for each of the starts at which there is one to tell."""
        if not self._judged:
            return []
        responses = _of_all(self._judged, self._responses)
        unknown = _of_all(self._judged, [each.unknown for each in self._judged])
        # the unknown is a caution, just under a known one
        ranked = np.where(unknown, np.maximum(responses, CAUTION - _TIE), responses)
        worst = ranked.argmax(axis=0)
        told = starts[ranked[worst[starts], starts] > _WORTH_A_WORD]
        blind = unknown & (responses < CAUTION)
        # behind an unknown hazard the worst known one, behind a known one an unknown one
        behind = np.where(blind[worst, np.arange(worst.size)], np.where(blind, 0.0, responses),
                          np.where(blind, CAUTION, 0.0))  # fmt: skip
        second = behind.argmax(axis=0)
        both = told[behind[second[told], told] > _WORTH_A_WORD]
        also = dict(self._tell(both, second[both], responses, blind))
        return [
            (start, finding._replace(also=also.get(start)))
            for start, finding in self._tell(told, worst[told], responses, blind)
        ]

    def _tell(
        self, starts: Indices, number: Indices, responses: Floats, blind: NDArray[np.bool_]
    ) -> list[tuple[int, Finding]]:
        """Return what the hazards of those numbers say, one at each of the starts."""
        hazards = [hazard for each in self._judged for hazard in each.hazards]
        limits = [limit for each in self._judged for limit in each.limits]
        # one look at all starts at once: (hazard, start) pairs
        levels, values, minutes, gaps = (
            _of_all(self._judged, parts)[number, starts]
            for parts in zip(
                *((each.level, each.value, each.minute, each.gap) for each in self._judged),
                strict=True,
            )
        )
        is_blind = blind[number, starts]
        hours = self._instants(np.where(is_blind, gaps, minutes))
        passages = self._instants(self._enter[starts])
        return [
            (
                start,
                Finding(
                    hazard=hazards[at].name,
                    section=self._section,
                    severity=CAUTION if not_known else level_met,
                    value=None if not_known or not math.isfinite(value) else value,
                    limit=None if not_known else limits[at].threshold(max(level, CAUTION)),
                    unit=limits[at].unit,
                    hour=hour,
                    passage=passage,
                    unknown=not_known,
                ),
            )
            for start, at, not_known, level_met, level, value, hour, passage in zip(
                starts.tolist(), number.tolist(), is_blind.tolist(),
                responses[number, starts].tolist(), levels.tolist(), values.tolist(), hours,
                passages, strict=True,
            )
        ]  # fmt: skip

    def _instants(self, minutes: Floats) -> Instants:
        seconds = np.round(minutes * 60.0).astype(np.int64).astype("timedelta64[s]")
        return np.asarray(self._first_hour + seconds)


def _of_all(judged: Sequence[Judged], values: Sequence[NDArray[Any]]) -> NDArray[Any]:
    """Return what each hazard says at each start, shape (Z, S).

    `values` holds an array of shape (Z, U) for each of those judged together.
    """
    return np.concatenate(
        [part[:, each.passage] for each, part in zip(judged, values, strict=True)]
    )
