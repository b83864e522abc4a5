"""What riders have seen of a road: believed until it expires, on top of the forecast.

A report raises levels. DRY alone softens, and only a road's wetness: rain that fell before the
road was seen dry is forgotten while the report counts. Rain forecast for later wets it again, and
what is no-go stays no-go.
"""

from functools import partial

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.limits import Limits
from replanner.hazards.model import (
    AVOID,
    NO_GO,
    Conditions,
    HazardFunction,
    Instants,
    Party,
    Reading,
    Stretch,
)
from replanner.trip.model import SurfaceClass
from replanner.trip.passage import instant64
from replanner.trip.underway import Report, ReportKind

Flags = NDArray[np.bool_]

_HOUR = np.timedelta64(3600, "s")


def assess_reported(
    kind: ReportKind, stretch: Stretch, conditions: Conditions, _party: Party, limits: Limits
) -> Reading | None:
    """Judge a passage by the level a report of that kind has; the figure told is that level.

    A track that was seen wet is avoid, as if it had rained within six hours (common practice, no
    source).
    """
    seen = [one for one in stretch.reports if one.kind is kind]
    if not seen or not stretch.ridden:
        return None
    level = np.zeros(conditions.time.shape)
    for one in seen:
        called = float(one.level)
        if kind is ReportKind.WET and stretch.surface is SurfaceClass.TRACK:
            called = max(called, AVOID)
        level = np.maximum(level, np.where(_while(one, conditions.time), called, 0.0))
    return Reading(level, level, limits[f"reported_{kind.value}"])


def assess_of(kind: ReportKind) -> HazardFunction:
    """Return the hazard of one kind of report."""
    return partial(assess_reported, kind)


def seen_dry(assess: HazardFunction) -> HazardFunction:
    """Return a hazard of wetness that believes riders who have seen the road dry."""

    def softened(
        stretch: Stretch, conditions: Conditions, party: Party, limits: Limits
    ) -> Reading | None:
        reading = assess(stretch, conditions, party, limits)
        dry = [one for one in stretch.reports if one.kind is ReportKind.DRY]
        if reading is None or not dry:
            return reading
        level, value = reading.level, reading.value
        for one in dry:
            believed = assess(stretch, _without_rain_before(conditions, one), party, limits)
            if believed is None:
                continue
            # a passage is judged by the hour before it as well
            counts = _while(one, conditions.time) | _while(one, conditions.time + _HOUR)
            softer = counts & ~(level >= NO_GO) & ((believed.level < level) | np.isnan(level))
            level = np.where(softer, believed.level, level)
            value = np.where(softer, believed.value, value)
        return Reading(level, value, reading.limit)

    return softened


def seen_wet(stretch: Stretch, time: Instants) -> Flags:
    """Return the hours, shape of `time`, in which riders have seen the road wet."""
    wet = np.zeros(time.shape, np.bool_)
    for one in stretch.reports:
        if one.kind is ReportKind.WET:
            wet |= _while(one, time)
    return wet


def _while(report: Report, time: Instants) -> Flags:
    """Return the instants at which a report counts; an hour counts that has begun by then."""
    since = instant64(report.since).astype("datetime64[h]").astype("datetime64[s]")
    return np.asarray((time >= since) & (time <= instant64(report.until)))


def _without_rain_before(conditions: Conditions, report: Report) -> Conditions:
    """Return the conditions without the rain of the hours that were over when it was seen."""
    rain = conditions.with_memory("precipitation_amount")
    begin = conditions.time[0] - conditions.memory * _HOUR
    ends = begin + _HOUR * np.arange(1, rain.shape[-1] + 1)
    over = ends <= instant64(report.since)
    columns = {**conditions.columns, "precipitation_amount": np.where(over, 0.0, rain)}
    return conditions.with_columns(columns)
