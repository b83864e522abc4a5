"""A leg walked piece by piece: when each is passed, and how bad it then is."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import prod

import numpy as np

from replanner.hazards.both_ways import BothWays
from replanner.hazards.by_hour import PassageHours
from replanner.hazards.halts import light_fits
from replanner.hazards.judge import judge
from replanner.hazards.judging import Judging
from replanner.hazards.limits import Limits
from replanner.hazards.model import Booleans, Floats, Party
from replanner.hazards.passage import hour_of
from replanner.hazards.passages import Passages, cells, entered
from replanner.hazards.scene import Scene
from replanner.hazards.told import ToldPiece
from replanner.trip.model import Exposure, Halt, Leg, Way


@dataclass(frozen=True, slots=True, kw_only=True)
class Ride:
    """Who rides what, which way.

    Parameters
    ----------
    added : mapping of str to float
        What the party adds to the level of each hazard, by its name (`judging.added_by`).
    members : tuple of int
        The leading axes of the tables, M members in all.
    rideable : ndarray of bool, shape (M, S), or None
        Whether a stand-in can be ridden instead; None: there is none.
    late : tuple of float
        For each piece in the way ridden, the minutes by which breaks may put it off.
    """

    leg: Leg
    way: Way
    party: Party
    limits: Limits
    added: Mapping[str, float]
    members: tuple[int, ...]
    rideable: Booleans | None
    late: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Walked:
    """One piece as passed, for each start of each member.

    Parameters
    ----------
    minutes, severity : ndarray, shape (M, S)
    halt_fits : mapping of int to ndarray of bool, shape (M, S)
        By the number of the halt in the leg.
    unknown : tuple of str
        Hazards of which nothing is known at any start.
    told : ToldPiece
        What can be told of it.
    """

    minutes: Floats
    severity: Floats
    halt_fits: Mapping[int, Booleans]
    unknown: tuple[str, ...]
    told: ToldPiece


def walk(
    ride: Ride, scenes: Sequence[Scene], both: Sequence[BothWays], enter: Floats
) -> tuple[Walked, ...]:
    """Walk the pieces in order.

    Parameters
    ----------
    both : sequence of BothWays
        One for each scene.
    enter : ndarray, shape (S,)
        When the leg is begun, in minutes since the first hour of the scenes.
    """
    walked = []
    passages = entered(enter, prod(ride.members))
    for scene, shared, late in zip(scenes, both, ride.late, strict=True):
        piece, left = _walk_piece(ride, scene, shared, passages, late)
        walked.append(piece)
        passages = left
    return tuple(walked)


def _walk_piece(
    ride: Ride, scene: Scene, both: BothWays, passages: Passages, late: float
) -> tuple[Walked, Passages]:
    """Return the piece as passed, and the passages that enter the next one."""
    ridden = _ride(scene, both, passages)
    passed, halt_fits = _halt(ride, scene, both, ridden, late)
    nothing = np.zeros(passed.enter.shape)
    entering_next = Passages(passed.leave, nothing, nothing, passed.number)
    stand_in = None
    if ride.rideable is not None and scene.stretch.exposure is Exposure.EXPOSED:
        passed, by = passed.told_apart(ride.rideable, 2)
        stand_in = by > 0
    judging = _judging(ride, scene)
    leave = passed.leave + late
    readings = both.readings(scene)
    judged = judge(judging, scene, both, readings, ride.members, passed, leave, stand_in)
    walked = Walked(
        minutes=passed.minutes.take(passed.number),
        severity=judged.severity,
        halt_fits=halt_fits,
        unknown=judged.unknown,
        told=ToldPiece.of(judging, scene, both, readings, passed, leave, stand_in),
    )
    return walked, entering_next


def _judging(ride: Ride, scene: Scene) -> Judging:
    exposure = scene.stretch.exposure
    # no phone and nobody else: an exposed section is one class stricter (common practice)
    alone = ride.party.alone and not ride.leg.phone and exposure is Exposure.EXPOSED
    return Judging(
        party=ride.party,
        limits=ride.limits,
        exposure=exposure,
        added=ride.added,
        alone_step=ride.limits.figure("party.level_step") if alone else 0.0,
    )


def _ride(scene: Scene, both: BothWays, passages: Passages) -> Passages:
    """Return the passages with the minutes ridden, by the pace of the hour of half of them."""
    dry = scene.stretch.duration_minutes
    distinct, hourly = both.paces
    hours = hourly.shape[-1]  # the last stands for all hours outside the table
    hour = np.minimum(hour_of(passages.enter + dry / 2.0) - scene.hourly.memory, hours - 1)
    if distinct[0] == distinct[-1]:
        by = np.zeros(hour.shape, np.int64)
    elif hourly.ndim == 1:
        by = hourly[hour]
    else:
        slowed = hourly.take(cells(hour, passages.number, hours))
        passages, by = passages.told_apart(slowed, distinct.size)
    return passages._replace(minutes=dry * distinct[by])


def _halt(
    ride: Ride, scene: Scene, both: BothWays, passages: Passages, late: float
) -> tuple[Passages, dict[int, Booleans]]:
    """Return the passages with the minutes halted, and where each halt has what it needs."""
    fits: dict[int, Booleans] = {}
    begin = scene.piece.from_fraction
    span = scene.piece.to_fraction - begin
    for number, halt in _halts_on(ride, scene):
        share = (_fraction(halt, ride.way) - begin) / span
        arrives = passages.enter + share * passages.minutes + passages.halted
        over = arrives + halt.minutes + late
        hours = PassageHours(
            hour_of(arrives) - scene.hourly.memory, hour_of(over) - scene.hourly.memory
        )
        rows, dry = hours.hold_throughout(both.halt_fits(halt), ride.members)
        light = light_fits(halt, scene.at(arrives))
        place = hours.places(rows)
        if rows == 1:
            made = dry.take(place) & light
            fits[number] = made.take(passages.number)
        else:
            fits[number] = dry.take(cells(place, passages.number, hours.count))
            fits[number] &= light.take(passages.number)
            made = np.ones(light.shape, np.bool_)
            if halt.optional:
                passages, by = passages.told_apart(fits[number], 2)
                made = by > 0
        spent = np.where(made | (not halt.optional), halt.minutes, 0.0)
        passages = passages._replace(halted=passages.halted + spent)
    return passages, fits


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
