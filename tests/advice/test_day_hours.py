"""Rain and gusts of a planned day: against the demo's forecast tables, looked up by pandas.

Tour and weather are INVENTED.
"""

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from replanner.advice.day_hours import day_hours, hours_unknown
from replanner.trip.stretches import pieces
from replanner.weather.hourly import PointHours, hours_of
from tests.advice.briefings import REST_DAY, SWAP
from tests.pictures.demo_days import DAYS, Planned, planned

HOUR = timedelta(hours=1)


@pytest.fixture(params=DAYS, ids=str)
def day(request: pytest.FixtureRequest) -> Planned:
    return planned(request.param)


def table_of(day: Planned, leg: str, stretch: str) -> list[pd.DataFrame]:
    """Return the tables of all pieces of a leg that go by a name."""
    tour = day.evening.built.tour
    way = next(one.way for one in day.evening.briefing.legs if one.id == leg)
    return [
        day.forecast.tables[piece.point_id]
        for piece in pieces(tour, tour.legs[leg], way)
        if piece.name == stretch
    ]


def known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def test_hours_run_from_before_leaving_to_after_being_in(day):
    briefing, hours = day.evening.briefing, day.hours.hours
    assert all(there - here == HOUR for here, there in pairwise(hours))
    assert hours[0] <= briefing.departure - HOUR < hours[1]
    assert hours[-1] > briefing.arrival
    assert len(hours) == len(day.hours.rain) == len(day.hours.wind_speed_of_gust)


def test_each_hour_has_the_figures_of_the_leg_ridden_then(day):
    briefing = day.evening.briefing
    stretches = {leg.leg: leg.stretch for leg in day.hours.legs}
    for hour, leg, rain, gust in zip(
        day.hours.hours,
        day.hours.legs_at,
        day.hours.rain,
        day.hours.wind_speed_of_gust,
        strict=True,
    ):
        ridden = [one.id for one in briefing.legs if one.start < hour + HOUR and one.end > hour]
        assert not ridden or leg in ridden
        rows = [table.loc[pd.Timestamp(hour)] for table in table_of(day, leg, stretches[leg])]
        wanted = [
            (known(row.precipitation_amount), known(max(row.wind_speed_of_gust, row.wind_speed)))
            for row in rows
        ]
        assert (rain, gust) in wanted


def test_a_leg_is_told_by_where_the_plan_judged_it_worst(day):
    for planned_leg, hours in zip(day.evening.briefing.legs, day.hours.legs, strict=True):
        assert hours.leg == planned_leg.id
        note = planned_leg.hazard
        if note is not None:
            assert hours.stretch == note.section
        if note is not None and note.name in ("gust", "rain") and note.value is not None:
            figure = hours.wind_speed_of_gust if note.name == "gust" else hours.rain
            assert figure >= note.value


def test_a_leg_meets_the_worst_of_its_hours_and_those_beside(day):
    for planned_leg, hours in zip(day.evening.briefing.legs, day.hours.legs, strict=True):
        tables = table_of(day, planned_leg.id, hours.stretch)
        first, last = (
            pd.Timestamp(moment).floor("h")
            for moment in (planned_leg.start - HOUR, planned_leg.end + HOUR)
        )
        for met, column in (
            (hours.rain, "precipitation_amount"),
            (hours.wind_speed_of_gust, "wind_speed_of_gust"),
        ):
            assert any(np.isclose(table.loc[first:last, column], met).any() for table in tables)


def changed(day: Planned, **columns: object) -> dict[str, PointHours]:
    """Return the tables with some columns made anew from the valid hours."""
    return {
        point: hours_of(table.assign(**{name: make(table.index) for name, make in columns.items()}))
        for point, table in day.forecast.tables.items()
    }


def test_a_rain_that_tells_the_hour_is_found_at_its_hour():
    """Each hour rains its own number: a shift by an hour would show."""
    day = planned(DAYS[0])
    first = min(table.index[0] for table in day.forecast.tables.values())
    tables = changed(
        day, precipitation_amount=lambda index: (index - first) / pd.Timedelta("1h") * 0.01
    )
    briefing = replace(
        day.evening.briefing,
        legs=tuple(replace(leg, hazard=None) for leg in day.evening.briefing.legs),
    )
    found = day_hours(briefing, day.evening.built, tables)
    for hour, rain in zip(found.hours, found.rain, strict=True):
        assert rain == pytest.approx((hour - first) / HOUR * 0.01)
    for leg, hours in zip(briefing.legs, found.legs, strict=True):
        after_the_end = (pd.Timestamp(leg.end).floor("h") - first) / HOUR + 1
        at_the_start = (pd.Timestamp(leg.start).floor("h") - first) / HOUR + 1
        assert at_the_start * 0.01 - 1e-9 <= hours.rain <= after_the_end * 0.01 + 1e-9


def test_a_gust_below_the_mean_wind_counts_as_the_wind():
    day = planned(DAYS[0])
    tables = changed(
        day,
        wind_speed=lambda _: 9.0,
        wind_speed_of_gust=lambda index: np.where(index.hour % 2, 4.0, 12.0),
    )
    found = day_hours(day.evening.briefing, day.evening.built, tables)
    for hour, gust in zip(found.hours, found.wind_speed_of_gust, strict=True):
        assert gust == (9.0 if hour.hour % 2 else 12.0)


def test_what_is_missing_is_unknown_and_never_zero():
    day = planned(DAYS[0])
    briefing = day.evening.briefing
    middle = day.hours.hours[len(day.hours.hours) // 2]
    gap = changed(
        day, precipitation_amount=lambda index: np.where(index == pd.Timestamp(middle), np.nan, 0.2)
    )
    found = day_hours(briefing, day.evening.built, gap)
    assert [rain is None for rain in found.rain] == [hour == middle for hour in found.hours]
    met = found.legs[
        [leg.id for leg in briefing.legs].index(found.legs_at[found.hours.index(middle)])
    ]
    own = next(leg.hazard for leg in briefing.legs if leg.id == met.leg)
    assert met.rain is None or (own is not None and own.name == "rain")
    without = {point: hours._replace(columns={}) for point, hours in gap.items()}
    nothing = day_hours(briefing, day.evening.built, without)
    assert set(nothing.rain) == set(nothing.wind_speed_of_gust) == {None}
    assert day_hours(briefing, day.evening.built, {}).rain == nothing.rain


def test_a_plan_whose_forecast_is_gone_has_the_hours_and_no_figures():
    found = hours_unknown(SWAP)
    assert found.hours[0] < SWAP.departure < SWAP.arrival < found.hours[-1] + HOUR
    assert set(found.rain) == set(found.wind_speed_of_gust) == {None}
    # what the plan was decided by is still known
    assert [leg.wind_speed_of_gust for leg in found.legs] == [None, None, 13.6]


def test_a_leg_the_day_does_not_know_is_unknown():
    day = planned(DAYS[0])
    found = day_hours(SWAP, day.evening.built, {})
    assert [leg.stretch for leg in found.legs] == [leg.name for leg in SWAP.legs]


def test_a_day_of_rest_has_no_hours():
    assert hours_unknown(REST_DAY).hours == ()
