"""From hourly weather to the severity of each leg at each start.

The leg is walked piece by piece in the way ridden: weather slows a piece, halts delay the pieces
after them, and each piece is judged at the hours it is really passed in.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.both_ways import BothWays
from replanner.hazards.findings import Findings
from replanner.hazards.judging import added_by
from replanner.hazards.limits import Limits
from replanner.hazards.model import Finding, Floats, Instants, Party
from replanner.hazards.resting import Resting, latest_by_breaks
from replanner.hazards.scene import Scene, members_of, scenes, turned
from replanner.hazards.walk import Ride, Walked, walk
from replanner.trip.model import Day, Leg, LegId, Tour, Way
from replanner.trip.stretches import PointId
from replanner.trip.underway import Report
from replanner.weather.hourly import PointHours

# A stand-in that is itself avoid is no way out.
_RIDEABLE_BELOW = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LegAssessment:
    """What riding a leg one way means, for each start.

    Parameters
    ----------
    starts : ndarray of datetime64[s], shape (S,)
        Starts asked for, UTC.
    piece_names : tuple of str, length K
    piece_minutes : ndarray, shape (K, ..., S)
        Riding minutes of each piece, slowed by weather, halts not counted. [min]
    piece_severity : ndarray, shape (K, ..., S)
        0..4 after the elementary table and the adding up; unknown counts as caution here.
    severity : ndarray, shape (..., S)
        The worst over pieces.
    halt_fits : ndarray of bool, shape (H, ..., S)
        Whether each halt of the leg has the light, wind and rain it needs at that hour; True for
        halts without needs. An optional halt is reckoned to be made where it fits.
    findings : sequence of Finding or None, length S
        The worst hazard for each start (first member), its severity being its own response
        before the adding up; None where nothing is above level 1. Looked for when asked for.
    unknown : tuple of str
        Hazards that could not be judged for any start, for want of data.
    """

    leg: LegId
    way: Way
    starts: Instants
    piece_names: tuple[str, ...]
    piece_minutes: Floats
    piece_severity: Floats
    severity: Floats
    halt_fits: NDArray[np.bool_]
    findings: Sequence[Finding | None]
    unknown: tuple[str, ...]


def assess_leg(
    tour: Tour,
    leg: Leg,
    way: Way,
    starts: Instants,
    hours: Mapping[PointId, PointHours],
    party: Party,
    limits: Limits,
    *,
    stand_in: LegAssessment | None = None,
) -> LegAssessment:
    """Assess a leg ridden one way for each start.

    Parameters
    ----------
    starts : ndarray of datetime64[s], shape (S,)
        UTC, at least one.
    hours : mapping of point id to PointHours
        The tables of every point of `trip.stretches.sample_points`, all with the same leading
        axes (members). A point or an hour that is not there is unknown.
    stand_in : LegAssessment, optional
        The stand-in for the same starts: where it can be ridden, avoid on an exposed section
        of the leg becomes no-go.

    Raises
    ------
    ValueError
        If there is no start.
    """
    return _Assessor(tour, starts, hours, party, limits).assess(leg, way, stand_in)


def assess_day(
    tour: Tour,
    day: Day,
    starts: Instants,
    hours: Mapping[PointId, PointHours],
    party: Party,
    limits: Limits,
    reports: Iterable[Report] = (),
    resting: Resting | None = None,
) -> dict[tuple[LegId, Way], LegAssessment]:
    """Assess every leg of a day and every stand-in of one, in each way it may be ridden.

    `reports` are what riders have seen of any leg, `resting` the breaks they take on long ones.
    """
    assessor = _Assessor(tour, starts, hours, party, limits, tuple(reports), resting)
    return {
        (leg.id, way): assessor.assess_beside_stand_in(leg, way)
        for leg in _with_stand_ins(tour, day)
        for way in leg.ways
    }


def _with_stand_ins(tour: Tour, day: Day) -> tuple[Leg, ...]:
    wanted = dict.fromkeys(day.legs)
    for leg_id in day.legs:
        stand_in = tour.legs[leg_id].stand_in
        if stand_in is not None:
            wanted[stand_in.leg] = None
    return tuple(tour.legs[leg_id] for leg_id in wanted)


class _Assessor:
    """Assesses legs for one set of starts; what both ways or several legs share is done once."""

    def __init__(
        self,
        tour: Tour,
        starts: Instants,
        hours: Mapping[PointId, PointHours],
        party: Party,
        limits: Limits,
        reports: tuple[Report, ...] = (),
        resting: Resting | None = None,
    ) -> None:
        if starts.size == 0:
            raise ValueError("starts must hold at least one start")
        self._tour, self._starts, self._hours = tour, starts, hours
        self._party, self._limits, self._reports = party, limits, reports
        self._resting = resting
        self._added = added_by(party)
        self._members = members_of(hours)
        self._forward: dict[LegId, tuple[Scene, ...]] = {}
        self._both_ways: dict[LegId, tuple[BothWays, ...]] = {}
        self._alone: dict[tuple[LegId, Way], LegAssessment] = {}

    def assess(self, leg: Leg, way: Way, stand_in: LegAssessment | None) -> LegAssessment:
        """Assess a leg, with the assessment of its stand-in where it has one."""
        rideable = None
        if stand_in is not None:
            rideable = (stand_in.severity < _RIDEABLE_BELOW).reshape(-1, self._starts.size)
        shown, both = self._scenes(leg, way)
        ends = [scene.piece.to_fraction for scene in shown]
        ride = Ride(
            leg=leg,
            way=way,
            party=self._party,
            limits=self._limits,
            added=self._added,
            members=self._members,
            rideable=rideable,
            late=latest_by_breaks(leg, way, ends, self._resting),
        )
        begin = (self._starts - shown[0].first_hour).astype(np.float64) / 60.0
        return _assessment(ride, self._starts, walk(ride, shown, both, begin))

    def assess_beside_stand_in(self, leg: Leg, way: Way) -> LegAssessment:
        """Assess a leg knowing whether its stand-in, ridden the same way, is a way out."""
        if leg.stand_in is None:
            return self._without_stand_in(leg, way)
        other = self._tour.legs[leg.stand_in.leg]
        same_way = way if way in other.ways else Way.FORWARD
        return self.assess(leg, way, self._without_stand_in(other, same_way))

    def _without_stand_in(self, leg: Leg, way: Way) -> LegAssessment:
        if (leg.id, way) not in self._alone:
            self._alone[leg.id, way] = self.assess(leg, way, None)
        return self._alone[leg.id, way]

    def _scenes(self, leg: Leg, way: Way) -> tuple[tuple[Scene, ...], tuple[BothWays, ...]]:
        """Return the pieces in the order ridden, each with what holds of it in both ways."""
        if leg.id not in self._forward:
            told = tuple(one for one in self._reports if one.leg == leg.id)
            self._forward[leg.id] = scenes(
                self._tour, leg, self._starts, self._hours, self._limits, told
            )
            self._both_ways[leg.id] = tuple(
                BothWays(scene, self._party, self._limits) for scene in self._forward[leg.id]
            )
        forward, both = self._forward[leg.id], self._both_ways[leg.id]
        if way is Way.FORWARD:
            return forward, both
        return turned(self._tour, leg, forward), both[::-1]


def _assessment(ride: Ride, starts: Instants, walked: tuple[Walked, ...]) -> LegAssessment:
    by_piece = (len(walked), *ride.members, starts.size)
    severity = np.stack([piece.severity for piece in walked]).reshape(by_piece)
    fits = {number: made for piece in walked for number, made in piece.halt_fits.items()}
    halts = len(ride.leg.halts)
    told = [piece.told for piece in walked]
    first = np.stack([piece.severity[0] for piece in walked])
    return LegAssessment(
        leg=ride.leg.id,
        way=ride.way,
        starts=starts,
        piece_names=tuple(piece.section for piece in told),
        piece_minutes=np.stack([piece.minutes for piece in walked]).reshape(by_piece),
        piece_severity=severity,
        severity=severity.max(axis=0),
        halt_fits=np.array([fits[number] for number in range(halts)], np.bool_).reshape(
            (halts, *by_piece[1:])
        ),
        findings=Findings(told, first),
        unknown=tuple(dict.fromkeys(name for piece in walked for name in piece.unknown)),
    )
