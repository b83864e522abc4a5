"""Briefings of days that keep no limits: no plan at all, or the own order against all advice."""

from replanner.advice.assemble import Setting, day_light, day_names, hazards_met, own_order
from replanner.advice.briefing import Briefing, Decision, LeftOut, PlannedLeg, PlannedRoad
from replanner.advice.case import note_of
from replanner.advice.cautions import cautions_for
from replanner.advice.legs_left_out import left_out_without_plan
from replanner.planning.build import BuiltDay
from replanner.planning.demand import Clash, Demand
from replanner.planning.own_run import OwnRun, OwnVisit
from replanner.planning.timetable import slot_moment, whole_minutes
from replanner.trip.edits import Demands


def brief_no_way(
    built: BuiltDay,
    own: OwnRun,
    clash: Clash[Demand],
    demands: Demands,
    setting: Setting,
    roads: tuple[PlannedRoad, ...] | None = None,
) -> Briefing:
    """Make the briefing of a day that has no plan, with the demands that cannot hold together.

    Where every plan rides plain road that is no-go, no demand clashes: `roads` tells them.
    """
    return _briefing(
        built,
        own,
        setting,
        decision=Decision.NO_WAY,
        legs=(),
        left_out=left_out_without_plan(built, own, demands, clash.demands),
        clash=clash,
        roads=roads,
    )


def brief_own_run(built: BuiltDay, own: OwnRun, setting: Setting) -> Briefing:
    """Make the briefing of the own order as it would be met, though a limit forbids it."""
    return _briefing(
        built,
        own,
        setting,
        decision=Decision.AS_ASKED,
        legs=tuple(_met_leg(built, met) for met in own.visits),
        left_out=(),
        clash=Clash((), fewest=False),
    )


def _met_leg(built: BuiltDay, met: OwnVisit) -> PlannedLeg:
    way = built.way(met.visit.leg, met.visit.way)
    leg = built.legs[met.visit.leg].leg
    start = slot_moment(built, met.visit.start_slot)
    return PlannedLeg(
        id=leg.id,
        name=leg.name,
        kind=leg.kind.value,
        way=way.way,
        start=start,
        end=start + whole_minutes(float(way.minutes[met.visit.start_slot])),
        severity=met.severity,
        hazard=note_of(met.worst),
        turn_back=None,
    )


def _briefing(
    built: BuiltDay,
    own: OwnRun,
    setting: Setting,
    *,
    decision: Decision,
    legs: tuple[PlannedLeg, ...],
    left_out: tuple[LeftOut, ...],
    clash: Clash[Demand],
    roads: tuple[PlannedRoad, ...] | None = None,
) -> Briefing:
    tour, ridden = built.tour, bool(legs)
    unknown = tuple(
        dict.fromkeys(leg.hazard.name for leg in legs if leg.hazard and leg.hazard.unknown)
    )
    departure = slot_moment(built, own.leave_slot) if ridden else None
    arrival = None
    if ridden and own.finish_slot is not None:
        arrival = slot_moment(built, own.finish_slot)
    return Briefing(
        tour=tour.name,
        invented=tour.invented or setting.origin.invented,
        zone=str(tour.zone),
        units=tour.units,
        language=setting.language,
        date=built.day.date,
        made_at=setting.made_at,
        base_from=tour.places[built.day.start].name,
        base_to=tour.places[built.day.end].name,
        decision=decision,
        departure=departure,
        arrival=arrival,
        light=day_light(built),
        spare_minutes=None,
        spare_limit=None,
        value_minutes=None,
        proven=True,
        bound_minutes=None,
        legs=legs,
        left_out=left_out,
        changes=(),
        own_order=own_order(built, own),
        plan_b=None,
        decision_points=(),
        odds=None,
        warnings=None,
        blame=clash.demands,
        blame_fewest=clash.fewest,
        cautions=cautions_for(
            hazards_met(legs, roads or ()),
            unknown=unknown,
            stale=setting.origin.stale,
        ),
        unknown=unknown,
        origin=setting.origin,
        names=day_names(built),
        roads=roads,
    )
