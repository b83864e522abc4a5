"""Conditions whose light is worked out when it is asked for: most hazards never ask."""

from collections.abc import Mapping
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from replanner.geodesy import Point
from replanner.hazards.model import Booleans, Conditions, Floats, Indices, Instants
from replanner.hazards.passage import ColumnsAt
from replanner.weather.daylight import minutes_to_dusk, minutes_to_sunset, sun_position
from replanner.weather.sun import hour_angle_of, may_stand_between


class LitConditions(Conditions):
    """Conditions at one point, lit by the sun of their very instants.

    Parameters
    ----------
    light : Light
        That of the instants, or of more of which these are some.
    place : ndarray of int, optional
        Which of the instants of the light these are; None: all, in order.
    """

    _light: "Light"
    _place: Indices | None

    def __init__(
        self,
        light: "Light",
        columns: Mapping[str, Floats],
        memory: int = 0,
        place: Indices | None = None,
    ) -> None:
        time = light.times if place is None else light.times[place]
        # the base is frozen, and its own __init__ wants the light at once
        for name, value in (
            ("time", time), ("columns", columns), ("memory", memory), ("worked_out", {}),
            ("_light", light), ("_place", place),
        ):  # fmt: skip
            object.__setattr__(self, name, value)

    @property
    def sun_elevation(self) -> Floats:
        """Apparent elevation in degrees, shape (N,)."""
        return self._sun[0]

    @property
    def sun_azimuth(self) -> Floats:
        """Azimuth in degrees, shape (N,)."""
        return self._sun[1]

    @cached_property
    def _sun(self) -> tuple[Floats, Floats]:
        return self._light.sun(self._place)

    @property
    def minutes_to_dusk(self) -> Floats:
        """Minutes to civil dusk, shape (N,)."""
        return self._some_of(self._light.minutes_to_dusk)

    @property
    def minutes_to_sunset(self) -> Floats:
        """Minutes to sunset, shape (N,)."""
        return self._some_of(self._light.minutes_to_sunset)

    def _some_of(self, values: NDArray[Any]) -> NDArray[Any]:
        return values if self._place is None else values[self._place]

    def with_columns(self, columns: Mapping[str, Floats]) -> Conditions:
        """Return the same instants with other columns; what is known of the light is shared."""
        return LitConditions(self._light, columns, self.memory, self._place)

    def only(self, chosen: Indices) -> Conditions:
        """Return the conditions at some of the instants, given by their place."""
        columns = (
            self.columns.only(chosen)
            if isinstance(self.columns, ColumnsAt)
            else ColumnsAt(self.columns, self.memory + chosen)
        )
        place = chosen if self._place is None else self._place[chosen]
        return LitConditions(self._light, columns, 0, place)

    def sun_may_stand(self, lowest: float, highest: float) -> Booleans:
        """Return, shape (N,), False only where the sun surely stands lower or higher (degrees)."""
        return self._some_of(self._light.may_stand_between(lowest, highest))

    def before_noon(self) -> Booleans:
        """Return, shape (N,), where the sun stands in the east, by its hour angle alone."""
        return np.asarray(hour_angle_of(self._light.point, self.time) < 0)


class Light:
    """The light of some instants at one point, each worked out once, when it is asked for."""

    def __init__(self, point: Point, times: Instants) -> None:
        self.point, self.times = point, times
        self._may_stand: dict[tuple[float, float], Booleans] = {}

    @cached_property
    def minutes_to_dusk(self) -> Floats:
        """Minutes to civil dusk, shape (N,)."""
        return minutes_to_dusk(self.point, self.times)

    @cached_property
    def minutes_to_sunset(self) -> Floats:
        """Minutes to sunset, shape (N,)."""
        return minutes_to_sunset(self.point, self.times)

    def may_stand_between(self, lowest: float, highest: float) -> Booleans:
        """Return, shape (N,), False only where the sun surely stands lower or higher (degrees)."""
        if (lowest, highest) not in self._may_stand:
            self._may_stand[lowest, highest] = may_stand_between(
                self.point, self.times, lowest, highest
            )
        return self._may_stand[lowest, highest]

    @cached_property
    def _found(self) -> tuple[Floats, Floats, Booleans]:
        """Elevation and azimuth as far as they are known, and where they are."""
        shape = self.times.shape
        return np.empty(shape), np.empty(shape), np.zeros(shape, np.bool_)

    def sun(self, place: Indices | None) -> tuple[Floats, Floats]:
        """Return elevation and azimuth at some of the instants; None: at all of them."""
        elevation, azimuth, known = self._found
        new = (~known).nonzero()[0] if place is None else place[~known[place]]
        if new.size > 0:
            elevation[new], azimuth[new] = sun_position(self.point, self.times[new])
            known[new] = True
        return (elevation, azimuth) if place is None else (elevation[place], azimuth[place])
