"""The worst hazard of a leg at each start: the record every reason is told from.

Most starts of most legs are never told of, so that findings are looked for when one is asked for.
"""

import math
from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import overload

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.model import CAUTION, Finding, Floats, Indices, Instants
from replanner.hazards.told import ToldPiece

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
    severity : ndarray, shape (K, S)
        Of each piece, for the first member.
    """

    def __init__(self, pieces: Sequence[ToldPiece], severity: Floats) -> None:
        self._worst_piece = severity.argmax(axis=0)
        self._pieces = tuple(pieces)

    @cached_property
    def _all(self) -> tuple[MaybeFinding, ...]:
        found: list[MaybeFinding] = [None] * len(self)
        for number in np.unique(self._worst_piece):
            starts = np.flatnonzero(self._worst_piece == number)
            for start, finding in _Told(self._pieces[number]).at(starts):
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
    """What is told of one piece."""

    def __init__(self, piece: ToldPiece) -> None:
        self._piece = piece
        self._judged = piece.judged()

    def at(self, starts: Indices) -> list[tuple[int, Finding]]:
        """Return the finding for each of the starts at which there is one to tell."""
        judged = self._judged
        if not judged.hazards:
            return []
        responses = np.stack(
            [
                self._piece.judging.response(hazard, level, self._piece.stand_in)
                for hazard, level in zip(judged.hazards, judged.level, strict=True)
            ]
        )
        unknown = judged.unknown
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
        judged = self._judged
        hazards, limits = judged.hazards, judged.limits
        # one look at all starts at once: (hazard, start) pairs
        levels, values, minutes, gaps = (
            each[number, starts] for each in (judged.level, judged.value, judged.minute, judged.gap)
        )
        is_blind = blind[number, starts]
        hours = self._instants(np.where(is_blind, gaps, minutes))
        passages = self._instants(self._piece.enter[starts])
        return [
            (
                start,
                Finding(
                    hazard=hazards[at].name,
                    section=self._piece.section,
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
        return np.asarray(self._piece.first_hour + seconds)
