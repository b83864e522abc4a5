"""How sure a plan may be called by how far ahead it is.

The estimated members are one forecast, a little earlier, later, weaker, stronger. Days ahead the
forecast itself is more often wrong than any of them tells, so that a calm forecast would make
every far day sound sure.
"""

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


def too_far_ahead(briefing: Briefing) -> bool:
    """Return whether a plan is so far ahead that nobody can tell how sure it is."""
    leaving = briefing.departure
    return leaving is not None and surest(leaving - briefing.made_at) is None
