"""Skies that turn, for stories: changes of the invented week from some hour on. INVENTED.

The same change asked for again is the same one: what was planned under it is known by then.
"""

from collections.abc import Mapping
from functools import cache

import numpy as np
import pandas as pd

from replanner.geodesy import Point
from tests.stories.ridden import Change, at

_HIGH = 300.0  # passes and ridges of the invented tour [m]


def _turned(
    figures: Mapping[str, float], begins: str, ends: str | None = None, least_m: float = -np.inf
) -> Change:
    """Let columns have these figures from an hour on, on all that lies at least so high."""

    def turn(point: Point, table: pd.DataFrame) -> pd.DataFrame:
        if point.elevation >= least_m:
            last = table.index[-1] if ends is None else at(ends)
            meant = (table.index >= at(begins)) & (table.index <= last)
            table.loc[meant, list(figures)] = list(figures.values())
        return table

    return turn


@cache
def rain_on_the_passes(begins: str, ends: str) -> Change:
    """Let 3 mm an hour fall on all that lies high."""
    rain = {"precipitation_amount": 3.0, "precipitation_probability": 95.0}
    return _turned(rain, begins, ends, least_m=_HIGH)


@cache
def gale(begins: str) -> Change:
    """Let it blow at 100 km/h everywhere, for good."""
    return _turned({"wind_speed": 17.0, "wind_speed_of_gust": 28.0}, begins)


@cache
def no_rain_nor_gusts_known(begins: str) -> Change:
    """Let an answer come without gusts and rain: the service gave none."""
    lost = ("wind_speed_of_gust", "precipitation_amount", "precipitation_probability")
    return _turned(dict.fromkeys(lost, np.nan), begins)
