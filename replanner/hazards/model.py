"""What every hazard module takes and gives.

A hazard looks at one stretch of road (`Stretch`) under a run of conditions (`Conditions`) for
one party (`Party`) and gives a level from 0 to 4 for each instant: below 2 go, 2 caution,
3 avoid, 4 no-go. NaN means unknown: the data it needs is missing. Time is always the *last*
axis; leading axes (ensemble members) pass through untouched, so write hazards elementwise or
with `axis=-1`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.limits import Limit, Limits
from replanner.trip.model import Exposure, LegKind, Road, SurfaceClass, Way
from replanner.trip.underway import Report

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]
Booleans = NDArray[np.bool_]
Instants = NDArray[np.datetime64]

CAUTION, AVOID, NO_GO = 2.0, 3.0, 4.0

_SOUTH = 180.0  # degrees


class Resolution(StrEnum):
    """On which instants a hazard is worked out."""

    HOUR = "hour"  # once per forecast hour; the worst of the passage hour and its neighbours counts
    PASSAGE = "passage"  # at the very minute of passage: the sun does not wait for the hour


class Kind(StrEnum):
    """Hazards of one kind are not added up: two winds are one danger, wind and fog are two."""

    WIND = "wind"
    WET = "wet"
    SURFACE = "surface"
    COLD = "cold"
    HEAT = "heat"
    SIGHT = "sight"
    THUNDER = "thunder"
    LIGHT = "light"
    ANIMALS = "animals"
    SEA = "sea"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A section of a leg (or the whole leg) as ridden one way, with all a hazard may ask.

    `headings_deg` are the directions of travel in the way ridden; empty: not known.
    `duration_minutes` is the riding time on it, `speed_kmh` the plain riding speed, `climb_m`
    its height over the lowest place of the leg. `reports` are what riders have seen of the leg.
    """

    name: str
    leg_kind: LegKind
    way: Way
    road: Road
    headings_deg: tuple[float, ...]
    elevation_m: float
    speed_kmh: float
    duration_minutes: float
    animals: bool
    last_light: str
    latitude: float
    longitude: float
    zone: ZoneInfo
    ferry_gust_limit: float | None = None
    climb_m: float = 0.0
    reports: tuple[Report, ...] = ()

    @property
    def ridden(self) -> bool:
        """False on a boat and at a stop: nobody is on the machine."""
        return self.leg_kind is not LegKind.STOP and self.surface is not SurfaceClass.WATER

    @property
    def exposure(self) -> Exposure:
        """How open it lies."""
        return self.road.exposure

    @property
    def surface(self) -> SurfaceClass:
        """What the wheels feel."""
        return self.road.surface_class


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """Weather and light along a run of instants at one stretch.

    Parameters
    ----------
    time : ndarray of datetime64[s], shape (N,)
        UTC. Whole hours without gaps for hazards of `Resolution.HOUR`; instants of passages, in
        any order, for `Resolution.PASSAGE`.
    columns : mapping of CF name to ndarray, shape (..., memory + N)
        As in `weather.hourly.COLUMNS`, with `cloud_base_altitude` [m above sea] added.
    sun_elevation, sun_azimuth : ndarray, shape of `time`
        Apparent elevation and azimuth. [deg]
    minutes_to_dusk : ndarray, shape of `time`
        From each instant to civil dusk of that evening, negative after it; from civil dawn
        the other way round it never matters: before dawn it is negative too. [min]
    minutes_to_sunset : ndarray, shape of `time`
        To sunset, negative after. [min]
    memory : int
        How many hours before the first of `time` the columns begin.
    worked_out : dict
        What several hazards ask of these conditions, kept by those who work it out.
    """

    time: Instants
    columns: Mapping[str, Floats]
    sun_elevation: Floats
    sun_azimuth: Floats
    minutes_to_dusk: Floats
    minutes_to_sunset: Floats
    memory: int = 0
    worked_out: dict[object, Any] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def column(self, name: str) -> Floats:
        """Return a column, shape (..., N), all NaN where the service does not give it."""
        return self.with_memory(name)[..., self.memory :]

    def with_memory(self, name: str) -> Floats:
        """Return a column with the hours before the first one asked about, (..., memory + N)."""
        found = self.columns.get(name)
        return np.full(self.memory + self.time.size, np.nan) if found is None else found

    def with_columns(self, columns: Mapping[str, Floats]) -> "Conditions":
        """Return the same instants with other columns."""
        return replace(self, columns=columns)

    def only(self, chosen: Indices) -> "Conditions":
        """Return the conditions at some of the instants, given by their place, shape (K,)."""
        return replace(
            self,
            time=self.time[chosen],
            columns={name: self.column(name)[..., chosen] for name in self.columns},
            memory=0,
            sun_elevation=self.sun_elevation[chosen],
            sun_azimuth=self.sun_azimuth[chosen],
            minutes_to_dusk=self.minutes_to_dusk[chosen],
            minutes_to_sunset=self.minutes_to_sunset[chosen],
        )

    def sun_may_stand(self, lowest: float, highest: float) -> Booleans:
        """Return, shape (N,), False only where the sun surely stands lower or higher (degrees)."""
        return np.asarray((self.sun_elevation >= lowest) & (self.sun_elevation <= highest))

    def before_noon(self) -> Booleans:
        """Return, shape (N,), where the sun stands in the east, above or below the horizon."""
        return np.asarray(self.sun_azimuth < _SOUTH)


@dataclass(frozen=True, slots=True, kw_only=True)
class Party:
    """The riders taken together: the strictest of them sets each shift, which never loosens.

    Parameters
    ----------
    wind_shift : float
        Added to wind thresholds, at most 0, capped at -6. [m/s]
    added_levels : mapping of Kind or limit name to float
        Levels added where that hazard is at all present.
    own_limits : mapping of limit name to (caution, avoid, no-go)
        Strictest of all riders.
    stricter : float
        Classes added to every hazard that is at all present: a tired, cold or hurried party.
    """

    wind_shift: float = 0.0
    added_levels: Mapping[str, float] | None = None
    own_limits: Mapping[str, tuple[float | None, float | None, float | None]] | None = None
    pillion: bool = False
    newer_rider: bool = False
    alone: bool = False
    stricter: float = 0.0

    def limit(self, limits: Limits, name: str) -> Limit:
        """Return a limit as it holds for this party: the stricter of default and own."""
        limit = limits[name]
        own = (self.own_limits or {}).get(name)
        return limit if own is None else limit.tightened(own)


class Reading(NamedTuple):
    """What a hazard says of a stretch along the instants.

    `level` is NaN where unknown. `value` is the figure the rider is told, in `limit.unit`.
    `limit` holds the thresholds as applied (after the party's shifts). A hazard of the minute that
    has nothing to say of most instants may name, rising, those it speaks of (`at`): level and value
    are of these alone, and everywhere else the level is 0.
    """

    level: Floats
    value: Floats
    limit: Limit
    at: Indices | None = None

    def everywhere(self, instants: int) -> "Reading":
        """Return the reading of all the instants that were asked about, by their number."""
        if self.at is None:
            return self
        level = np.zeros((*self.level.shape[:-1], instants))
        value = np.full((*self.value.shape[:-1], instants), np.nan)
        level[..., self.at], value[..., self.at] = self.level, self.value
        return Reading(level, value, self.limit)


HazardFunction = Callable[[Stretch, Conditions, Party, Limits], Reading | None]


class Hazard(NamedTuple):
    """One hazard in the register.

    Parameters
    ----------
    name : str
        Stable name, the one in JSON and in `config/limits.toml`, e.g. "gust".
    kind : Kind
    resolution : Resolution
    shelter_helps : bool
        True: the elementary table of level and exposure may lower the response on sheltered
        stretches. False: the level stands wherever it is met (ice, fog, wet track).
    assess : callable
        Returns None where the hazard cannot touch the stretch (gravel on a sealed road).
    by_heading : bool
        True: it asks for the headings of the stretch. False: what it says of an hour holds for
        both ways; it is asked once and shown no headings, as where they are not known.
    """

    name: str
    kind: Kind
    resolution: Resolution
    shelter_helps: bool
    assess: HazardFunction
    by_heading: bool = False


class Finding(NamedTuple):
    """The worst hazard of a leg at one start: the record every reason is told from.

    `hour` is the valid hour (UTC) of the figure; `passage` the instant the section is reached.
    `unknown` means the data is missing. `value` and `limit` may be None then. `also` is what must
    not be lost behind it on the same section: behind an unknown hazard the worst known one, behind
    a known one the first that is unknown.
    """

    hazard: str
    section: str
    severity: float
    value: float | None
    limit: float | None
    unit: str
    hour: np.datetime64
    passage: np.datetime64
    unknown: bool
    also: "Finding | None" = None
