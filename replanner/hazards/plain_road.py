"""What the weather round a place means for plain road there, whichever way it leads.

Of a connector nobody knows where it runs: it is judged by the weather at its two ends, by all
hazards of the hour but those that ask for a heading. The sun is not asked for that reason, and
darkness has its price in being late (`planning.day_clock`).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import prod

import numpy as np

from replanner.hazards.both_ways import BothWays
from replanner.hazards.by_hour import PassageHours, hour_tables
from replanner.hazards.findings import Findings
from replanner.hazards.judging import Judging, added_by
from replanner.hazards.limits import Limits
from replanner.hazards.model import Finding, Floats, Indices, Instants, Party
from replanner.hazards.passage import hour_of
from replanner.hazards.scene import Scene, members_of, scenes
from replanner.hazards.told import ToldPiece
from replanner.trip.model import PlaceId, Tour
from replanner.trip.plain_road import road_round
from replanner.trip.stretches import PointId
from replanner.weather.hourly import PointHours


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadWeather:
    """Plain road round a place at S instants, M members.

    Parameters
    ----------
    pace : ndarray, shape (M, S)
        How many times the dry minutes it takes.
    severity : ndarray, shape (M, S)
        0..4, the worst from the hour before each instant to the hour after; unknown is caution.
    findings : sequence of Finding or None, length S
        The worst hazard at each instant (first member); None where nothing is above level 1.
    """

    pace: Floats
    severity: Floats
    findings: Sequence[Finding | None]


def road_weather(
    tour: Tour,
    places: Iterable[PlaceId],
    instants: Instants,
    hours: Mapping[PointId, PointHours],
    party: Party,
    limits: Limits,
) -> dict[PlaceId, RoadWeather]:
    """Judge plain road round some places.

    Parameters
    ----------
    instants : ndarray of datetime64[s], shape (S,)
        UTC, at least one.
    hours : mapping of point id to PointHours
        As for `assess.assess_day`: what is not there is unknown.
    """
    members, added = members_of(hours), added_by(party)
    found = {}
    for place in dict.fromkeys(places):
        (scene,) = scenes(tour, road_round(tour, place), instants, hours, limits)
        judging = Judging(
            party=party,
            limits=limits,
            exposure=scene.stretch.exposure,
            added=added,
            alone_step=0.0,
        )
        found[place] = _judged(judging, scene, instants, members)
    return found


def _judged(
    judging: Judging, scene: Scene, instants: Instants, members: tuple[int, ...]
) -> RoadWeather:
    both = BothWays(scene, judging.party, judging.limits)
    readings = [one for one in both.readings(scene) if not one[0].by_heading]
    minutes = (instants - scene.first_hour).astype(np.float64) / 60.0
    hour = hour_of(minutes) - scene.hourly.memory
    hours = PassageHours(hour, hour)
    tables = hour_tables(judging, readings, hours, members, 1, frozenset())
    place = hours.places(tables.members) + hours.count * np.arange(tables.members)[:, None]
    shape = prod(members), instants.size
    told = ToldPiece(
        judging=judging,
        scene=both.of_first_member(scene),
        readings=both.readings_of_first_member(readings),
        enter=minutes,
        leave=minutes,
        stand_in=np.zeros(instants.shape, np.bool_),
        of_the_minute=(),
    )
    severity = np.broadcast_to(tables.severity.take(place), shape)
    return RoadWeather(
        pace=np.broadcast_to(_pace(both, hour), shape),
        severity=severity,
        findings=Findings([told], severity[:1]),
    )


def _pace(both: BothWays, hour: Indices) -> Floats:
    distinct, number = both.paces
    return np.atleast_2d(distinct[number.reshape(-1, number.shape[-1])[:, hour]])
