"""What the hazards are shown of one piece of a leg: the stretch, its weather and its light."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from replanner.geodesy import Point
from replanner.hazards.limits import Limits
from replanner.hazards.lit import Light, LitConditions
from replanner.hazards.model import Conditions, Floats, Instants, Stretch
from replanner.hazards.passage import ColumnsAt, hour_of
from replanner.trip.model import Leg, Tour, Way
from replanner.trip.stretches import Piece, PointId, foot_point, pieces
from replanner.trip.underway import Report
from replanner.weather.hourly import PointHours

# A track of a thousand bends is judged by its headings to the nearest 5 degrees.
_MOST_HEADINGS, _HEADING_STEP = 36, 5.0

# What the hazards look back over: the dry spell before a first rain, the longest memory.
_MEMORY_HOURS_FIGURE = "wet.dry_spell_hours"

# Nobody is expected to take more than this times the dry minutes; what lies later is unknown.
_SLOWEST = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """One piece with the hours it may be ridden in.

    Parameters
    ----------
    hourly : Conditions
        Every hour in which anybody may ride, with the memory of what fell before.
    """

    stretch: Stretch
    piece: Piece
    hourly: Conditions

    @property
    def first_hour(self) -> np.datetime64:
        """From which minutes count: the first hour that is remembered."""
        first: np.datetime64 = self.hourly.time[0] - np.timedelta64(self.hourly.memory, "h")
        return first

    def at(self, minutes: Floats) -> Conditions:
        """Return the conditions at instants, shape (K,), in minutes since `first_hour`."""
        seconds = np.round(minutes * 60.0).astype("timedelta64[s]")
        light = Light(self.piece.point, self.first_hour + seconds)
        return LitConditions(light, ColumnsAt(self.hourly.columns, hour_of(minutes)))

    def of_first_member(self) -> "Scene":
        """Return the scene with copies of the first member's columns: it keeps no table alive."""
        columns = {
            name: first_member(values).copy() for name, values in self.hourly.columns.items()
        }
        return replace(self, hourly=self.hourly.with_columns(columns))


def scenes(
    tour: Tour,
    leg: Leg,
    starts: Instants,
    hours: Mapping[PointId, PointHours],
    limits: Limits,
    reports: tuple[Report, ...] = (),
) -> tuple[Scene, ...]:
    """Return the pieces of a leg ridden forward, with their stretch and their hours."""
    ((foot_id, foot),) = foot_point(tour, leg).items()
    window, memory = _window(leg, starts, limits)
    base = _cloud_base(foot, _columns_at(hours, foot_id, window), limits)
    shown = []
    for piece in pieces(tour, leg, Way.FORWARD):
        columns = _columns_at(hours, piece.point_id, window)
        if base is not None:
            columns["cloud_base_altitude"] = base
        light = Light(piece.point, window[memory:])
        shown.append(
            Scene(
                stretch=_stretch(tour, leg, Way.FORWARD, piece, foot, reports),
                piece=piece,
                hourly=LitConditions(light, columns, memory),
            )
        )
    return tuple(shown)


def turned(tour: Tour, leg: Leg, forward: tuple[Scene, ...]) -> tuple[Scene, ...]:
    """Return the scenes of a leg ridden the other way round: the weather stays what it is."""
    ((_, foot),) = foot_point(tour, leg).items()
    return tuple(
        replace(
            scene,
            stretch=_stretch(tour, leg, Way.REVERSE, piece, foot, scene.stretch.reports),
            piece=piece,
        )
        for piece, scene in zip(pieces(tour, leg, Way.REVERSE), reversed(forward), strict=True)
    )


def conditions_at(point: Point, times: Instants, columns: Mapping[str, Floats]) -> Conditions:
    """Return conditions with the light of those very instants."""
    return LitConditions(Light(point, times), columns)


def members_of(hours: Mapping[PointId, PointHours]) -> tuple[int, ...]:
    """Return the leading axes of the tables; raises ValueError if they do not broadcast."""
    shapes = {values.shape[:-1] for table in hours.values() for values in table.columns.values()}
    return np.broadcast_shapes(*shapes)


def first_member(values: NDArray[Any]) -> NDArray[Any]:
    """Return the values of the first member: shape (..., N) becomes (N,)."""
    return np.asarray(values.reshape(-1, values.shape[-1])[0])


def _window(leg: Leg, starts: Instants, limits: Limits) -> tuple[Instants, int]:
    """Return every hour that can matter, and the index of the first in which anybody may ride.

    The memory lies before the first start, slow riding after the last.
    """
    memory = int(limits.figure(_MEMORY_HOURS_FIGURE)) + 1
    halts = sum(halt.minutes for halt in leg.halts)
    riding = int((_SLOWEST * leg.riding_minutes + halts) / 60.0) + 2
    first = starts.min().astype("datetime64[h]") - 1
    last = starts.max().astype("datetime64[h]") + riding
    return np.arange(first - memory, last + 1).astype("datetime64[s]"), memory


def _columns_at(
    hours: Mapping[PointId, PointHours], point_id: PointId, window: Instants
) -> dict[str, Floats]:
    """Return a point's columns over the window; hours and points not given are missing."""
    found = hours.get(point_id)
    if found is None or found.time.size == 0:
        return {}
    offset = int((window[0] - found.time[0]) / np.timedelta64(1, "h"))
    if offset >= 0 and offset + window.size <= found.time.size:
        within = slice(offset, offset + window.size)
        return {name: values[..., within] for name, values in found.columns.items()}
    first, last = max(0, offset), max(0, min(found.time.size, offset + window.size))
    columns = {}
    for name, values in found.columns.items():
        column = np.full((*values.shape[:-1], window.size), np.nan)
        column[..., first - offset : last - offset] = values[..., first:last]
        columns[name] = column
    return columns


def _cloud_base(foot: Point, columns: Mapping[str, Floats], limits: Limits) -> Floats | None:
    """Return the height of the cloud base over the sea, from the air at the foot of the leg.

    Lifted air condenses some 125 m higher for each degree between air and dew point. [m]
    """
    air, dew = columns.get("air_temperature"), columns.get("dew_point_temperature")
    if air is None or dew is None:
        return None
    rise = limits.figure("cloud_base.metres_per_degree")
    return np.asarray(foot.elevation + rise * np.maximum(air - dew, 0.0))


def _stretch(
    tour: Tour, leg: Leg, way: Way, piece: Piece, foot: Point, reports: tuple[Report, ...]
) -> Stretch:
    hours = leg.riding_minutes / 60.0
    return Stretch(
        name=piece.name,
        leg_kind=leg.kind,
        way=way,
        road=piece.road,
        headings_deg=_thinned(piece.headings_deg),
        elevation_m=piece.point.elevation,
        speed_kmh=leg.distance_km / hours if hours > 0 else 0.0,
        duration_minutes=piece.end_minutes - piece.start_minutes,
        animals=leg.animals,
        last_light=leg.last_light,
        latitude=piece.point.latitude,
        longitude=piece.point.longitude,
        zone=tour.zone,
        ferry_gust_limit=None if leg.ferry is None else leg.ferry.gust_limit,
        climb_m=max(0.0, piece.point.elevation - foot.elevation),
        reports=reports,
    )


def _thinned(headings: tuple[float, ...]) -> tuple[float, ...]:
    if len(headings) <= _MOST_HEADINGS:
        return headings
    rounded = {round(heading / _HEADING_STEP) * _HEADING_STEP % 360.0 for heading in headings}
    return tuple(sorted(rounded))
