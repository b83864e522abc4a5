"""Loose chippings of a fresh surface dressing, until they are assumed swept.

Caution by day and dry; avoid when freshly laid and deep, when wet, in the dark, with a pillion;
worse still when soaked.
"""

from dataclasses import replace

import numpy as np

from replanner.hazards.known import filled, rain_in_last, settle
from replanner.hazards.limits import Limit, Limits
from replanner.hazards.model import AVOID, CAUTION, Conditions, Floats, Party, Reading, Stretch
from replanner.trip.model import LooseChippings


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge by the days since they were laid; the figure told is those days."""
    chippings = stretch.road.chippings
    if not stretch.ridden or chippings is None:
        return None
    days = days_since_laid(chippings, stretch, conditions)
    loose = (days >= 0) & (days <= (chippings.assumed_until - chippings.laid).days)
    deep = days <= limits.figure("chippings.deep_days")
    dark = filled(conditions.minutes_to_dusk, 0.0) < 0
    rain = rain_in_last(conditions, limits.figure("chippings.soaked_hours"))
    trace, soaked = limits.figure("wet.trace_mm"), limits.figure("chippings.soaked_mm")

    def level(amount: Floats) -> Floats:
        worse = (amount >= trace) | deep | dark | party.pillion
        found = np.where(worse, AVOID, CAUTION)
        found = np.where(amount > soaked, limits.figure("chippings.soaked_level"), found)
        return np.where(loose, found, 0.0)

    shown = np.broadcast_to(days, rain.at_least.shape)
    return Reading(settle(*(level(amount) for amount in rain)), shown, _as_told(chippings, limits))


def _as_told(chippings: LooseChippings, limits: Limits) -> Limit:
    """Return the limit with this dressing's own last day as its caution."""
    last = float((chippings.assumed_until - chippings.laid).days)
    return replace(limits["chippings"], clear=last + 1.0, caution=last, avoid=None, no_go=None)


def days_since_laid(chippings: LooseChippings, stretch: Stretch, conditions: Conditions) -> Floats:
    """Return the whole local days since the dressing was laid, negative before."""
    import pandas as pd  # noqa: PLC0415 - slow to import, and only a forecast needs it

    local = pd.DatetimeIndex(conditions.time).tz_localize("UTC").tz_convert(stretch.zone)
    today = local.tz_localize(None).to_numpy().astype("datetime64[D]")
    return np.asarray((today - np.datetime64(chippings.laid)).astype(np.float64))
