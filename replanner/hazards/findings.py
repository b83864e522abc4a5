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
    first = (0,) * (severity.ndim - 2)
    worst_piece = _first_member(severity).argmax(axis=0)
    ranked = [_ranked(piece, first) for piece in walked]
    return tuple(
        _finding(walked[piece], ranked[piece], first, start)
        for start, piece in enumerate(worst_piece)
    )


def _ranked(piece: Walked, first: tuple[int, ...]) -> Floats:
    """Return what each hazard weighs, shape (Z, S); unknown counts just under a known caution."""
    responses = _first_member(piece.responses)
    unknown = np.array([one.unknown[first] for one in piece.judged]).reshape(responses.shape)
    return np.where(unknown, np.maximum(responses, CAUTION - _TIE), responses)


def _finding(piece: Walked, ranked: Floats, first: tuple[int, ...], start: int) -> Finding | None:
    if ranked.shape[0] == 0:
        return None
    at = int(ranked[:, start].argmax())
    if ranked[at, start] <= _WORTH_A_WORD:
        return None
    one = piece.judged[at]
    index = (*first, start)
    response = float(piece.responses[(at, *index)])
    unknown = bool(one.unknown[index]) and response < CAUTION
    epoch = piece.scene.hourly.time[0]
    value = float(one.value[index])
    return Finding(
        hazard=one.hazard.name,
        section=piece.scene.stretch.name,
        severity=CAUTION if unknown else response,
        value=None if unknown or not np.isfinite(value) else value,
        limit=None if unknown else one.limit.threshold(max(float(one.level[index]), CAUTION)),
        unit=one.limit.unit,
        hour=_instant(epoch, float(one.minute[index])),
        passage=_instant(epoch, float(piece.enter[index])),
        unknown=unknown,
    )


def _instant(epoch: np.datetime64, minutes: float) -> np.datetime64:
    return epoch + np.timedelta64(round(minutes * 60.0), "s")


def _first_member(values: Floats) -> Floats:
    """Return the values of the first member: shape (X, ..., S) becomes (X, S)."""
    return values.reshape(values.shape[0], -1, values.shape[-1])[:, 0]
