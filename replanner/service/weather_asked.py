"""The weather a plan needs, asked for so that no answer kept tells where riders were.

Answers of a forecast service are kept for a while, with the places they were asked for. The places
of a tour may stand there; where riders are at this moment may not (positions go with their day):
roads from there are asked for by themselves, rounded to the width of a forecast cell, and the
answer is not kept.
"""

from collections.abc import Iterable
from dataclasses import replace

from replanner.geodesy import Point
from replanner.ports import ForecastSource
from replanner.service.day_ahead import DayAhead
from replanner.trip.connectors import day_places
from replanner.trip.model import Day, Tour
from replanner.trip.plain_road import road_points
from replanner.trip.rest_of_day import HERE
from replanner.trip.stretches import sample_points
from replanner.weather.hourly import Forecast, Window

# 0.01 degrees are 1.1 km: the finest forecast cells in use are about as wide.
_DIGITS = 2


def weather_for(
    ahead: DayAhead,
    days: tuple[Day, ...],
    homes: Iterable[DayAhead],
    window: Window,
    kept: ForecastSource,
    not_kept: ForecastSource,
) -> Forecast:
    """Return the weather of some days, their plain roads among it, and of the ways home.

    Parameters
    ----------
    ahead : DayAhead
    days : tuple of Day
        Of its tour.
    homes : iterable of DayAhead
        Ways home, whose roads may begin where the riders are.
    kept, not_kept : ForecastSource
        Whose answers are kept for a while, and whose are not.

    Raises
    ------
    ForecastError
        If no forecast can be had.
    """
    lasting = sample_points(ahead.tour, (_not_from_here(ahead.tour, day, ahead) for day in days))
    whole = sample_points(ahead.tour, days)
    asked = [(ahead.tour, day) for day in days]
    for home in homes:
        lasting |= sample_points(home.tour, (_not_from_here(home.tour, home.day, home),))
        whole |= sample_points(home.tour, (home.day,))
        asked.append((home.tour, home.day))
    for tour, day in asked:
        places = day_places(tour, day)
        lasting |= road_points(tour, (place for place in places if place != HERE))
        whole |= road_points(tour, places)
    passing = {key: _rounded(point) for key, point in whole.items() if key not in lasting}
    if not passing:
        return kept.hourly(whole, window)
    if not lasting:
        return not_kept.hourly(passing, window)
    return _together(kept.hourly(lasting, window), not_kept.hourly(passing, window))


def _not_from_here(tour: Tour, day: Day, ahead: DayAhead) -> Day:
    """Return a day without the roads from where the riders are.

    The rest of the leg they are on stays: it is judged by the points of the whole leg.
    """

    def known(legs: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(leg for leg in legs if leg == ahead.first or HERE not in _ends(tour, leg))

    return replace(day, own_order=known(day.own_order), optional=known(day.optional))


def _ends(tour: Tour, leg: str) -> tuple[str, str]:
    return tour.legs[leg].start, tour.legs[leg].end


def _rounded(point: Point) -> Point:
    return Point(round(point.latitude, _DIGITS), round(point.longitude, _DIGITS), point.elevation)


def _together(first: Forecast, second: Forecast) -> Forecast:
    tables = {**first.tables, **second.tables}
    origin = replace(
        first.origin,
        fetched=min(first.origin.fetched, second.origin.fetched),
        stale=first.origin.stale or second.origin.stale,
    )
    remarks = tuple(dict.fromkeys((*first.remarks, *second.remarks)))
    return replace(first, tables=tables, origin=origin, remarks=remarks)
