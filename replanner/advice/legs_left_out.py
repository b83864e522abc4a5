"""Legs that are not ridden: why, and the price of riding them all the same."""

from collections.abc import Callable, Mapping
from datetime import date
from functools import cache

from replanner.advice.briefing import Hurdle, HurdleKind, LeftOut
from replanner.advice.case import (
    Case,
    always_banned_by,
    is_dark,
    mildest,
    note_of,
    price,
    stand_in_of,
    worst_when_met,
)
from replanner.hazards.model import CAUTION
from replanner.planning.build import BuiltDay
from replanner.planning.day_search import DaySearch
from replanner.planning.demand import Demand, DemandKind
from replanner.planning.own_run import OwnRun
from replanner.trip.edits import Demands
from replanner.trip.model import LegId
from replanner.trip.windows import BanKind


def left_out(case: Case, moved: Mapping[LegId, date]) -> tuple[LeftOut, ...]:
    """Return every leg of the day not ridden, why, and the price of riding it all the same.

    Stand-ins are no legs of the day, but for those that riders under way were about to ride.

    Parameters
    ----------
    moved : mapping of LegId to date
        Legs moved between the days, with the day that rides them.
    """
    built, ridden = case.built, set(case.solution.legs)

    @cache
    def whole() -> DaySearch | None:
        return None if built.whole is None else DaySearch(built.whole.problem)

    in_problem = {built_leg.leg.id: number for number, built_leg in enumerate(built.legs)}
    stand_ins = {stand_in_of(built, number) for number in in_problem.values()}
    underway = case.demands.underway
    ridden_by = () if underway is None else underway.riding
    given_up = [leg for leg in ridden_by if leg in in_problem and leg not in built.day.legs]
    told: list[LeftOut] = []
    for leg_id in (*built.day.legs, *given_up):
        number = in_problem.get(leg_id)
        if number in ridden:
            continue
        name = built.tour.legs[leg_id].name
        if leg_id in moved:
            told.append(_kept_for(case.own, leg_id, name, moved[leg_id]))
        elif number is None:
            told.append(_asked_for(case.demands, case.own, leg_id, name))
        elif number not in stand_ins or leg_id in (*built.day.own_order, *given_up):
            told.append(_not_ridden(case, number, whole))
    return tuple(told)


def left_out_without_plan(
    built: BuiltDay, own: OwnRun, demands: Demands, blame: tuple[Demand, ...]
) -> tuple[LeftOut, ...]:
    """Return the legs of a day that has no plan, with what stands against each.

    Those of the own order, then others that are demanded all the same.
    """
    numbers = {built_leg.leg.id: number for number, built_leg in enumerate(built.legs)}
    told: list[LeftOut] = []
    demanded = (leg for one in blame if one.kind is DemandKind.RIDE for leg in one.legs)
    for leg_id in dict.fromkeys((*built.day.own_order, *demanded)):
        name = built.tour.legs[leg_id].name
        number = numbers.get(leg_id)
        if number is None:
            told.append(_asked_for(demands, own, leg_id, name))
            continue
        stopped = always_banned_by(built, number) is BanKind.HAZARD
        told.append(
            LeftOut(
                id=leg_id,
                name=name,
                reason=note_of(mildest(built, number)) if stopped else None,
                cause="hazard" if stopped else "no time",
                price_minutes=None,
                to_ride_it=_first_obstacle(built, number),
            )
        )
    return tuple(told)


def _asked_for(demands: Demands, own: OwnRun, leg: LegId, name: str) -> LeftOut:
    to_day = next((to for moved, to in sorted(demands.moved) if moved == leg), None)
    if leg not in demands.closed and to_day is not None:
        return _kept_for(own, leg, name, to_day)
    cause = "closed" if leg in demands.closed else "asked"
    return LeftOut(id=leg, name=name, reason=None, cause=cause, price_minutes=None)


def _kept_for(own: OwnRun, leg: LegId, name: str, day: date) -> LeftOut:
    """Return a leg that another day rides, with what it would have met today."""
    met = own.met(leg)
    return LeftOut(
        id=leg,
        name=name,
        reason=None if met is None else note_of(met.worst),
        cause="other day",
        price_minutes=None,
        moved_to=day,
    )


def _not_ridden(case: Case, leg: int, whole: Callable[[], DaySearch | None]) -> LeftOut:
    built = case.built
    forced = case.search.best_with(frozenset({leg}))
    met = worst_when_met(case, leg)
    stand_in = stand_in_of(built, leg)
    if forced.solution is None:
        always = always_banned_by(built, leg) is BanKind.HAZARD
        cause = "hazard" if always else "fuel" if _for_want_of_fuel(leg, whole()) else "no time"
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
        price_minutes=price(case, forced.solution),
        to_ride_it=None if forced.solution else _obstacle(built, leg, cause),
    )


def _for_want_of_fuel(leg: int, whole: DaySearch | None) -> bool:
    """Return whether a leg that cannot be ridden could be on a tank without end."""
    if whole is None:
        return False
    return whole.best(forced=frozenset({leg}), blamed=False).solution is not None


def _obstacle(built: BuiltDay, leg: int, cause: str) -> Hurdle:
    if cause == "fuel":
        return Hurdle(kind=HurdleKind.TANK, leg=built.legs[leg].leg.id)
    return _first_obstacle(built, leg)


def _first_obstacle(built: BuiltDay, leg: int) -> Hurdle:
    """Return what would have to change first for a leg to be ridden."""
    kind, leg_id = always_banned_by(built, leg), built.legs[leg].leg.id
    if kind is None:
        return Hurdle(kind=HurdleKind.TIME, leg=leg_id)
    if kind is BanKind.HAZARD and is_dark(mildest(built, leg)):
        return Hurdle(kind=HurdleKind.LIGHT, leg=leg_id)
    slots = range(built.clock.earliest, built.problem.slots)
    bans = (ban for slot in slots if (ban := built.ban(leg, slot)) is not None)
    ban = next(ban for ban in bans if ban.kind is kind)
    if kind is BanKind.ARRIVAL:
        return Hurdle(kind=HurdleKind(ban.name), leg=leg_id)
    name = ban.name if kind is BanKind.WINDOW else ""
    return Hurdle(kind=HurdleKind(kind), leg=leg_id, name=name)
