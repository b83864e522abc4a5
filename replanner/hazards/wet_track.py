"""Earth, grass and clay after rain: what is a fair track when dry is a slide when wet."""

from zoneinfo import ZoneInfo

import numpy as np

from replanner.hazards.known import Bounds, rain_in_last, settle
from replanner.hazards.limits import Limits
from replanner.hazards.model import (
    AVOID,
    CAUTION,
    NO_GO,
    Conditions,
    Floats,
    Instants,
    Party,
    Reading,
    Stretch,
)
from replanner.trip.model import SurfaceClass

# Surfaces that turn to grease: dry-weather roads, whatever the grade.
_GREASY = frozenset({"clay", "mud"})


def assess(
    stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
) -> Reading | None:
    """Judge by the rain of the last hours and by dew; the figure told is the rain of a day.

    Caution after rain within 24 hours, avoid within 6 hours or on morning dew in the shade,
    no-go while it rains or after a soaking; clay and mud are no-go for 48 hours.
    """
    if not stretch.ridden or stretch.surface is not SurfaceClass.TRACK:
        return None
    day = rain_in_last(conditions, limits.figure("wet_track.caution_hours"))
    recent = rain_in_last(conditions, limits.figure("wet_track.avoid_hours"))
    now = rain_in_last(conditions, 0)
    clay = rain_in_last(conditions, limits.figure("wet_track.clay_hours"))
    dew = _dew(stretch, conditions, limits)
    limit = party.limit(limits, "wet_track")
    trace, soaked = limits.figure("wet.trace_mm"), limits.figure("wet_track.soaked_mm")

    def level(side: int) -> Floats:
        found = limit.level(day[side])
        found = np.maximum(found, np.where(day[side] >= trace, CAUTION, 0.0))
        found = np.maximum(found, np.where((recent[side] >= trace) | (dew[side] > 0), AVOID, 0.0))
        no_go = (now[side] >= trace) | (recent[side] > soaked)
        if stretch.road.surface in _GREASY:
            no_go = no_go | (clay[side] >= trace)
        return np.where(no_go, NO_GO, found)

    return Reading(settle(level(0), level(1)), day.at_least, limit)


def _dew(stretch: Stretch, conditions: Conditions, limits: Limits) -> Bounds:
    """Return 1 where dew lies in the shade of a morning, 0 where not."""
    spread = conditions.column("air_temperature") - conditions.column("dew_point_temperature")
    if not stretch.road.trees:
        return Bounds(np.zeros(spread.shape), np.zeros(spread.shape))
    hour = local_hours(conditions.time, stretch.zone)
    morning = hour < limits.figure("wet_track.dew_until_hour")
    widest = limits.figure("wet_track.dew_spread")
    return Bounds(
        np.where(morning & (spread <= widest), 1.0, 0.0),
        np.where(morning & ~(spread > widest), 1.0, 0.0),
    )


def local_hours(times: Instants, zone: ZoneInfo) -> Floats:
    """Return the local wall hour of each instant, shape of times."""
    import pandas as pd  # noqa: PLC0415 - slow to import, and only a forecast needs it

    local = pd.DatetimeIndex(times.ravel()).tz_localize("UTC").tz_convert(zone)
    return np.asarray(local.hour, np.float64).reshape(times.shape)
