"""A leg walked piece by piece: when each is passed, and what every hazard says of it then."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from replanner.hazards.combine import lifted, respond, section_severity, stricter_for
from replanner.hazards.halts import light_fits, weather_fits
from replanner.hazards.limits import Limit, Limits
from replanner.hazards.model import Floats, Hazard, Party, Reading, Resolution
from replanner.hazards.pace import pace_factor
from replanner.hazards.passage import gather, instants, worst_around
from replanner.hazards.register import HAZARDS
from replanner.hazards.scene import Scene
from replanner.trip.model import Exposure, Halt, Leg, Way

Booleans = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ride:
    """Who rides what, which way.

    `rideable` says for each start, shape (..., S), whether a stand-in can be ridden instead.
    """

    leg: Leg
    way: Way
    party: Party
    limits: Limits
    rideable: Booleans


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What one hazard says of one piece, for each start."""

    hazard: Hazard
    level: Floats  # (..., S): the worst known, 0 where none is
    unknown: Booleans  # (..., S)
    value: Floats  # (..., S): the figure that was worst
    minute: Floats  # (..., S): when it stands, since the first hour of the table
    limit: Limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Walked:
    """One piece as passed, for each start."""

    scene: Scene
    enter: Floats  # (..., S), minutes since the first hour of the table
    minutes: Floats  # (..., S)
    judged: tuple[Judged, ...]
    responses: Floats  # (Z, ..., S), after the party and the elementary table
    severity: Floats  # (..., S)
    halt_fits: Mapping[int, Booleans]  # by the number of the halt in the leg, (..., S)


def walk(ride: Ride, scenes: tuple[Scene, ...], enter: Floats) -> tuple[Walked, ...]:
    """Walk the pieces in order.

    Parameters
    ----------
    enter : ndarray, shape (..., S)
        When the leg is begun, in minutes since the first hour of the scenes.
    """
    walked = []
    for scene in scenes:
        piece, leave = _walk_piece(ride, scene, enter)
        walked.append(piece)
        enter = leave
    return tuple(walked)


def _walk_piece(ride: Ride, scene: Scene, enter: Floats) -> tuple[Walked, Floats]:
    """Return the piece as passed, and when it is left."""
    factor = pace_factor(scene.stretch, scene.hourly, ride.party, ride.limits)
    dry = scene.stretch.duration_minutes
    minutes = dry * _at(factor, enter + dry / 2.0, outside=float(factor.max()))
    halted, halt_fits = _halt(ride, scene, enter, minutes)
    leave = enter + minutes + halted
    judged = _judge(ride, scene, enter, leave)
    responses = _responses(ride, scene, judged, enter.shape)
    unknown = [one.unknown for one in judged]
    severity = section_severity(
        responses,
        np.stack(unknown) if unknown else np.zeros(responses.shape, np.bool_),
        [one.hazard.kind for one in judged],
        exposure=scene.stretch.exposure,
        party=ride.party,
    )
    walked = Walked(
        scene=scene,
        enter=enter,
        minutes=minutes,
        judged=judged,
        responses=responses,
        severity=severity,
        halt_fits=halt_fits,
    )
    return walked, leave


def _responses(
    ride: Ride, scene: Scene, judged: tuple[Judged, ...], shape: tuple[int, ...]
) -> Floats:
    """Return each hazard's level as this party has to take it on a road as open as this one."""
    exposure = scene.stretch.exposure
    # no phone and nobody else: an exposed section is one class stricter (common practice)
    alone = ride.party.alone and not ride.leg.phone and exposure is Exposure.EXPOSED
    step = ride.limits.figure("party.level_step") if alone else 0.0
    responses = np.zeros((len(judged), *shape))
    for at, one in enumerate(judged):
        responses[at] = respond(
            lifted(stricter_for(ride.party, one.hazard, one.level), step),
            exposure,
            shelter_helps=one.hazard.shelter_helps,
            stand_in=ride.rideable,
        )
    return responses


def _at(hourly: Floats, minutes: Floats, *, outside: float) -> Floats:
    found = gather(hourly, np.floor(minutes / 60.0).astype(np.int64))
    return np.where(np.isnan(found), outside, found)


def _halt(
    ride: Ride, scene: Scene, enter: Floats, minutes: Floats
) -> tuple[Floats, dict[int, Booleans]]:
    """Return the minutes halted on a piece, and where each halt has what it needs."""
    spent, fits = np.zeros(minutes.shape), {}
    begin = scene.piece.from_fraction
    span = scene.piece.to_fraction - begin
    for number, halt in _halts_on(ride, scene):
        share = (_fraction(halt, ride.way) - begin) / span
        arrives = enter + share * minutes + spent
        spoilt = ~weather_fits(halt, scene.hourly, ride.limits)
        worst = worst_around(spoilt.astype(np.float64)[None], arrives, arrives + halt.minutes)
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


def _judge(ride: Ride, scene: Scene, enter: Floats, leave: Floats) -> tuple[Judged, ...]:
    """Ask every hazard of the register that can touch the piece."""
    moments = instants(enter, leave)
    passing = scene.at(moments)
    hourly: list[tuple[Hazard, Reading]] = []
    judged: list[Judged] = []
    for hazard in HAZARDS:
        on_the_hour = hazard.resolution is Resolution.HOUR
        conditions = scene.hourly if on_the_hour else passing
        reading = hazard.assess(scene.stretch, conditions, ride.party, ride.limits)
        if reading is None:
            continue
        if on_the_hour:
            hourly.append((hazard, reading))
        else:
            judged.append(_worst_moment(hazard, reading, moments))
    return tuple(_worst_hours(hourly, enter, leave)) + tuple(judged)


def _worst_hours(
    readings: list[tuple[Hazard, Reading]], enter: Floats, leave: Floats
) -> list[Judged]:
    if not readings:
        return []
    shape = np.broadcast_shapes(
        (*enter.shape[:-1], 1), *(reading.level.shape for _, reading in readings)
    )
    levels = np.stack([np.broadcast_to(reading.level, shape) for _, reading in readings])
    values = np.stack([np.broadcast_to(reading.value, shape) for _, reading in readings])
    worst = worst_around(levels, enter, leave)
    figures = gather(values, worst.hour)
    return [
        Judged(
            hazard=hazard,
            level=worst.level[at],
            unknown=worst.unknown[at],
            value=figures[at],
            minute=60.0 * worst.hour[at],
            limit=reading.limit,
        )
        for at, (hazard, reading) in enumerate(readings)
    ]


def _worst_moment(hazard: Hazard, reading: Reading, moments: Floats) -> Judged:
    """Take the worst instant of a passage; of equal levels the furthest beyond the limit."""
    level = np.where(np.isnan(reading.level), 0.0, reading.level)
    value = np.broadcast_to(reading.value, level.shape)
    beyond = value if reading.limit.rising else -value
    beyond = np.where(np.isnan(beyond), -np.inf, beyond)
    at = np.where(level == level.max(axis=0), beyond, -np.inf).argmax(axis=0)[None]
    return Judged(
        hazard=hazard,
        level=np.take_along_axis(level, at, axis=0)[0],
        unknown=np.asarray(np.isnan(reading.level).any(axis=0)),
        value=np.take_along_axis(value, at, axis=0)[0],
        minute=np.take_along_axis(np.broadcast_to(moments, level.shape), at, axis=0)[0],
        limit=reading.limit,
    )
