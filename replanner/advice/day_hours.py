"""Rain and gusts of a planned day, hour by hour, where the riders are then: for its picture.

A leg is told by its worst stretch, the one the plan judged it by; an hour by the leg ridden in it.
A figure that is not known is None, never zero.
"""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from replanner.advice.briefing import Briefing, DayHours, LegHours, PlannedLeg
from replanner.planning.build import BuiltDay
from replanner.planning.build_way import BuiltWay
from replanner.trip.passage import moment_of
from replanner.trip.stretches import Piece, PointId, pieces
from replanner.weather.hourly import PointHours

_HOUR = timedelta(hours=1)
_ALIKE = 1e-9  # severities this close are one


def day_hours(briefing: Briefing, built: BuiltDay, hours: Mapping[PointId, PointHours]) -> DayHours:
    """Take the figures of a planned day out of what it was planned with.

    Parameters
    ----------
    briefing : Briefing
    built : BuiltDay
        The day it is the briefing of. A leg that is not in it is unknown.
    hours : mapping of point id to PointHours
        The forecast of each point, `weather.hourly.hours_of` its tables; of members the first
        counts. A point that is not there is unknown.
    """
    worst = [_worst(planned, built, hours) for planned in briefing.legs]
    return _over_the_day(briefing, worst)


def hours_unknown(briefing: Briefing) -> DayHours:
    """Return the hours of a plan of which nothing but the briefing is left: all unknown."""
    nowhere = [
        _Worst(planned.name, None, planned.start, planned.end, _NO_TABLE)
        for planned in briefing.legs
    ]
    return _over_the_day(briefing, nowhere)


class _Table(NamedTuple):
    """Rain and gust of one point; `first` is the first hour."""

    first: datetime
    rain: NDArray[np.float64]
    gust: NDArray[np.float64]

    def at(self, hour: datetime) -> tuple[float, float]:
        """Return rain and gust of an hour; NaN outside the table."""
        index = (hour - self.first) // _HOUR
        if not 0 <= index < self.rain.size:
            return (np.nan, np.nan)
        return float(self.rain[index]), float(self.gust[index])


_NO_TABLE = _Table(datetime(1970, 1, 1, tzinfo=UTC), np.empty(0), np.empty(0))


class _Worst(NamedTuple):
    """The worst stretch of a leg, when it is passed, and the weather there."""

    name: str
    elevation_m: float | None
    enter: datetime
    leave: datetime
    table: _Table


def _worst(planned: PlannedLeg, built: BuiltDay, hours: Mapping[PointId, PointHours]) -> _Worst:
    found = _way_and_slot(planned, built)
    if found is None:
        return _Worst(planned.name, None, planned.start, planned.end, _NO_TABLE)
    way, slot = found
    leg = built.tour.legs[planned.id]
    severity = way.assessed.piece_severity
    severity = severity.reshape(severity.shape[0], -1, severity.shape[-1])[:, 0, slot]
    parts = pieces(built.tour, leg, planned.way)
    passed = [_passed(piece, way, slot, hours) for piece in parts]
    worst = [passed[n] for n in range(len(parts)) if severity[n] >= severity.max() - _ALIKE]
    told = planned.hazard.section if planned.hazard is not None else ""
    return max([one for one in worst if one.name == told] or worst, key=_strongest)


def _way_and_slot(planned: PlannedLeg, built: BuiltDay) -> tuple[BuiltWay, int] | None:
    clock = built.clock
    minutes = (planned.start - clock.first_slot).total_seconds() / 60.0
    slot = round(minutes / clock.slot_minutes)
    if not 0 <= slot < clock.instants.size:
        return None
    for leg in built.legs:
        if leg.leg.id == planned.id:
            return next(((way, slot) for way in leg.ways if way.way is planned.way), None)
    return None


def _passed(piece: Piece, way: BuiltWay, slot: int, hours: Mapping[PointId, PointHours]) -> _Worst:
    passage = way.passage
    return _Worst(
        piece.name,
        piece.point.elevation if np.isfinite(piece.point.elevation) else None,
        moment_of(passage.reaching(piece.from_fraction)[slot]),
        moment_of(passage.leaving(piece.to_fraction)[slot]),
        _table(hours.get(piece.point_id)),
    )


def _table(hours: PointHours | None) -> _Table:
    if hours is None or hours.time.size == 0:
        return _NO_TABLE
    rain, gust, wind = (
        _first_member(hours, name)
        for name in ("precipitation_amount", "wind_speed_of_gust", "wind_speed")
    )
    return _Table(moment_of(hours.time[0]), rain, np.where(wind > gust, wind, gust))


def _first_member(hours: PointHours, name: str) -> NDArray[np.float64]:
    column = hours.columns.get(name)
    if column is None:
        return np.full(hours.time.shape, np.nan)
    return np.asarray(column.reshape(-1, column.shape[-1])[0])


def _strongest(worst: _Worst) -> float:
    """Return the strongest gust met; of stretches as bad as each other the windiest is told."""
    gusts = [worst.table.at(hour)[1] for hour in _hours(worst.enter, worst.leave)]
    return max((gust for gust in gusts if not np.isnan(gust)), default=-1.0)


def _hours(enter: datetime, leave: datetime) -> list[datetime]:
    """Return the whole hours from the one before an instant to the one after another."""
    first, last = _whole(enter) - _HOUR, _whole(leave) + _HOUR
    return [first + n * _HOUR for n in range((last - first) // _HOUR + 1)]


def _whole(moment: datetime) -> datetime:
    return moment.replace(minute=0, second=0, microsecond=0)


def _over_the_day(briefing: Briefing, worst: Sequence[_Worst]) -> DayHours:
    if not briefing.legs:
        return DayHours(hours=(), legs_at=(), rain=(), wind_speed_of_gust=(), legs=())
    begin = briefing.departure or briefing.legs[0].start
    hours = _hours(begin, briefing.arrival or briefing.legs[-1].end)
    riding = [_ridden_at(hour, briefing.legs) for hour in hours]
    figures = [worst[n].table.at(hour) for n, hour in zip(riding, hours, strict=True)]
    return DayHours(
        hours=tuple(hours),
        legs_at=tuple(briefing.legs[n].id for n in riding),
        rain=tuple(_known(rain) for rain, _ in figures),
        wind_speed_of_gust=tuple(_known(gust) for _, gust in figures),
        legs=tuple(
            _leg_hours(planned, here) for planned, here in zip(briefing.legs, worst, strict=True)
        ),
    )


def _ridden_at(hour: datetime, legs: Sequence[PlannedLeg]) -> int:
    """Return the leg ridden longest in an hour, else the next, else the last."""
    shares = [min(leg.end, hour + _HOUR) - max(leg.start, hour) for leg in legs]
    longest = max(shares)
    if longest > timedelta():
        return shares.index(longest)
    return next((n for n, leg in enumerate(legs) if leg.start >= hour), len(legs) - 1)


def _leg_hours(planned: PlannedLeg, worst: _Worst) -> LegHours:
    met = [worst.table.at(hour) for hour in _hours(worst.enter, worst.leave)]
    return LegHours(
        leg=planned.id,
        stretch=worst.name,
        elevation_m=worst.elevation_m,
        rain=_judged(planned, "rain", [rain for rain, _ in met]),
        wind_speed_of_gust=_judged(planned, "gust", [gust for _, gust in met]),
    )


def _judged(planned: PlannedLeg, hazard: str, met: list[float]) -> float | None:
    """Return the worst met, unknown where an hour is; the plan's own figure where it is worse."""
    worst = _known(max(met)) if not np.isnan(met).any() else None
    note = planned.hazard
    own = note.value if note is not None and note.name == hazard and not note.unknown else None
    return max((one for one in (worst, own) if one is not None), default=None)


def _known(figure: float) -> float | None:
    return None if np.isnan(figure) else figure
