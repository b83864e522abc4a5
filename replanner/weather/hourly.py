"""One hourly table for every forecast service.

Rows are valid hours (UTC, every hour, no gaps), columns are CF standard names where one exists.
Each column either holds the instant at the index or covers the hour that *starts* at the index;
services differ, and their readers shift to this. Missing stays missing (NaN), never zero.
A gust below the mean wind occurs in real answers: the larger of the two counts.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from replanner.geodesy import Point

# pandas takes long to import; whoever brings a table has it already, nobody else needs it.
if TYPE_CHECKING:
    import pandas as pd

PointId = str


class Covers(StrEnum):
    """What one value of a column speaks of."""

    INSTANT = "instant"
    HOUR_FROM_INDEX = "hour from index"


class Column(NamedTuple):
    """One column of the table: its unit inside and what a value covers."""

    unit: str
    covers: Covers
    lowest: float
    highest: float


# CF standard names (CF Standard Name Table) except those marked. Bounds are physical sanity
# bounds, our assumption: a value outside is treated as missing and reported.
COLUMNS: Mapping[str, Column] = {
    "air_temperature": Column("degC", Covers.INSTANT, -80.0, 60.0),
    "dew_point_temperature": Column("degC", Covers.INSTANT, -90.0, 40.0),
    "relative_humidity": Column("%", Covers.INSTANT, 0.0, 110.0),
    "wind_speed": Column("m/s", Covers.INSTANT, 0.0, 100.0),
    "wind_from_direction": Column("deg", Covers.INSTANT, 0.0, 360.0),
    "wind_speed_of_gust": Column("m/s", Covers.HOUR_FROM_INDEX, 0.0, 130.0),
    "precipitation_amount": Column("mm", Covers.HOUR_FROM_INDEX, 0.0, 300.0),
    "precipitation_probability": Column("%", Covers.HOUR_FROM_INDEX, 0.0, 100.0),  # not CF
    "visibility_in_air": Column("m", Covers.INSTANT, 0.0, 1.0e6),
    "cloud_area_fraction": Column("%", Covers.INSTANT, 0.0, 100.0),
    "weather_code": Column("1", Covers.INSTANT, 0.0, 99.0),  # not CF; the service's code table
    "atmosphere_convective_available_potential_energy": Column(
        "J/kg", Covers.INSTANT, 0.0, 10000.0
    ),
    "surface_downwelling_shortwave_flux_in_air": Column(
        "W/m2", Covers.HOUR_FROM_INDEX, 0.0, 1500.0
    ),
}


class Window(NamedTuple):
    """The hours wanted, UTC-aware: first hour to last hour, both included."""

    first: datetime
    last: datetime


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a forecast came from and how old it is; travels with every plan.

    `issued` is the model run where the service tells it, else None. `fetched` is when the answer
    left the service, also when it came out of a cache. `stale` means served although it had
    expired, because nothing fresher answered.
    """

    service: str
    credit: str
    fetched: datetime
    issued: datetime | None = None
    stale: bool = False
    invented: bool = False


@dataclass(frozen=True, slots=True)
class Forecast:
    """The hourly tables of all points of one request, with their origin.

    `tables` maps each point id to a DataFrame indexed by a UTC DatetimeIndex of whole hours, all
    with the same index, with every column of `COLUMNS` (all NaN where the service has it not).
    `remarks` tells what was odd: missing columns, values out of bounds.
    """

    tables: "Mapping[PointId, pd.DataFrame]"
    origin: Origin
    remarks: tuple[str, ...] = ()


class ForecastSource(Protocol):
    """A service that gives hourly forecasts."""

    def hourly(self, points: Mapping[PointId, Point], window: Window) -> Forecast:
        """Fetch all points in one go.

        Raises
        ------
        ForecastError
            With one line for the rider: which service, what went wrong, what to do.
        """
        ...


class PointHours(NamedTuple):
    """One point's table as arrays, for the hazards.

    `time` has shape (N,), datetime64[s] UTC, whole hours without gaps; each column has shape
    (..., N): time is always the last axis, leading axes are ensemble members.
    """

    time: NDArray[np.datetime64]
    columns: Mapping[str, NDArray[np.float64]]


def hours_of(table: "pd.DataFrame") -> PointHours:
    """Turn one point's table into arrays of shape (N,)."""
    import pandas as pd  # noqa: PLC0415 - see the top

    index = pd.DatetimeIndex(table.index).tz_convert("UTC").tz_localize(None)
    time = index.to_numpy().astype("datetime64[s]")
    # all columns at once: asked for one by one, the frame takes ten times as long
    columns = np.ascontiguousarray(table.to_numpy(np.float64).T)
    return PointHours(time, dict(zip(map(str, table), columns, strict=True)))
