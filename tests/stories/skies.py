"""Skies that turn, for stories: changes of the invented week from some hour on. INVENTED.

The same change asked for again is the same one: what was planned under it is known by then.
"""

from functools import cache

import numpy as np
import pandas as pd

from replanner.geodesy import Point
from tests.stories.ridden import Change, at

_HIGH = 300.0  # passes and ridges of the invented tour [m]


@cache
def rain_on_the_passes(begins: str, ends: str) -> Change:
    """Let 3 mm an hour fall on all that lies high."""

    def turn(point: Point, table: pd.DataFrame) -> pd.DataFrame:
        if point.elevation < _HIGH:
            return table
        wet = (table.index >= at(begins)) & (table.index <= at(ends))
        table.loc[wet, "precipitation_amount"] = 3.0
        table.loc[wet, "precipitation_probability"] = 95.0
        return table

    return turn


@cache
def gale(begins: str) -> Change:
    """Let it blow at 100 km/h everywhere, for good."""

    def turn(_: Point, table: pd.DataFrame) -> pd.DataFrame:
        blown = table.index >= at(begins)
        table.loc[blown, "wind_speed"] = 17.0
        table.loc[blown, "wind_speed_of_gust"] = 28.0
        return table

    return turn


@cache
def no_rain_nor_gusts_known(begins: str) -> Change:
    """Let an answer come without gusts and rain: the service gave none."""
    lost = ["wind_speed_of_gust", "precipitation_amount", "precipitation_probability"]

    def turn(_: Point, table: pd.DataFrame) -> pd.DataFrame:
        table.loc[table.index >= at(begins), lost] = np.nan
        return table

    return turn
