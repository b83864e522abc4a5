"""A forecast source with weather made by hand, for corridor tests. INVENTED."""

from collections.abc import Callable, Mapping
from datetime import UTC, datetime

import numpy as np
import pandas as pd

from replanner.geodesy import Point
from replanner.weather.hourly import COLUMNS, Forecast, Origin, PointId, Window

FAIR = {
    "air_temperature": 15.0,
    "dew_point_temperature": 6.0,
    "relative_humidity": 55.0,
    "wind_speed": 3.0,
    "wind_from_direction": 240.0,
    "wind_speed_of_gust": 5.0,
    "precipitation_amount": 0.0,
    "precipitation_probability": 0.0,
    "visibility_in_air": 30000.0,
    "cloud_area_fraction": 60.0,
    "weather_code": 2.0,
    "atmosphere_convective_available_potential_energy": 0.0,
    "surface_downwelling_shortwave_flux_in_air": 300.0,
}
Made = Callable[[pd.DatetimeIndex], np.ndarray]


class MadeWeather:
    """Fair weather, with some columns made from the valid hours (UTC); counts its calls."""

    def __init__(self, without: tuple[str, ...] = (), **made: Made) -> None:
        self._without = without
        self._made = made
        self.windows: list[Window] = []

    def hourly(self, points: Mapping[PointId, Point], window: Window) -> Forecast:
        if not points:
            raise ValueError("points must not be empty")  # as a service's adapter does
        self.windows.append(window)
        hours = pd.date_range(window.first, window.last, freq="h", tz="UTC")
        table = pd.DataFrame(FAIR, index=hours, columns=list(COLUMNS))
        for name, column in self._made.items():
            table[name] = column(hours)
        for name in self._without:
            table[name] = np.nan
        return Forecast(
            tables={point: table.copy() for point in points},
            origin=Origin(
                service="Made", credit="made by hand", fetched=datetime(2027, 4, 1, 6, tzinfo=UTC)
            ),
        )
