"""Connectors under the weather: how long they take that day, and what leaving on them costs.

A connector is judged by the weather at its ends: its first half where it leads from, its second
where it leads to, each at the hours it is ridden in.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from replanner.hazards.model import NO_GO, Finding, Floats
from replanner.hazards.plain_road import RoadWeather
from replanner.planning.prices import minute_price, too_often
from replanner.planning.problem import NEVER, Slots
from replanner.planning.rules import Rules
from replanner.trip.model import PlaceId
from replanner.trip.spans import Flags

# The weather of an hour speaks for the hour before it and the one after. [min]
_SPEAKS_FOR = 60.0

RoadsWeather = Mapping[PlaceId, RoadWeather]


class Met(NamedTuple):
    """The worst that plain road meets (first member), 0..4, and the hazard that makes it so."""

    severity: float
    worst: Finding | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadPassage:
    """A connector left in one slot and over in another.

    Parameters
    ----------
    start, end : RoadWeather
        Where it leads from, and to.
    minutes : float
        As long as it takes. [min]
    leave, over : int
        Slots of the day.
    rules : Rules
        How many members may find it no-go, and how long a slot is.
    """

    start: RoadWeather
    end: RoadWeather
    minutes: float
    leave: int
    over: int
    rules: Rules

    def met(self) -> Met:
        """Return the worst met on it."""
        found = [
            Met(float(weather.severity[0, slot]), weather.findings[slot])
            for weather, slot in self._looked_at()
        ]
        return max(found, key=lambda met: met.severity, default=Met(0.0, None))

    def no_go_in(self) -> Flags:
        """Return in which members it is no-go, shape (M,)."""
        no_go = np.zeros(self.start.severity.shape[0], np.bool_)
        for weather, slot in self._looked_at():
            no_go |= weather.severity[:, slot] >= NO_GO
        return no_go

    def is_no_go(self) -> bool:
        """Return whether it is no-go in more members than may be, as the search asks."""
        shares = [
            float((weather.severity[:, slot] >= NO_GO).mean())
            for weather, slot in self._looked_at()
        ]
        return bool(too_often(np.array(shares), self.rules).any())

    def _looked_at(self) -> Iterator[tuple[RoadWeather, int]]:
        """Yield the weather of both halves with the slots looked at; those of the day alone."""
        last = self.start.severity.shape[1] - 1
        for look in range(int(_looks(np.array(self.minutes)))):
            later = int(look * _SPEAKS_FOR / self.rules.slot_minutes)
            yield self.start, min(self.leave + later, last)
            yield self.end, min(max(self.over - later, 0), last)


class Connected(NamedTuple):
    """The connectors of a day, P places and T slots.

    Parameters
    ----------
    minutes : ndarray, shape (P, P)
        As long as they take in the worst hour of the day at both ends; NaN: no road. [min]
    slots : ndarray of int, shape (P, P, T)
        Begun slots counted whole, by the slot of leaving.
    cost : ndarray, shape (P, P, T)
        The mean over members. [min]
    """

    minutes: Floats
    slots: Slots
    cost: Floats


def connected(
    places: Sequence[PlaceId], dry: Floats, weather: RoadsWeather, count: int, rules: Rules
) -> Connected:
    """Return the connectors of a day.

    Parameters
    ----------
    dry : ndarray, shape (P, P)
        Dry minutes between the places; NaN: no road. [min]
    weather : mapping of PlaceId to RoadWeather
        At the slots of the day; empty: nobody has looked, and it slows and costs nothing.
    count : int
        Slots of the day.
    """
    slowing = np.array([_slowing(weather.get(place), rules) for place in places])
    minutes = dry * (slowing[:, None] + slowing[None, :]) / 2.0
    whole = np.ceil(np.round(minutes / rules.slot_minutes, 6))
    slots = np.where(np.isnan(minutes), float(NEVER), whole).astype(np.int64)
    ridden = np.nan_to_num(minutes, nan=0.0)
    cost = np.repeat((ridden * rules.connector_cost)[:, :, None], count, axis=2)
    if weather:
        cost += _weather_cost(places, ridden, slots, weather, rules)
    return Connected(minutes, np.repeat(slots[:, :, None], count, axis=2), cost)


def _slowing(weather: RoadWeather | None, rules: Rules) -> float:
    """Return the slowest cautious pace of the day round a place; 1 where nobody has looked."""
    if weather is None:
        return 1.0
    return float(np.quantile(weather.pace, rules.riding_quantile, axis=0).max())


def _looks(minutes: Floats) -> Slots:
    """Return how many hours are looked at on each half of a connector; none where nobody rides."""
    return np.ceil(minutes / 2.0 / _SPEAKS_FOR).astype(np.int64)


def _weather_cost(
    places: Sequence[PlaceId], minutes: Floats, slots: Slots, weather: RoadsWeather, rules: Rules
) -> Floats:
    """Return what the weather met on connectors costs by slot of leaving, (P, P, T). [min]."""
    severity = [weather[place].severity for place in places]
    price = np.stack([minute_price(one, rules).mean(axis=0) for one in severity])
    no_go = np.stack([too_often((one >= NO_GO).mean(axis=0), rules) for one in severity])
    here, there, leaving = np.ogrid[: len(places), : len(places), : price.shape[1]]
    last = price.shape[1] - 1
    looks = _looks(minutes)[:, :, None]
    met = np.zeros((*minutes.shape, last + 1))
    barred = np.zeros(met.shape, np.bool_)
    for look in range(int(looks.max(initial=0))):
        later = int(look * _SPEAKS_FOR / rules.slot_minutes)
        begun = here, np.minimum(leaving + later, last)
        over = there, np.clip(leaving + slots[:, :, None] - later, 0, last)
        met += np.where(look < looks, price[begun] + price[over], 0.0)
        barred |= (look < looks) & (no_go[begun] | no_go[over])
    mean = met / (2.0 * np.maximum(looks, 1))
    return np.asarray(minutes[:, :, None] * mean + np.where(barred, rules.no_go_road_cost, 0.0))
