"""The worst hazard of a leg at each start: the record every reason is told from."""

import numpy as np

from replanner.hazards.model import CAUTION, Finding, Floats
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


def _told(piece: Walked, starts: np.ndarray) -> list[tuple[int, Finding]]:
    """Return the finding of a piece for each of the starts at which there is one to tell."""
    if not piece.judged:
        return []
    responses = _first_member(piece.responses)
    unknown = _first_member(np.stack([one.unknown for one in piece.judged]))
    # the unknown is a caution, just under a known one
    ranked = np.where(unknown, np.maximum(responses, CAUTION - _TIE), responses)
    worst = ranked.argmax(axis=0)
    return [
        (int(start), _finding(piece, int(worst[start]), int(start)))
        for start in starts
        if ranked[worst[start], start] > _WORTH_A_WORD
    ]


def _finding(piece: Walked, number: int, start: int) -> Finding:
    one = piece.judged[number]
    first = (0,) * (one.level.ndim - 1)
    response = float(piece.responses[(number, *first, start)])
    unknown = bool(one.unknown[(*first, start)]) and response < CAUTION
    value = float(one.value[(*first, start)])
    level = float(one.level[(*first, start)])
    return Finding(
        hazard=one.hazard.name,
        section=piece.scene.stretch.name,
        severity=CAUTION if unknown else response,
        value=None if unknown or not np.isfinite(value) else value,
        limit=None if unknown else one.limit.threshold(max(level, CAUTION)),
        unit=one.limit.unit,
        hour=_instant(piece, float(one.minute[(*first, start)])),
        passage=_instant(piece, float(piece.enter[(*first, start)])),
        unknown=unknown,
    )


def _instant(piece: Walked, minutes: float) -> np.datetime64:
    seconds = np.timedelta64(round(minutes * 60.0), "s")
    return np.datetime64(piece.scene.hourly.time[0] + seconds)


def _first_member(values: Floats) -> Floats:
    """Return the values of the first member: shape (X, ..., S) becomes (X, S)."""
    return values.reshape(values.shape[0], -1, values.shape[-1])[:, 0]
