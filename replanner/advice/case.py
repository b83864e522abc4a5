"""A day solved, and what everybody who argues about it asks of it."""

from dataclasses import dataclass

import numpy as np

from replanner.advice.briefing import HazardNote
from replanner.hazards.model import Finding
from replanner.planning.build import BuiltDay
from replanner.planning.day_search import DaySearch
from replanner.planning.own_run import OwnRun, own_leave_slot
from replanner.planning.problem import DaySolution, Visit
from replanner.trip.edits import Demands
from replanner.trip.passage import moment_of
from replanner.trip.windows import BanKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A day solved, with what is needed to argue about it.

    `own` is ridden on the day as the rider planned it, also with legs that another day has taken
    over; it is asked by leg id, its numbers need not be those of `built`.
    """

    built: BuiltDay
    search: DaySearch
    solution: DaySolution
    own: OwnRun
    demands: Demands


def note_of(finding: Finding | None) -> HazardNote | None:
    """Return a finding as the briefing tells it."""
    if finding is None:
        return None
    return HazardNote(
        name=finding.hazard,
        value=finding.value,
        limit=finding.limit,
        unit=finding.unit,
        hour=moment_of(finding.hour),
        section=finding.section,
        unknown=finding.unknown,
        also=note_of(finding.also),
    )


def stand_in_of(built: BuiltDay, leg: int) -> int | None:
    """Return the number of a leg's stand-in in the problem; None if it has none there."""
    stand_in = built.legs[leg].leg.stand_in
    if stand_in is None:
        return None
    return next((n for n, other in enumerate(built.legs) if other.leg.id == stand_in.leg), None)


def severity_of(built: BuiltDay, visit: Visit) -> float:
    """Return the severity of a leg as started (first member), 0..4."""
    severity = built.way(visit.leg, visit.way).assessed.severity
    return float(severity.reshape(-1, built.problem.slots)[0, visit.start_slot])


def worst_when_met(case: Case, leg: int) -> Finding | None:
    """Return the worst hazard of a leg when the own order meets it, else at its mildest start.

    Where the weather forbids the leg all day, the mildest start tells it best: in the dark or at
    dawn something else would stand in front.
    """
    met = case.own.met(case.built.legs[leg].leg.id)
    always = always_banned_by(case.built, leg) is BanKind.HAZARD
    if met is not None and met.worst is not None and not always:
        return met.worst
    return mildest(case.built, leg)


def mildest(built: BuiltDay, leg: int) -> Finding | None:
    """Return the worst hazard of a leg at the start that suffers least; the earliest of equals.

    Among the starts from the rider's own hour of leaving on: that is when it would be ridden.
    """
    best: tuple[float, int, Finding | None] | None = None
    earliest = own_leave_slot(built)
    for way in built.legs[leg].ways:
        severity = way.assessed.severity.reshape(-1, built.problem.slots)[0]
        slot = earliest + int(np.nanargmin(severity[earliest:]))
        if best is None or severity[slot] < best[0]:
            best = (float(severity[slot]), slot, way.assessed.findings[slot])
    return None if best is None else best[2]


def always_banned_by(built: BuiltDay, leg: int) -> BanKind | None:
    """Return what forbids a leg at every slot of the day; None: it may start at some."""
    first, *_ = ways = built.legs[leg].ways
    earliest, slots = built.clock.earliest, built.problem.slots
    if earliest >= slots or any(way.free[earliest:].any() for way in ways):
        return None
    bans = [first.ban_at(slot) for slot in range(earliest, slots)]
    kinds = [ban.kind for ban in bans if ban is not None]
    return BanKind.HAZARD if BanKind.HAZARD in kinds else kinds[0]


def is_dark(finding: Finding | None) -> bool:
    """Return whether it is for want of light that a leg is no-go, not for its weather."""
    return finding is not None and finding.hazard == "darkness"


def price(case: Case, undone: DaySolution | None) -> float | None:
    """Return what a plan made under one more demand loses; None where there is none. [min].

    Never below 0: a gain smaller than the price of leaving at another hour was not taken.
    """
    return None if undone is None else max(case.solution.value - undone.value, 0.0)
