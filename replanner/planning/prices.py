"""What starting a leg at each hour is worth: its own worth less the price of what it meets."""

import numpy as np

from replanner.hazards.assess import LegAssessment
from replanner.hazards.model import AVOID, CAUTION, NO_GO, Floats
from replanner.planning.rules import Rules
from replanner.trip.spans import Flags

LEVELS = (1.0, 2.0, 3.0, 4.0)
"""The levels that `Rules.level_prices` prices."""


def minute_price(severity: Floats, rules: Rules) -> Floats:
    """Return the price of a minute ridden at each severity, same shape; unknown is caution."""
    known = np.where(np.isnan(severity), CAUTION, severity)
    return np.asarray(np.interp(known, LEVELS, rules.level_prices))


def hazard_price(assessed: LegAssessment, avoid: Flags, rules: Rules) -> Floats:
    """Return the price of the hazards met from each start, the mean over members, (S,). [min]."""
    return np.asarray(hazard_price_by_member(assessed, avoid, rules).mean(axis=0))


def hazard_price_by_member(assessed: LegAssessment, avoid: Flags, rules: Rules) -> Floats:
    """Return the price of the hazards that each member meets from each start. [min].

    What is lacking of the minutes wanted in hand before the leg is no-go has its price too: all of
    them where it is no-go already.

    Parameters
    ----------
    assessed : LegAssessment
        Pieces by (members by) starts.
    avoid : ndarray of bool, shape (K, S)
        Pieces that a window says are better not ridden then: priced as avoid at least.

    Returns
    -------
    ndarray, shape (M, S)
        One member where there is no axis of them.
    """
    pieces, starts = assessed.piece_severity.shape[0], assessed.starts.size
    severity = assessed.piece_severity.reshape(pieces, -1, starts)
    severity = np.where(np.isnan(severity), CAUTION, severity)
    severity = np.maximum(severity, np.where(avoid, AVOID, 0.0)[:, None, :])
    minutes = assessed.piece_minutes.reshape(pieces, -1, starts)
    price = (minutes * minute_price(severity, rules)).sum(axis=0)
    no_go = assessed.severity.reshape(-1, starts) >= NO_GO
    in_hand = np.where(no_go, 0.0, minutes_before(no_go, rules.slot_minutes))
    lacking = np.maximum(rules.wanted_margin_minutes - in_hand, 0.0)
    return np.asarray(price + rules.margin_cost * lacking)


def minutes_before(forbidden: Flags, slot_minutes: int) -> Floats:
    """Return by how much each start can be put off before the next that is forbidden. [min].

    Parameters
    ----------
    forbidden : ndarray of bool, shape (..., S)
        One start a slot.

    Returns
    -------
    ndarray, shape (..., S)
        Whole slots; inf where none later is forbidden.
    """
    starts = np.arange(forbidden.shape[-1])
    here = np.where(forbidden, starts, np.inf)
    after = np.append(here[..., 1:], np.full((*here.shape[:-1], 1), np.inf), axis=-1)
    following = np.minimum.accumulate(after[..., ::-1], axis=-1)[..., ::-1]
    return np.asarray((following - starts - 1) * slot_minutes)


def no_go_share(assessed: LegAssessment) -> Floats:
    """Return the share of members in which each start is no-go, shape (S,)."""
    severity = assessed.severity.reshape(-1, assessed.starts.size)
    return np.asarray((severity >= NO_GO).mean(axis=0))


def too_often(share: Floats, rules: Rules) -> Flags:
    """Return where a share of members is more than may be no-go; 1 allows all but certainty."""
    limit = rules.no_go_share
    return np.asarray(share >= 1.0 if limit >= 1.0 else share > limit)


def cautious_minutes(assessed: LegAssessment, rules: Rules) -> Floats:
    """Return the riding minutes of each piece the plan reckons with, shape (K, S). [min].

    Raises
    ------
    ValueError
        If a riding time is missing or negative: nothing can be planned on it.
    """
    pieces, starts = assessed.piece_minutes.shape[0], assessed.starts.size
    minutes = assessed.piece_minutes.reshape(pieces, -1, starts)
    if not np.all(minutes >= 0) or not np.all(np.isfinite(minutes)):
        raise ValueError(f"leg {assessed.leg}: riding minutes must be known and not negative")
    if minutes.shape[1] == 1:
        return np.asarray(minutes[:, 0, :])
    return np.asarray(np.quantile(minutes, rules.riding_quantile, axis=1))


def halt_gain(assessed: LegAssessment, halt: int, worth: float, minutes: float) -> Floats:
    """Return what taking an optional halt gains at each start, shape (S,). [min].

    Its worth counts in the share of members in which it has the light, wind and rain it needs.
    """
    fits = assessed.halt_fits[halt].reshape(-1, assessed.starts.size)
    return np.asarray(worth * fits.mean(axis=0) - minutes)
