"""Evenings of the demo with the forecast they were planned by. Tour and weather are INVENTED."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from replanner.advice.day_hours import DayHours, day_hours
from replanner.geodesy import Point
from replanner.ports import ForecastSource
from replanner.service.evening import Evening
from replanner.trip.edits import Demands
from replanner.weather.hourly import Forecast, PointId, Window, hours_of
from replanner.wiring import demo_house

DAYS = (date(2027, 4, 2), date(2027, 4, 3), date(2027, 4, 4), date(2027, 4, 5))


class Planned(NamedTuple):
    evening: Evening
    forecast: Forecast
    hours: DayHours


class _Kept:
    """A forecast source that keeps what it was given."""

    def __init__(self, source: ForecastSource) -> None:
        self._source = source
        self.last: Forecast | None = None

    def hourly(self, points: Mapping[PointId, Point], window: Window) -> Forecast:
        self.last = self._source.hourly(points, window)
        return self.last


@cache
def planned(day: date) -> Planned:
    with TemporaryDirectory() as state, demo_house(Path(state) / "s.sqlite", day) as house:
        kept = _Kept(house.means.forecasts)
        evening = replace(house, means=replace(house.means, forecasts=kept)).plan(day, Demands())
    forecast = kept.last
    assert forecast is not None
    tables = {point: hours_of(table) for point, table in forecast.tables.items()}
    return Planned(evening, forecast, day_hours(evening.briefing, evening.built, tables))
