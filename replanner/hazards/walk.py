"""A leg walked piece by piece: when each is passed, and what every hazard says of it then."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from replanner.hazards.both_ways import BothWays
from replanner.hazards.combine import (
    lifted,
    respond,
    section_severity,
    stricter_for,
    worst_by_kind,
)
from replanner.hazards.halts import light_fits
from replanner.hazards.judged import Judged, judged_by_hour, judged_by_minute
from replanner.hazards.limits import Limits
from replanner.hazards.model import Floats, Hazard, Kind, Party, Reading, Resolution
from replanner.hazards.passage import Booleans, gather, hour_of, instants, worst_around
from replanner.hazards.register import HAZARDS
from replanner.hazards.scene import Scene
from replanner.trip.model import Exposure, Halt, Leg, Way


@dataclass(frozen=True, slots=True, kw_only=True)
class Ride:
    """Who rides what, which way.

    `rideable` says for each start, shape (..., S), whether a stand-in can be ridden instead.
    `late` are, for each piece in the way ridden, the minutes by which breaks may put it off.
    """

    leg: Leg
    way: Way
    party: Party
    limits: Limits
    rideable: Booleans
    late: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Walked:
    """One piece as passed, for each start."""

    scene: Scene
    enter: Floats  # (..., S), minutes since the first hour of the table
    minutes: Floats  # (..., S)
    judged: tuple[Judged, ...]  # by the hour and by the minute, where any hazard is
    responses: tuple[Floats, ...]  # of each of these (Z, ..., U), by party and elementary table
    severity: Floats  # (..., S)
    halt_fits: Mapping[int, Booleans]  # by the number of the halt in the leg, (..., S)


def walk(
    ride: Ride, scenes: tuple[Scene, ...], both: tuple[BothWays, ...], enter: Floats
) -> tuple[Walked, ...]:
    """Walk the pieces in order.

    Parameters
    ----------
    both : tuple of BothWays
        One for each scene.
    enter : ndarray, shape (..., S)
        When the leg is begun, in minutes since the first hour of the scenes.
    """
    walked = []
    for scene, shared, late in zip(scenes, both, ride.late, strict=True):
        piece, leave = _walk_piece(ride, scene, shared, enter, late)
        walked.append(piece)
        enter = leave
    return tuple(walked)


def _walk_piece(
    ride: Ride, scene: Scene, both: BothWays, enter: Floats, late: float
) -> tuple[Walked, Floats]:
    """Return the piece as passed, and when it is left if no break is taken."""
    dry = scene.stretch.duration_minutes
    minutes = dry * _at(both.pace, enter + dry / 2.0, outside=float(both.pace.max()))
    halted, halt_fits = _halt(ride, scene, both, enter, minutes, late)
    leave = enter + minutes + halted
    judged = _judge(ride, scene, both, enter, leave + late)
    responses = tuple(_responses(ride, scene, each) for each in judged)
    walked = Walked(
        scene=scene,
        enter=enter,
        minutes=minutes,
        judged=judged,
        responses=responses,
        severity=_severity(ride, scene, judged, responses, enter.shape),
        halt_fits=halt_fits,
    )
    return walked, leave


def _responses(ride: Ride, scene: Scene, judged: Judged) -> Floats:
    """Return each hazard's level as this party has to take it on a road as open as this one."""
    exposure = scene.stretch.exposure
    # no phone and nobody else: an exposed section is one class stricter (common practice)
    alone = ride.party.alone and not ride.leg.phone and exposure is Exposure.EXPOSED
    step = ride.limits.figure("party.level_step") if alone else 0.0
    responses = np.empty(judged.level.shape)
    for at, (hazard, level) in enumerate(zip(judged.hazards, judged.level, strict=True)):
        responses[at] = respond(
            lifted(stricter_for(ride.party, hazard, level), step),
            exposure,
            shelter_helps=hazard.shelter_helps,
            stand_in=judged.stand_in,
        )
    return responses


def _severity(
    ride: Ride,
    scene: Scene,
    judged: tuple[Judged, ...],
    responses: tuple[Floats, ...],
    shape: tuple[int, ...],
) -> Floats:
    """Return the severity of the piece at each start; only the worst of each kind is spread out."""
    kinds: list[Kind] = []
    worst: list[Floats] = [np.zeros((0, *shape))]
    unknown: list[Booleans] = [np.zeros((0, *shape), np.bool_)]
    for each, response in zip(judged, responses, strict=True):
        by_kind = worst_by_kind(response, [hazard.kind for hazard in each.hazards])
        kinds += by_kind
        worst.append(each.at_starts(np.stack(list(by_kind.values()))))
        unknown.append(each.at_starts(np.logical_or.reduce(each.unknown, axis=0, keepdims=True)))
    return section_severity(
        np.concatenate(worst),
        np.concatenate(unknown),
        kinds,
        exposure=scene.stretch.exposure,
        party=ride.party,
    )


def _at(hourly: Floats, minutes: Floats, *, outside: float) -> Floats:
    found = gather(hourly, hour_of(minutes))
    return np.where(np.isnan(found), outside, found)


def _halt(
    ride: Ride, scene: Scene, both: BothWays, enter: Floats, minutes: Floats, late: float
) -> tuple[Floats, dict[int, Booleans]]:
    """Return the minutes halted on a piece, and where each halt has what it needs."""
    spent, fits = np.zeros(minutes.shape), {}
    begin = scene.piece.from_fraction
    span = scene.piece.to_fraction - begin
    for number, halt in _halts_on(ride, scene):
        share = (_fraction(halt, ride.way) - begin) / span
        arrives = enter + share * minutes + spent
        spoilt = ~both.halt_fits(halt)
        over = arrives + halt.minutes + late
        worst = worst_around(spoilt.astype(np.float64)[None], arrives, over)
        dry = (worst.level[0] == 0) & ~worst.unknown[0]
        fits[number] = dry & light_fits(halt, scene.at(arrives))
        spent = spent + np.where(fits[number] | (not halt.optional), halt.minutes, 0.0)
    return spent, fits


def _halts_on(ride: Ride, scene: Scene) -> list[tuple[int, Halt]]:
    """Return the halts of a piece in the order met, with their number in the leg."""
    begin, end = scene.piece.from_fraction, scene.piece.to_fraction
    found = [
        (number, halt)
        for number, halt in enumerate(ride.leg.halts)
        if begin <= _fraction(halt, ride.way) < end or _fraction(halt, ride.way) == end == 1.0
    ]
    return sorted(found, key=lambda item: _fraction(item[1], ride.way))


def _fraction(halt: Halt, way: Way) -> float:
    return halt.fraction if way is Way.FORWARD else 1.0 - halt.fraction


def _judge(
    ride: Ride, scene: Scene, both: BothWays, enter: Floats, leave: Floats
) -> tuple[Judged, ...]:
    """Ask every hazard of the register that can touch the piece."""
    moments = instants(enter, leave)
    passing = scene.at(moments)
    by_hour: list[tuple[Hazard, Reading]] = []
    by_minute: list[tuple[Hazard, Reading]] = []
    for hazard in HAZARDS:
        if hazard.resolution is Resolution.HOUR:
            found, readings = both.reading(hazard, scene), by_hour
        else:
            found = hazard.assess(scene.stretch, passing, ride.party, ride.limits)
            readings = by_minute
        if found is not None:
            readings.append((hazard, found))
    judged = []
    if by_hour:
        judged.append(judged_by_hour(by_hour, enter, leave, ride.rideable))
    if by_minute:
        judged.append(judged_by_minute(by_minute, moments, ride.rideable))
    return tuple(judged)
