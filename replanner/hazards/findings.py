"""The worst hazard of a leg at each start: the record every reason is told from."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.model import CAUTION, Finding, Floats, Instants
from replanner.hazards.passage import Indices
from replanner.hazards.walk import Walked

# Below this nothing is worth telling.
_WORTH_A_WORD = 1.0
# What a known caution is ahead of an unknown one.
_TIE = 1e-9


def findings_of(walked: tuple[Walked, ...], severity: Floats) -> tuple[Finding | None, ...]:
    """Return the worst hazard of the worst piece for each start, of the first member.

    Parameters
    ----------
    severity : ndarray, shape (K, ..., S)
    """
    worst_piece = _first_member(severity).argmax(axis=0)
    found: list[Finding | None] = [None] * worst_piece.size
    for number in np.unique(worst_piece):
        for start in _told(walked[number], np.flatnonzero(worst_piece == number)):
            found[start[0]] = start[1]
    return tuple(found)


def _told(piece: Walked, starts: Indices) -> list[tuple[int, Finding]]:
    """Return the finding of a piece for each of the starts at which there is one to tell."""
    if not piece.judged:
        return []
    hazards = [hazard for each in piece.judged for hazard in each.hazards]
    limits = [limit for each in piece.judged for limit in each.limits]
    responses = _of_all(piece, piece.responses)
    unknown = _of_all(piece, [each.unknown for each in piece.judged])
    # the unknown is a caution, just under a known one
    ranked = np.where(unknown, np.maximum(responses, CAUTION - _TIE), responses)
    worst = ranked.argmax(axis=0)
    told = starts[ranked[worst[starts], starts] > _WORTH_A_WORD]
    number = worst[told]
    # one look at all starts at once: (hazard, start) pairs of the first member
    levels, values, minutes = (
        _of_all(piece, parts)[number, told]
        for parts in zip(
            *((each.level, each.value, each.minute) for each in piece.judged), strict=True
        )
    )
    response = responses[number, told]
    blind = unknown[number, told] & (response < CAUTION)
    hours = _instants(piece, minutes)
    passages = _instants(piece, _first_member(piece.enter[None])[0, told])
    return [
        (
            start,
            Finding(
                hazard=hazards[at].name,
                section=piece.scene.stretch.name,
                severity=CAUTION if is_blind else level_met,
                value=None if is_blind or not math.isfinite(value) else value,
                limit=None if is_blind else limits[at].threshold(max(level, CAUTION)),
                unit=limits[at].unit,
                hour=hour,
                passage=passage,
                unknown=is_blind,
            ),
        )
        for start, at, is_blind, level_met, level, value, hour, passage in zip(
            told.tolist(), number.tolist(), blind.tolist(), response.tolist(), levels.tolist(),
            values.tolist(), hours, passages, strict=True,
        )
    ]  # fmt: skip


def _instants(piece: Walked, minutes: Floats) -> Instants:
    seconds = np.round(minutes * 60.0).astype(np.int64).astype("timedelta64[s]")
    return np.asarray(piece.scene.hourly.time[0] + seconds)


def _of_all(piece: Walked, values: Sequence[NDArray[Any]]) -> NDArray[Any]:
    """Return what each hazard of a piece says to the first member: shape (Z, S).

    `values` holds an array of shape (Z, ..., U) for each of those judged together.
    """
    return np.concatenate(
        [
            _first_member(part)[:, _first_member(each.passage[None])[0]]
            for each, part in zip(piece.judged, values, strict=True)
        ]
    )


def _first_member(values: NDArray[Any]) -> NDArray[Any]:
    """Return the values of the first member: shape (X, ..., S) becomes (X, S)."""
    return values.reshape(values.shape[0], -1, values.shape[-1])[:, 0]
