"""From hourly weather to the severity of each leg at each start."""

from dataclasses import dataclass

from replanner.hazards.model import Finding, Floats, Instants
from replanner.trip.model import LegId, Way


@dataclass(frozen=True, slots=True, kw_only=True)
class LegAssessment:
    """What riding a leg one way means, for each start.

    Parameters
    ----------
    starts : ndarray of datetime64[s], shape (S,)
        Starts asked for, UTC.
    piece_names : tuple of str, length K
    piece_minutes : ndarray, shape (K, ..., S)
        Riding minutes of each piece, slowed by weather, halts not counted. [min]
    piece_severity : ndarray, shape (K, ..., S)
        0..4 after the elementary table and the adding up; unknown counts as caution here.
    severity : ndarray, shape (..., S)
        The worst over pieces.
    halt_fits : ndarray of bool, shape (H, ..., S)
        Whether each halt of the leg has the light, wind and rain it needs at that hour; True for
        halts without needs.
    findings : tuple of Finding or None, length S
        The worst hazard for each start (first member); None where nothing is above level 1.
    unknown : tuple of str
        Hazards that could not be judged for any start, for want of data.
    """

    leg: LegId
    way: Way
    starts: Instants
    piece_names: tuple[str, ...]
    piece_minutes: Floats
    piece_severity: Floats
    severity: Floats
    halt_fits: Floats
    findings: tuple[Finding | None, ...]
    unknown: tuple[str, ...]
