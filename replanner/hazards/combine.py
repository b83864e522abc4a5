"""How the hazards of one section make its severity.

First the elementary table: a level on a sheltered, an open or an exposed road gives a response.
Then danger signs add up: two cautions of different kinds on one section make avoid, two avoids
make no-go (common practice, no source). Every finer rule can only be stricter. What is unknown
counts as one plain caution, and never takes part in the adding up.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.model import AVOID, CAUTION, NO_GO, Floats, Hazard, Kind, Party
from replanner.trip.model import Exposure

# Response to level 0, 2, 3, 4. Sheltered: caution is ridden, worth a word; avoid is ridden slower.
# Exposed: avoid asks for the stand-in, so where one can be ridden the leg itself is out.
# The reduction idea is that of the elementary tables used against avalanche accidents.
_LEVELS = (0.0, CAUTION, AVOID, NO_GO)
_TABLE = {
    Exposure.SHELTERED: (0.0, 1.5, CAUTION, NO_GO),
    Exposure.OPEN: _LEVELS,
    Exposure.EXPOSED: (0.0, CAUTION, 3.5, NO_GO),
}
_EXPOSED_WITH_STAND_IN = (0.0, CAUTION, NO_GO, NO_GO)


def respond(
    level: Floats, exposure: Exposure, *, shelter_helps: bool, stand_in: NDArray[np.bool_]
) -> Floats:
    """Return the response to a level, by how open the section lies.

    Parameters
    ----------
    level : ndarray, shape (..., S)
        0..4; NaN stays NaN.
    shelter_helps : bool
        False: the level stands wherever it is met.
    stand_in : ndarray of bool, broadcastable to level
        Where the leg has a stand-in that can be ridden.
    """
    if not shelter_helps or exposure is Exposure.OPEN:
        return level
    plain = np.interp(level, _LEVELS, _TABLE[exposure])
    if exposure is not Exposure.EXPOSED or not stand_in.any():
        return np.asarray(plain)
    return np.where(stand_in, np.interp(level, _LEVELS, _EXPOSED_WITH_STAND_IN), plain)


def stricter_for(party: Party, hazard: Hazard, level: Floats) -> Floats:
    """Return the level with what the party's profile adds, where the hazard is present at all.

    The addition grows from nothing at level 1 to the whole of it at level 2, so that a trace of
    a hazard does not jump to caution. Classes by which the whole day is stricter come on top.
    """
    return lifted(level, added_for(party, hazard))


def added_for(party: Party, hazard: Hazard) -> float:
    """Return the levels a party adds to a hazard."""
    added = party.added_levels or {}
    profile = max(added.get(hazard.name, 0.0), added.get(hazard.kind.value, 0.0))
    return profile + party.stricter


def lifted(level: Floats, by: float) -> Floats:
    """Return the level raised by up to `by`, at most to no-go; NaN stays NaN."""
    if by == 0.0:
        return level
    return np.minimum(level + by * np.clip(level - 1.0, 0.0, 1.0), NO_GO)


def add_up(responses: Floats, kinds: Sequence[Kind]) -> Floats:
    """Return the severity of a section from the responses of its hazards.

    Parameters
    ----------
    responses : ndarray, shape (Z, ..., S)
        One per hazard, 0 where nothing is known of it.
    kinds : sequence of Kind, length Z

    Returns
    -------
    ndarray, shape (..., S)
    """
    return added_up(*two_worst(tuple(worst_by_kind(responses, kinds).values())))


def two_worst(by_kind: Sequence[Floats]) -> tuple[Floats, Floats]:
    """Return the worst and the second worst of at least one response, which are never negative."""
    worst = by_kind[0]
    second = np.zeros(worst.shape)
    for response in by_kind[1:]:
        worst, second = joined_by(response, worst, second)
    return worst, second


def joined_by(response: Floats, worst: Floats, second: Floats) -> tuple[Floats, Floats]:
    """Return the two worst when one more kind has its say."""
    return np.maximum(worst, response), np.maximum(second, np.minimum(worst, response))


def added_up(worst: Floats, second: Floats) -> Floats:
    """Return what the two worst kinds make together: the rest could add nothing."""
    severity = np.where(second >= CAUTION, np.maximum(worst, AVOID), worst)
    return np.where(second >= AVOID, NO_GO, severity)


def worst_by_kind(responses: Floats, kinds: Sequence[Kind]) -> dict[Kind, Floats]:
    """Return the worst response of each kind, shape (..., S), from those of hazards (Z, ..., S)."""
    found: dict[Kind, Floats] = {}
    for kind, response in zip(kinds, responses, strict=True):
        found[kind] = np.maximum(found[kind], response) if kind in found else response
    return found


def section_severity(
    responses: Floats,
    unknown: NDArray[np.bool_],
    kinds: Sequence[Kind],
    *,
    exposure: Exposure,
    party: Party,
) -> Floats:
    """Return the severity of a section, the unknown and the newest rider counted.

    A newer rider on an exposed section with a caution is avoid (common practice, no source). On
    a stricter day the unknown is avoid at most: nobody knows that it is no-go.
    """
    if not kinds:
        return np.zeros(responses.shape[1:])
    by_kind = tuple(worst_by_kind(responses, kinds).values())
    return severity_of(
        *two_worst(by_kind), np.asarray(unknown.any(axis=0)), exposure=exposure, party=party
    )


def severity_of(
    worst: Floats,
    second: Floats,
    unknown: NDArray[np.bool_],
    *,
    exposure: Exposure,
    party: Party,
) -> Floats:
    """Return the same from the two worst kinds, all of one shape."""
    severity = added_up(worst, second)
    if party.newer_rider and exposure is Exposure.EXPOSED:
        severity = np.where(severity >= CAUTION, np.maximum(severity, AVOID), severity)
    blind = min(CAUTION + party.stricter, AVOID)
    return np.where(unknown, np.maximum(severity, blind), severity)
