"""How sure a plan may be called, by the members in which it holds and how far ahead it is.

Members agree with each other more than with the weather that comes: told as they are, their
shares are too sure, the more so the further ahead. Estimated members are one forecast, a little
earlier, later, weaker, stronger. Days ahead the forecast itself is more often wrong than any of
them tells, so that a calm forecast would make every far day sound sure.
"""

import math
from datetime import timedelta

from replanner.advice.briefing import Briefing

# Assumptions, no source: up to this lead the members are taken at their word ...
BELIEVED = timedelta(days=2)
# ... then the most that may be said falls, from certain, by this share a day ...
LESS_A_DAY = 0.08
# ... and further ahead nothing is said: forecasts beyond are little better than climate.
FURTHEST = timedelta(days=7)


def surest(lead: timedelta) -> float | None:
    """Return the highest chance that may be told at a lead time, 0..1; None: none at all."""
    if lead > FURTHEST:
        return None
    return 1.0 - LESS_A_DAY * max((lead - BELIEVED) / timedelta(days=1), 0.0)


# How much of what members say, on the scale of log odds, is true of the weather that comes: all of
# it at once (assumption), and by this lead the part that the 5 to 8 day forecasts of eleven members
# and the rain measured with them at Innsbruck bear out (data set RainIbk of the R package crch,
# 2000-2013; tests/published/test_odds.py fits it again).
FITTED_LEAD = timedelta(days=6.5)
TRUE_PART = 0.47


def chance(share: float, members: int, lead: timedelta) -> float | None:
    """Return the chance that may be told of what happens in a share of the members.

    Parameters
    ----------
    share : float
        From 0 to 1.
    members : int
        How many; as few as there are, none and all of them are never taken for never and always.
    lead : timedelta

    Returns
    -------
    float or None
        Above 0, below 1, and nearer to even odds the further ahead; None: none can be told.
    """
    most = surest(lead)
    if most is None:
        return None
    days_part = min(max(lead / FITTED_LEAD, 0.0), 1.0)
    true_part = 1.0 - (1.0 - TRUE_PART) * days_part
    return min(calibrated(share, members, true_part), most)


def calibrated(share: float, members: int, true_part: float, bias: float = 0.0) -> float:
    """Return a share of members as a chance: log odds, drawn to even odds.

    Parameters
    ----------
    share : float
        From 0 to 1.
    members : int
    true_part : float
        The part of the members' log odds that is true of the weather.
    bias : float
        Log odds added; known only where a forecast has been compared with what came.
    """
    odds = (share * members + 0.5) / ((1.0 - share) * members + 0.5)
    return 1.0 / (1.0 + math.exp(-bias - true_part * math.log(odds)))


def too_far_ahead(briefing: Briefing) -> bool:
    """Return whether a plan is so far ahead that nobody can tell how sure it is."""
    leaving = briefing.departure
    return leaving is not None and surest(leaving - briefing.made_at) is None
