"""A chosen plan ridden through every member of the weather: how often it holds."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from replanner.hazards.model import AVOID, CAUTION, NO_GO, Floats
from replanner.planning.build import BuiltDay
from replanner.planning.build_way import BuiltWay
from replanner.planning.leaving import HARDLY_BETTER, leaving, setting_out
from replanner.planning.plain_roads import RoadPassage
from replanner.planning.problem import DaySolution
from replanner.trip.model import LegId
from replanner.trip.windows import BanKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Replay:
    """How often, over the members, a plan holds; shares from 0 to 1.

    Parameters
    ----------
    go, calm : mapping of LegId to float
        Share in which each leg stays below no-go, and below avoid.
    holds : float
        Share in which no leg or plain road is no-go, every window, sailing and limit is kept and
        the day is in by its hard limit.
    in_before_dusk : float
        Share in which it holds and is in before civil dusk as well.
    breaks : tuple of float
        By visit: the share in which the plan first breaks there; coming in past the hard limit
        counts for the last one. Plain road counts for none: another start need not mend it.
    """

    members: int
    go: Mapping[LegId, float]
    calm: Mapping[LegId, float]
    holds: float
    in_before_dusk: float
    breaks: tuple[float, ...]


def replay(built: BuiltDay, solution: DaySolution) -> Replay:
    """Ride a plan in each member: its own hazards and riding times, the plan's order and starts.

    A leg starts when the plan says, or when the rider gets there later; a member in which a
    missed window or sailing breaks the plan does not hold. Without a member axis there is one.

    Raises
    ------
    ValueError
        If legs have been assessed over different numbers of members.
    """
    ways = [built.way(visit.leg, visit.way) for visit in solution.visits]
    levels = [severity_by_member(way) for way in ways]
    counts = {level.shape[0] for level in levels}
    if len(counts) > 1:
        raise ValueError(f"legs are assessed over different numbers of members: {sorted(counts)}")
    members = counts.pop() if counts else 1
    severity = np.zeros((len(ways), members))
    breaks = np.zeros((len(ways), members), dtype=np.bool_)
    holds = np.ones(members, dtype=np.bool_)
    dusk = np.ones(members, dtype=np.bool_)
    for member in range(members):
        worst, broken, in_time, roads_go = _ride(built, solution, ways, levels, member)
        severity[:, member] = worst
        holds[member] = broken is None and roads_go
        dusk[member] = holds[member] and in_time
        if broken is not None and ways:
            breaks[broken, member] = True
    names = [built.legs[visit.leg].leg.id for visit in solution.visits]
    return Replay(
        members=members,
        go={leg: float(np.mean(row < NO_GO)) for leg, row in zip(names, severity, strict=True)},
        calm={leg: float(np.mean(row < AVOID)) for leg, row in zip(names, severity, strict=True)},
        holds=float(holds.mean()),
        in_before_dusk=float(dusk.mean()),
        breaks=tuple(float(share) for share in breaks.mean(axis=1)),
    )


def _ride(
    built: BuiltDay,
    solution: DaySolution,
    ways: list[BuiltWay],
    levels: list[Floats],
    member: int,
) -> tuple[list[float], int | None, bool, bool]:
    """Return each leg's severity in a member, the visit it breaks at, and if in before dusk.

    Last comes whether no plain road is no-go. `levels` are the severities of the ways by member and
    start. Once late beyond the day's slots, the last slot stands for the hour.
    """
    problem, slot_minutes = built.problem, built.clock.slot_minutes
    place, minute = problem.start_place, float(solution.leave_slot * slot_minutes)
    worst: list[float] = []
    broken: int | None = None
    roads_go = True
    for number, (visit, way, by_member) in enumerate(
        zip(solution.visits, ways, levels, strict=True)
    ):
        entry = problem.legs[visit.leg].ways[visit.way].start
        if roads_go and built.looked_at(place, entry):
            free = slot_from(minute, slot_minutes)
            start = visit.start_slot
            if number:
                left = leaving(problem, place, entry, free, start, within=HARDLY_BETTER)
            else:
                left = setting_out(problem, entry, free, start, within=HARDLY_BETTER)
            roads_go = _goes(built.road(place, entry, left.slot), member)
        ready = minute + float(built.connector_minutes[place, entry])
        slot = max(visit.start_slot, slot_from(ready, slot_minutes))
        kept = slot < problem.slots
        slot = min(slot, problem.slots - 1)
        level = float(by_member[member, slot])
        worst.append(level)
        kept = kept and level < NO_GO and not fixed_ban(way, slot)
        if broken is None and not kept:
            broken = number
        minute = slot * slot_minutes + member_minutes(way, member, slot)
        place = problem.legs[visit.leg].ways[visit.way].end
    arrival = minute + float(built.connector_minutes[place, problem.end_place])
    if roads_go and built.looked_at(place, problem.end_place):
        free = slot_from(minute, slot_minutes)
        home = leaving(
            problem, place, problem.end_place, free, solution.finish_slot, within=HARDLY_BETTER
        )
        roads_go = _goes(built.road(place, problem.end_place, home.slot), member)
    first, clock = built.clock.first_slot, built.clock
    if broken is None and arrival > (clock.by - first).total_seconds() / 60.0:
        broken = max(len(ways) - 1, 0)
    in_time = (
        clock.civil_dusk is None or arrival <= (clock.civil_dusk - first).total_seconds() / 60.0
    )
    return worst, broken, in_time, roads_go


def slot_from(minute: float, slot_minutes: int) -> int:
    """Return the first slot not before a minute."""
    return int(np.ceil(round(minute / slot_minutes, 6)))


def _goes(passage: RoadPassage | None, member: int) -> bool:
    return passage is None or not passage.no_go_in()[member]


def severity_by_member(way: BuiltWay) -> Floats:
    """Return the severity by member and start; unknown is caution."""
    severity = way.assessed.severity.reshape(-1, way.assessed.starts.size)
    return np.asarray(np.where(np.isnan(severity), CAUTION, severity))


def member_minutes(way: BuiltWay, member: int, slot: int) -> float:
    """Return a member's minutes: its own riding where the plan reckons with the cautious one."""
    own = way.assessed.piece_minutes.reshape(len(way.assessed.piece_names), -1, way.worth.size)
    cautious = way.cautious[:, slot].sum()
    return float(way.minutes[slot] - cautious + own[:, member, slot].sum())


def fixed_ban(way: BuiltWay, slot: int) -> bool:
    """Return whether anything but the weather forbids the start."""
    return any(forbidden[slot] and ban.kind is not BanKind.HAZARD for ban, forbidden in way.bans)
