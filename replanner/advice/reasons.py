"""Reasons, worked out: each change against the rider's own order is undone alone and solved again.

The difference in value is what the change is worth; the hazard record of the own order at the
hour it would have been met is why. Nothing here is worded.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

import numpy as np

from replanner.advice.briefing import Change, ChangeKind, HazardNote, LeftOut
from replanner.hazards.model import CAUTION, Finding
from replanner.planning.build import BuiltDay
from replanner.planning.day_search import DaySearch
from replanner.planning.own_run import OwnRun
from replanner.planning.problem import DayProblem, DaySolution
from replanner.trip.edits import Demands
from replanner.trip.model import LegId
from replanner.trip.windows import Ban, BanKind

# A departure is told as a change from this difference on: less is not worth a line. Assumption.
DEPARTURE_MATTERS_MINUTES = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A day solved, with what is needed to argue about it."""

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
        hour=utc(finding.hour),
        section=finding.section,
        unknown=finding.unknown,
    )


def utc(moment: np.datetime64) -> datetime:
    """Return an instant of the arrays as a UTC-aware datetime."""
    return datetime.fromtimestamp(int(moment.astype("datetime64[s]").astype(np.int64)), tz=UTC)


def slot_instant(built: BuiltDay, slot: int) -> datetime:
    """Return the instant of a slot."""
    return utc(built.clock.instants[slot])


def stand_in_of(built: BuiltDay, leg: int) -> int | None:
    """Return the number of a leg's stand-in in the problem; None if it has none there."""
    stand_in = built.legs[leg].leg.stand_in
    if stand_in is None:
        return None
    return next((n for n, other in enumerate(built.legs) if other.leg.id == stand_in.leg), None)


def changes(case: Case, moved: Collection[LegId] = ()) -> tuple[Change, ...]:
    """Return every change against the own order within the day.

    Legs in `moved` have changed the day: they are told as that, not here.
    """
    found = (*_replaced_or_left_out(case), *_moved(case), *_added(case), *_departure(case))
    return tuple(change for change in found if change.leg not in moved)


def dearest_first(found: Iterable[Change]) -> tuple[Change, ...]:
    """Return changes by what undoing them would lose; those that cannot be undone before all."""
    return tuple(
        sorted(
            found,
            key=lambda change: (change.worth_minutes is not None, -(change.worth_minutes or 0.0)),
        )
    )


def left_out(case: Case, moved: Mapping[LegId, date]) -> tuple[LeftOut, ...]:
    """Return every leg of the day not ridden, why, and the price of riding it all the same.

    Parameters
    ----------
    moved : mapping of LegId to date
        Legs moved between the days, with the day that rides them.
    """
    built, ridden = case.built, set(case.solution.legs)
    in_problem = {built_leg.leg.id: number for number, built_leg in enumerate(built.legs)}
    stand_ins = {stand_in_of(built, number) for number in in_problem.values()}
    told: list[LeftOut] = []
    for leg_id in built.day.legs:
        number = in_problem.get(leg_id)
        if number in ridden:
            continue
        name = built.tour.legs[leg_id].name
        if leg_id in moved:
            told.append(
                LeftOut(
                    id=leg_id,
                    name=name,
                    reason=None,
                    cause="other day",
                    price_minutes=None,
                    moved_to=moved[leg_id],
                )
            )
        elif number is None:
            told.append(_asked_for(case.demands, leg_id, name))
        elif number not in stand_ins or leg_id in built.day.own_order:
            told.append(_not_ridden(case, number))
    return tuple(told)


def left_out_without_plan(built: BuiltDay, own: OwnRun, demands: Demands) -> tuple[LeftOut, ...]:
    """Return every leg of the own order of a day that has no plan, with what stands against it."""
    numbers = {built_leg.leg.id: number for number, built_leg in enumerate(built.legs)}
    told: list[LeftOut] = []
    for leg_id in built.day.own_order:
        name = built.tour.legs[leg_id].name
        number = numbers.get(leg_id)
        if number is None:
            told.append(_asked_for(demands, leg_id, name))
            continue
        met = own.met(number)
        worst = met.worst if met is not None and met.worst else mildest(built, number)
        kind = _always_banned_by(built, number)
        told.append(
            LeftOut(
                id=leg_id,
                name=name,
                reason=note_of(worst),
                cause="hazard" if kind is BanKind.HAZARD else "no time",
                price_minutes=None,
                to_ride_it=_first_obstacle(built, number),
            )
        )
    return tuple(told)


def _asked_for(demands: Demands, leg: LegId, name: str) -> LeftOut:
    if leg in demands.closed:
        cause = "closed"
    elif any(moved == leg for moved, _ in demands.moved):
        cause = "other day"
    else:
        cause = "asked"
    return LeftOut(id=leg, name=name, reason=None, cause=cause, price_minutes=None)


def _not_ridden(case: Case, leg: int) -> LeftOut:
    built = case.built
    forced = case.search.best_with(frozenset({leg}))
    met = worst_when_met(case, leg)
    stand_in = stand_in_of(built, leg)
    if forced.solution is None:
        cause = "hazard" if _always_banned_by(built, leg) is BanKind.HAZARD else "no time"
    elif stand_in in case.solution.legs:
        cause = "stand-in"
    elif met is not None and met.severity >= CAUTION:
        cause = "hazard"
    elif set(case.solution.legs) - set(forced.solution.legs):
        cause = "no time"
    else:
        cause = "not worth it"
    return LeftOut(
        id=built.legs[leg].leg.id,
        name=built.legs[leg].leg.name,
        reason=note_of(met) if cause in ("hazard", "stand-in") else None,
        cause=cause,
        price_minutes=_price(case, forced.solution),
        to_ride_it="" if forced.solution else _first_obstacle(built, leg),
    )


def worst_when_met(case: Case, leg: int) -> Finding | None:
    """Return the worst hazard of a leg when the own order meets it, else at its mildest start."""
    met = case.own.met(leg)
    if met is not None and met.worst is not None:
        return met.worst
    return mildest(case.built, leg)


def mildest(built: BuiltDay, leg: int) -> Finding | None:
    """Return the worst hazard of a leg at the start that suffers least; the earliest of equals."""
    best: tuple[float, int, Finding | None] | None = None
    for way in built.legs[leg].ways:
        severity = way.assessed.severity.reshape(-1, built.problem.slots)[0]
        slot = int(np.nanargmin(severity))
        if best is None or severity[slot] < best[0]:
            best = (float(severity[slot]), slot, way.assessed.findings[slot])
    return None if best is None else best[2]


def _always_banned_by(built: BuiltDay, leg: int) -> BanKind | None:
    """Return what forbids a leg at every slot of the day; None: it may start at some."""
    bans = [built.ban(leg, slot) for slot in range(built.clock.earliest, built.problem.slots)]
    if not bans or None in bans:
        return None
    kinds = [ban.kind for ban in bans if ban is not None]
    return BanKind.HAZARD if BanKind.HAZARD in kinds else kinds[0]


def _first_obstacle(built: BuiltDay, leg: int) -> str:
    """Return, in a word or two, what would have to change first for a leg to be ridden."""
    kind = _always_banned_by(built, leg)
    obstacles = {
        BanKind.HAZARD: "better weather",
        BanKind.WINDOW: "other opening hours",
        BanKind.TIDE: "another tide",
        BanKind.SAILING: "another sailing",
        BanKind.LIGHT: "more daylight",
        BanKind.ARRIVAL: "a later arrival",
        None: "more time",
    }
    return obstacles[kind]


def _price(case: Case, undone: DaySolution | None) -> float | None:
    return None if undone is None else case.solution.value - undone.value


def _replaced_or_left_out(case: Case) -> Iterable[Change]:
    built, ridden = case.built, set(case.solution.legs)
    for leg in built.own_order:
        if leg in ridden:
            continue
        stand_in = stand_in_of(built, leg)
        other = built.legs[stand_in].leg.id if stand_in in ridden and stand_in is not None else None
        met = case.own.met(leg)
        yield Change(
            kind=ChangeKind.LEFT_OUT if other is None else ChangeKind.STAND_IN,
            leg=built.legs[leg].leg.id,
            worth_minutes=_price(case, case.search.best_with(frozenset({leg})).solution),
            reason=note_of(worst_when_met(case, leg)),
            own_start=None if met is None else slot_instant(built, met.visit.start_slot),
            other_leg=other,
        )


def _added(case: Case) -> Iterable[Change]:
    built = case.built
    own = set(built.own_order)
    stand_ins = {stand_in_of(built, leg) for leg in own}
    for visit in case.solution.visits:
        if visit.leg in own or visit.leg in stand_ins:
            continue
        without = case.search.best_without(frozenset({visit.leg}))
        yield Change(
            kind=ChangeKind.ADDED,
            leg=built.legs[visit.leg].leg.id,
            worth_minutes=_price(case, without.solution),
            reason=None,
            new_start=slot_instant(built, visit.start_slot),
        )


def _moved(case: Case) -> Iterable[Change]:
    built = case.built
    ranks = {leg: rank for rank, leg in enumerate(built.problem.own_order)}
    order = [leg for leg in case.solution.legs if leg in ranks]
    stays = longest_run(ranks[leg] for leg in order)
    starts = {visit.leg: visit.start_slot for visit in case.solution.visits}
    for leg in order:
        if ranks[leg] in stays:
            continue
        met = case.own.met(leg)
        yield Change(
            kind=ChangeKind.MOVED,
            leg=built.legs[leg].leg.id,
            worth_minutes=_price(case, _solve_in_own_place(case, leg, order, ranks)),
            reason=_reason_to_move(case, leg, order),
            own_start=None if met is None else slot_instant(built, met.visit.start_slot),
            new_start=slot_instant(built, starts[leg]),
        )


def _reason_to_move(case: Case, leg: int, order: Sequence[int]) -> HazardNote | None:
    """Return the worst that the own order would meet on the leg, else on those it changed with."""
    met = [case.own.met(other) for other in (leg, *order)]
    worsts = [m.worst for m in met if m is not None and m.worst is not None]
    if worsts and met[0] is not None and met[0].worst is worsts[0]:
        own = worsts[0]
        if own.severity >= CAUTION:
            return note_of(own)
    return note_of(max(worsts, key=lambda worst: worst.severity, default=None))


def _solve_in_own_place(
    case: Case, leg: int, order: Sequence[int], ranks: dict[int, int]
) -> DaySolution | None:
    """Solve with one leg back in its own place among those ridden, everything else free."""
    pairs = [
        (leg, other) if ranks[leg] < ranks[other] else (other, leg)
        for other in order
        if other != leg
    ]
    problem = case.built.problem
    return _solved(replace(problem, before=tuple(dict.fromkeys((*problem.before, *pairs)))), leg)


def _solved(problem: DayProblem, forced: int | None = None) -> DaySolution | None:
    legs = frozenset() if forced is None else frozenset({forced})
    return DaySearch(problem).best_with(legs).solution


def _departure(case: Case) -> Iterable[Change]:
    built = case.built
    own, new = case.own.leave_slot, case.solution.leave_slot
    if abs(new - own) * built.problem.slot_minutes < DEPARTURE_MATTERS_MINUTES:
        return
    undone = _solved(replace(built.problem, earliest=own, latest=own))
    worst = case.own.worst
    yield Change(
        kind=ChangeKind.DEPARTURE,
        leg=None,
        worth_minutes=_price(case, undone),
        reason=None if worst is None else note_of(worst.worst),
        own_start=slot_instant(built, own),
        new_start=slot_instant(built, new),
    )


def longest_run(ranks: Iterable[int]) -> frozenset[int]:
    """Return the members of the longest rising run of distinct numbers; the first of equals.

    What is not in it has moved: the fewest legs told as moved.

    Examples
    --------
    >>> sorted(longest_run([2, 0, 1, 3]))
    [0, 1, 3]
    """
    runs: list[tuple[int, ...]] = [()]
    for rank in ranks:
        longest = max((run for run in runs if not run or run[-1] < rank), key=len)
        runs.append((*longest, rank))
    longest = max(runs, key=len)
    return frozenset(longest)


def ban_words(ban: Ban) -> str:
    """Return what a ban is, in a word or two."""
    return {
        BanKind.HAZARD: "no-go",
        BanKind.WINDOW: ban.name,
        BanKind.TIDE: "tide",
        BanKind.SAILING: "no sailing",
        BanKind.LIGHT: "darkness",
        BanKind.ARRIVAL: "too late",
    }[ban.kind]
