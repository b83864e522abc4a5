"""A shared position, found on the tour: where the riders are, and what they have ridden by it."""

from dataclasses import replace
from datetime import datetime
from math import isnan

from replanner.dialogue.events import PositionCame
from replanner.dialogue.state import State
from replanner.geodesy import Point
from replanner.trip.locate import locate, underway_at
from replanner.trip.model import LegId, Tour
from replanner.trip.progress import Progress, advance


def position_event(
    tour: Tour, state: State, point: Point, sent: datetime, *, live: bool
) -> PositionCame:
    """Return a position as the conversation takes it.

    A single position says where the riders are; live ones, one after another, also which legs
    they have ridden through.
    """
    point = Point(point.latitude, point.longitude, 0.0) if isnan(point.elevation) else point
    legs = _legs(tour, state)
    progress = state.progress or Progress()
    if live:
        progress = advance(progress, tour, legs, point, sent)
    known = state.demands.underway
    ridden = (known.ridden if known else frozenset()) | frozenset(progress.ridden)
    where = locate(tour, legs, point, near=progress.on if live else None)
    if where.on_leg is not None and progress.on is not None:
        same = where.on_leg.leg == progress.on.leg
        where = replace(where, on_leg=progress.on if same and live else where.on_leg)
    return PositionCame(
        underway=underway_at(where, sent, ridden, live=live),
        live=live,
        sent=sent,
        progress=progress if live else state.progress,
        sure=where.sure,
    )


def _legs(tour: Tour, state: State) -> tuple[LegId, ...]:
    """Return the legs the riders may be on: the plan's in order, then the rest of the day's."""
    plan = state.accepted or state.shown
    planned = tuple(leg.id for leg in plan.briefing.legs) if plan else ()
    of_day = next((day.legs for day in tour.days if day.date == state.day), ())
    return tuple(leg for leg in dict.fromkeys((*planned, *of_day)) if leg in tour.legs)
