"""From a solved day to its briefing: every figure in place, nothing worded yet."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import repeat

from replanner.advice.briefing import (
    Briefing,
    Change,
    ChangeKind,
    DayLight,
    Decision,
    DecisionPoint,
    HazardNote,
    Hurdle,
    HurdleKind,
    Odds,
    OwnOrder,
    PlanB,
    PlannedLeg,
    PlannedRoad,
    ShutHalt,
    Waiting,
)
from replanner.advice.case import Case, is_dark, note_of, severity_of
from replanner.advice.cautions import cautions_for
from replanner.advice.lead import chance
from replanner.advice.legs_left_out import left_out
from replanner.advice.reasons import WORTH_A_REASON_MINUTES, changes, dearest_first
from replanner.advice.second_plan import better_when
from replanner.advice.waiting import value_of_waiting
from replanner.planning.build import BuiltDay
from replanner.planning.fuelled_day import since_full
from replanner.planning.own_run import OwnRun
from replanner.planning.problem import DaySolution
from replanner.planning.replay import replay
from replanner.planning.slack import Spare, spare
from replanner.planning.timetable import TimedLeg, Timetable, slot_moment, timetable
from replanner.planning.turning import decision_points, turn_back
from replanner.trip.edits import Demands
from replanner.trip.fuel import km_since_full, tank_known, usable_km
from replanner.trip.model import Halt, HaltKind, Leg, LegId, LegKind, Tour
from replanner.trip.spans import span_of_day
from replanner.trip.windows import Ban, BanKind
from replanner.weather.hourly import Origin

_MEMBERS_DIFFER_BY = frozenset({"gust", "mean_wind", "rain"})
_DARK_MARGIN_MINUTES = 60.0  # trade practice: in less than an hour before civil dusk is a caution


def hurdle_of(ban: Ban, leg: LegId, at: datetime) -> Hurdle:
    """Return what a ban is to a leg that would start then; being in too late is of no leg."""
    if ban.kind is BanKind.ARRIVAL:
        return Hurdle(kind=HurdleKind(ban.name))
    name = ban.name if ban.kind is BanKind.WINDOW else ""
    return Hurdle(kind=HurdleKind(ban.kind), leg=leg, name=name, at=at)


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A leg ridden on another day than the rider put it, and what that is worth [min]."""

    leg: LegId
    from_day: date
    to_day: date
    worth_minutes: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What a briefing says beside the plan itself.

    `breaks_lack`: more is ridden in one go than the rider wants, since no plan has all breaks.
    """

    made_at: datetime
    language: str
    origin: Origin
    moved: tuple[Move, ...] = ()
    breaks_lack: bool = False


def brief(case: Case, second: DaySolution | None, setting: Setting) -> Briefing:
    """Make the briefing of a solved day, its plan B being the second plan."""
    built, solution = case.built, case.solution
    times = timetable(built, solution)
    legs = planned_legs(case, solution, times)
    found = dearest_first((*_other_days(case, setting), *changes(case, _moved(setting))))
    lost, stays = spare(built, solution), stays_at_home(case)
    roads = planned_roads(built, times)
    unknown = _unknown(case, roads or ())
    other = None if second is None else (second, timetable(built, second))
    odds = _odds(case, unknown, times.departure - setting.made_at)
    return Briefing(
        tour=built.tour.name,
        invented=built.tour.invented or setting.origin.invented,
        zone=str(built.tour.zone),
        units=built.tour.units,
        language=setting.language,
        date=built.day.date,
        made_at=setting.made_at,
        base_from=built.tour.places[built.day.start].name,
        base_to=built.tour.places[built.day.end].name,
        decision=decision_of(case, found),
        departure=None if stays else times.departure,
        arrival=None if stays else times.arrival,
        light=day_light(built),
        spare_minutes=None if stays else lost.minutes,
        spare_limit=None if stays else _spare_limit(lost),
        value_minutes=solution.value,
        proven=solution.proven,
        bound_minutes=solution.bound,
        legs=legs,
        left_out=left_out(case, _moved(setting)),
        changes=found,
        own_order=own_order(built, case.own),
        plan_b=None if other is None else _plan_b(case, *other),
        decision_points=_decision_points(case),
        odds=odds,
        warnings=None,
        cautions=cautions_for(
            hazards_met(legs, roads or ()),
            unknown=unknown,
            stale=setting.origin.stale,
            dark=_ends_dark(built, times),
            no_phone=any(not built.tour.legs[leg.id].phone for leg in legs),
            estimated_roads=bool(times.estimated),
            spur=any(built.tour.legs[leg.id].kind is LegKind.SPUR for leg in legs),
            tank=None if usable_km(built.tour) is None else tank_known(case.demands.underway),
            breaks_lack=setting.breaks_lack,
        ),
        unknown=unknown,
        origin=setting.origin,
        tonight=_tonight(case, setting),
        waiting=_waiting(case, times, other, odds, setting.made_at),
        early_minutes=_early(times),
        names=day_names(built),
        roads=roads,
    )


def hazards_met(
    legs: Iterable[PlannedLeg], roads: Iterable[PlannedRoad]
) -> Iterator[tuple[str, float]]:
    """Yield the name of the worst hazard of each leg and road, and how bad it is."""
    for leg in legs:
        if leg.hazard is not None:
            yield leg.hazard.name, leg.severity
    for road in roads:
        if road.hazard is not None:
            yield road.hazard.name, road.severity


def planned_roads(built: BuiltDay, times: Timetable) -> tuple[PlannedRoad, ...] | None:
    """Return the plain roads of a plan with the worst each meets; None: nobody has looked."""
    found = []
    for road in times.roads:
        if road.passage is None:
            return None
        met = road.passage.met()
        found.append(
            PlannedRoad(
                start=built.tour.places[road.start].name,
                end=built.tour.places[road.end].name,
                leave=road.leave,
                arrive=road.arrive,
                severity=met.severity,
                hazard=note_of(met.worst),
                waits=road.waits,
                estimated=road.estimated,
            )
        )
    return tuple(found)


def _early(times: Timetable) -> float | None:
    """Return how long the riders stand before their first leg; None: no leg, or a boat's quay."""
    if not times.legs or times.legs[0].sailing is not None:
        return None
    return (times.legs[0].start - times.legs[0].ready).total_seconds() / 60.0


def _spare_limit(lost: Spare) -> Hurdle:
    kind = HurdleKind.LIGHT if is_dark(lost.worst) else HurdleKind(lost.limit)
    name = lost.name if kind is HurdleKind.WINDOW else ""
    return Hurdle(kind=kind, leg=lost.leg, name=name)


def day_names(built: BuiltDay) -> dict[LegId, str]:
    """Return the names of every leg of the day, in its own order or not."""
    legs = (*built.day.legs, *built.day.own_order, *(one.leg.id for one in built.legs))
    return {leg: built.tour.legs[leg].name for leg in legs}


def _other_days(case: Case, setting: Setting) -> tuple[Change, ...]:
    """Return the moves between days as changes, with what the leg would meet on the own day."""
    today = case.built.day.date
    return tuple(
        Change(
            kind=ChangeKind.OTHER_DAY,
            leg=move.leg,
            worth_minutes=move.worth_minutes,
            reason=_met_note(case, move.leg),
            own_start=_met_start(case, move.leg),
            to_day=move.to_day,
        )
        for move in setting.moved
        if today in (move.from_day, move.to_day)
    )


def _met_note(case: Case, leg: LegId) -> HazardNote | None:
    met = case.own.met(leg)
    return None if met is None else note_of(met.worst)


def _met_start(case: Case, leg: LegId) -> datetime | None:
    met = case.own.met(leg)
    return None if met is None else slot_moment(case.built, met.visit.start_slot)


def _moved(setting: Setting) -> dict[LegId, date]:
    return {move.leg: move.to_day for move in setting.moved}


def _tonight(case: Case, setting: Setting) -> LegId | None:
    """Return a leg of a later day that is ridden today on the way into the base."""
    today, ridden = case.built.day.date, {leg.id for leg in _ridden(case)}
    taken = (move.leg for move in setting.moved if move.to_day == today < move.from_day)
    return next((leg for leg in taken if leg in ridden), None)


def _ridden(case: Case) -> tuple[Leg, ...]:
    return tuple(case.built.legs[number].leg for number in case.solution.legs)


def stays_at_home(case: Case) -> bool:
    """Return whether nobody leaves the base that day."""
    day = case.built.day
    return not case.solution.visits and day.start == day.end


def day_light(built: BuiltDay) -> DayLight:
    """Return the morning's light at the start and the evening's at the end of the day."""
    return DayLight(
        civil_dawn=built.light.start.civil_dawn,
        sunrise=built.light.start.sunrise,
        sunset=built.light.end.sunset,
        civil_dusk=built.light.end.civil_dusk,
        never_light=built.light.end.never_light,
    )


def own_order(built: BuiltDay, own: OwnRun) -> OwnOrder:
    """Return what keeping the own order means."""
    worst = own.worst
    broken = next((met for met in own.visits if met.ban is not None), None)
    breaks = None
    if broken is not None and broken.ban is not None:
        breaks = hurdle_of(broken.ban, broken.leg, slot_moment(built, broken.visit.start_slot))
        if breaks.kind is HurdleKind.HAZARD and is_dark(broken.worst):
            breaks = replace(breaks, kind=HurdleKind.LIGHT)
    elif own.finish_slot is None or own.finish_slot > built.problem.by:
        breaks = Hurdle(kind=HurdleKind(built.clock.by_cause))
    elif own.dry:
        breaks = Hurdle(kind=HurdleKind.TANK, leg=own.dry_leg)
    elif own.value is None:
        breaks = Hurdle(kind=HurdleKind.HALT)
    return OwnOrder(
        value_minutes=own.value,
        severity=own.severity,
        worst_leg=None if worst is None else worst.leg,
        worst=None if worst is None else note_of(worst.worst),
        worst_start=None if worst is None else slot_moment(built, worst.visit.start_slot),
        breaks=breaks,
    )


def planned_legs(case: Case, plan: DaySolution, times: Timetable) -> tuple[PlannedLeg, ...]:
    """Return the legs of a plan, timed, with the worst each meets."""
    built, begun = case.built, km_since_full(case.demands.underway)
    tanks: Iterable[tuple[tuple[float, float], ...]] = repeat(())
    if begun is not None and usable_km(built.tour) is not None:
        tanks = since_full(built, plan, begun)
    return tuple(
        replace(_planned_leg(case, plan, number, timed), since_full=tank)
        for number, (timed, tank) in enumerate(zip(times.legs, tanks, strict=False))
    )


def _planned_leg(case: Case, plan: DaySolution, number: int, timed: TimedLeg) -> PlannedLeg:
    leg, places = case.built.tour.legs[timed.leg], case.built.tour.places
    visit = timed.visit
    return PlannedLeg(
        id=leg.id,
        name=leg.name,
        kind=leg.kind.value,
        way=timed.way,
        start=timed.start,
        end=timed.end,
        severity=severity_of(case.built, visit),
        hazard=note_of(case.built.worst(visit.leg, visit.way, visit.start_slot)),
        turn_back=turn_back(case.built, plan, number),
        sailing=timed.sailing,
        halts=tuple((places[halt.place].name, reached) for halt, reached in timed.halts),
        halt_kinds=tuple(halt.kind.value for halt, _ in timed.halts),
        pumps=tuple(
            (places[halt.place].name, reached)
            for halt, reached in timed.halts
            if halt.optional and halt.kind is HaltKind.FUEL
        ),
        breaks=tuple(
            ("" if place is None else places[place].name, begins) for place, begins in timed.breaks
        ),
        note=", ".join((*timed.slow, *timed.avoided)),
        course=case.built.way(visit.leg, visit.way).passage.course(visit.start_slot),
        shut=tuple(_shut(case.built.tour, halt, passed) for halt, passed in timed.shut),
    )


def _shut(tour: Tour, halt: Halt, passed: datetime) -> ShutHalt:
    """Return a halt that its hours forbid, with its hours of that local day."""
    day, hours = passed.astimezone(tour.zone).date(), halt.hours
    opens = closes = None
    if hours is not None and day.weekday() in hours.weekdays:
        opens, closes = span_of_day(hours, day, tour.zone)
    return ShutHalt(
        place=tour.places[halt.place].name,
        kind=halt.kind.value,
        passed=passed,
        opens=opens,
        closes=closes,
    )


def _waiting(
    case: Case,
    times: Timetable,
    second: tuple[DaySolution, Timetable] | None,
    odds: Odds | None,
    now: datetime,
) -> Waiting | None:
    """Return the value of waiting; None without a plan B, or where members cannot tell odds."""
    if second is None or odds is None:
        return None
    plan, others = second
    return value_of_waiting(case, plan, (times.departure, others.departure), odds, now)


def _plan_b(case: Case, plan: DaySolution, times: Timetable) -> PlanB:
    return PlanB(
        departure=times.departure,
        arrival=times.arrival,
        legs=planned_legs(case, plan, times),
        value_minutes=plan.value,
        better_when=better_when(case, plan),
    )


def _decision_points(case: Case) -> tuple[DecisionPoint, ...]:
    tour = case.built.tour
    worst = {
        case.built.legs[visit.leg].leg.id: case.built.worst(visit.leg, visit.way, visit.start_slot)
        for visit in case.solution.visits
    }
    return tuple(
        DecisionPoint(
            leg=point.leg,
            place=point.place,
            place_name=tour.places[point.place].name,
            latest=point.latest,
            rule=note_of(worst[point.leg]),
            instead=point.instead,
            instead_name=tour.legs[point.instead].name,
            arrival_instead=point.arrival_instead,
        )
        for point in decision_points(case.built, case.solution)
    )


def _odds(case: Case, unknown: tuple[str, ...], lead: timedelta) -> Odds | None:
    """Return how often the plan holds; None where wind or rain is not known: members differ by it.

    A share of members that all lack the same figure would read as sure of what nobody knows; so
    would one of a day far ahead, where no chance is told above what its lead allows.
    """
    if not _MEMBERS_DIFFER_BY.isdisjoint(unknown):
        return None
    ridden = replay(case.built, case.solution)
    if ridden.members < 2:  # noqa: PLR2004 - one member is a forecast, not odds
        return None
    holds = chance(ridden.holds, ridden.members, lead)
    by_leg = {leg: chance(share, ridden.members, lead) for leg, share in ridden.calm.items()}
    if holds is None:
        return None
    return Odds(
        members=ridden.members,
        plan_holds=holds,
        by_leg={leg: told for leg, told in by_leg.items() if told is not None},
        estimated=True,
    )


def _unknown(case: Case, roads: Iterable[PlannedRoad]) -> tuple[str, ...]:
    """Return the hazards that could not be judged on the legs of the plan and its plain roads."""
    names: dict[str, None] = {}
    for visit in case.solution.visits:
        way = case.built.way(visit.leg, visit.way)
        names |= dict.fromkeys(way.assessed.unknown)
        finding = way.assessed.findings[visit.start_slot]
        both = () if finding is None else (finding, finding.also)
        names |= dict.fromkeys(one.hazard for one in both if one is not None and one.unknown)
    notes = (note for road in roads if road.hazard for note in (road.hazard, road.hazard.also))
    names |= dict.fromkeys(note.name for note in notes if note is not None and note.unknown)
    return tuple(names)


def _ends_dark(built: BuiltDay, times: Timetable) -> bool:
    dusk = built.clock.civil_dusk
    if dusk is None:
        return built.light.end.never_light
    return (dusk - times.arrival).total_seconds() / 60.0 < _DARK_MARGIN_MINUTES


_DECISIONS = {
    ChangeKind.MOVED: Decision.SWAP,
    ChangeKind.LEFT_OUT: Decision.LEAVE_OUT,
    ChangeKind.STAND_IN: Decision.STAND_IN,
    ChangeKind.OTHER_DAY: Decision.MOVE_DAY,
    ChangeKind.ADDED: Decision.ADD,
}


def decision_of(case: Case, found: tuple[Change, ...]) -> Decision:
    """Return the decision of line one: the change that is worth most, or none.

    A leg added on top says least of the day: it is the decision only if nothing else changes.
    Little more says an hour of leaving at which nothing could be lost or chosen.
    """
    if case.demands.own_order:
        return Decision.AS_ASKED
    stays = stays_at_home(case)
    if stays and not any(change.kind is ChangeKind.OTHER_DAY for change in found):
        return Decision.REST_DAY
    if not found:
        return Decision.AS_ASKED if wishes(case.demands) else Decision.AS_PLANNED
    weightiest = min(found, key=_says_little)
    if weightiest.kind is ChangeKind.DEPARTURE:
        own, new = weightiest.own_start, weightiest.new_start
        later = own is not None and new is not None and new > own
        return Decision.LEAVE_LATER if later else Decision.LEAVE_EARLIER
    return _DECISIONS[weightiest.kind]


def _says_little(change: Change) -> int:
    if change.kind is ChangeKind.ADDED:
        return 2
    chosen = change.worth_minutes is not None and change.worth_minutes >= WORTH_A_REASON_MINUTES
    return int(change.kind is ChangeKind.DEPARTURE and not chosen)


def wishes(demands: Demands) -> bool:
    """Return whether the rider has shaped the day beyond the tour file."""
    shaping = (demands.left_out, demands.forced, demands.departure, demands.before)
    return demands.own_order or any(shaping)
