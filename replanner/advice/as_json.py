"""A briefing for programs: every key always there, null where nothing is known, never NaN.

Figures are in the units used inside, named beside them; times are local, ISO 8601 with offset.
"""

import math
from collections.abc import Iterable
from datetime import datetime
from zoneinfo import ZoneInfo

from replanner.advice.briefing import (
    Briefing,
    Change,
    DecisionPoint,
    HazardNote,
    Hurdle,
    LeftOut,
    OverDays,
    PlannedLeg,
    PlannedRoad,
    Waiting,
)
from replanner.advice.cautions import CAUTIONS
from replanner.advice.hurdles import better_words, demand_words, limit_words, wanted_words
from replanner.advice.spoken import spoken
from replanner.advice.telling import Telling, written
from replanner.advice.text_message import message
from replanner.advice.words import Words

Json = dict[str, object]
_WIDE = 60  # characters of a name


def as_json(briefing: Briefing, words: Words | None = None) -> Json:
    """Return a briefing as plain data that `json.dumps(..., allow_nan=False)` takes.

    Returns
    -------
    dict
        Keys as README lists them. Severities run from 0 to 4; minutes are minutes of riding.
    """
    telling = written(briefing, words)
    when = _Local(telling.figures.zone)
    own = briefing.own_order
    return {
        "tour": briefing.tour,
        "invented": briefing.invented,
        "date": briefing.date.isoformat(),
        "zone": briefing.zone,
        "units": str(briefing.units),
        "made_at": when(briefing.made_at),
        "decision": str(briefing.decision),
        "base_from": briefing.base_from,
        "base_to": briefing.base_to,
        "departure": when(briefing.departure),
        "arrival": when(briefing.arrival),
        "civil_dawn": when(briefing.light.civil_dawn),
        "sunrise": when(briefing.light.sunrise),
        "sunset": when(briefing.light.sunset),
        "civil_dusk": when(briefing.light.civil_dusk),
        "spare_minutes": _number(briefing.spare_minutes),
        "spare_limit": _limit(telling, briefing.spare_limit),
        "value_minutes": _number(briefing.value_minutes),
        "proven": briefing.proven,
        "bound_minutes": _number(briefing.bound_minutes),
        "legs": _legs(briefing.legs, when),
        "roads": _roads(briefing.roads, when),
        "left_out": [_left_out(telling, leg, when) for leg in briefing.left_out],
        "changes": [_change(change, when) for change in briefing.changes],
        "own_order": {
            "value_minutes": _number(own.value_minutes),
            "severity": _number(own.severity),
            "worst_leg": own.worst_leg,
            "worst_start": when(own.worst_start),
            "hazard": _hazard(own.worst, when),
            "breaks": _limit(telling, own.breaks),
        },
        "plan_b": _plan_b(telling, when),
        "decision_points": [_point(telling, point, when) for point in briefing.decision_points],
        "odds": _odds(briefing),
        "waiting": _waiting(briefing.waiting, when),
        "warnings": None if briefing.warnings is None else list(briefing.warnings),
        "cautions": [
            {"key": key, "text": telling.words.say(CAUTIONS[key].full) if key in CAUTIONS else key}
            for key in briefing.cautions
        ],
        "unknown": list(briefing.unknown),
        "forecast": {
            "service": briefing.origin.service,
            "issued": when(briefing.origin.issued),
            "fetched": when(briefing.origin.fetched),
            "stale": briefing.origin.stale,
            "credit": briefing.origin.credit,
            "invented": briefing.origin.invented,
        },
        "blame": [demand_words(telling, demand) for demand in briefing.blame],
        "blame_fewest": briefing.blame_fewest,
        "over_days": _over_days(telling, briefing.over_days),
        "plan_stale": briefing.plan_stale,
        "stale_cause": briefing.stale_cause or None,
        "next_check": when(briefing.next_check),
        "tonight": briefing.tonight,
        "message": message(briefing, telling.words),
        "spoken": spoken(briefing, telling.words),
    }


class _Local:
    """Writes instants in the briefing's zone."""

    def __init__(self, zone: ZoneInfo) -> None:
        self._zone = zone

    def __call__(self, moment: datetime | None) -> str | None:
        return None if moment is None else moment.astimezone(self._zone).isoformat()


def _number(figure: float | None) -> float | None:
    return (
        None if figure is None or not math.isfinite(figure) else round(float(figure), 3) + 0.0
    )  # no "-0.0"


def _hazard(note: HazardNote | None, when: _Local) -> Json | None:
    if note is None:
        return None
    return {
        "name": note.name,
        "value": _number(note.value),
        "limit": _number(note.limit),
        "unit": note.unit,
        "hour": when(note.hour),
        "section": note.section,
        "unknown": note.unknown,
        "also": _hazard(note.also, when),
    }


def _legs(legs: Iterable[PlannedLeg], when: _Local) -> list[Json]:
    return [
        {
            "id": leg.id,
            "name": leg.name,
            "kind": str(leg.kind),
            "way": leg.way.name.lower(),
            "start": when(leg.start),
            "end": when(leg.end),
            "severity": _number(leg.severity),
            "hazard": _hazard(leg.hazard, when),
            "turn_back": when(leg.turn_back),
            "sailing": when(leg.sailing),
            "halts": [
                {"place": place, "reached": when(moment), "kind": kind or None}
                for kind, place, moment in leg.halts_by_kind
            ],
            "shut": [
                {
                    "place": halt.place,
                    "kind": halt.kind,
                    "passed": when(halt.passed),
                    "opens": when(halt.opens),
                    "closes": when(halt.closes),
                }
                for halt in leg.shut
            ],
            "breaks": [{"place": place or None, "at": when(at)} for place, at in leg.breaks],
            "note": leg.note or None,
        }
        for leg in legs
    ]


def _roads(roads: Iterable[PlannedRoad] | None, when: _Local) -> list[Json] | None:
    if roads is None:
        return None
    return [
        {
            "from": road.start,
            "to": road.end,
            "leave": when(road.leave),
            "arrive": when(road.arrive),
            "severity": _number(road.severity),
            "hazard": _hazard(road.hazard, when),
            "waits": road.waits,
            "estimated": road.estimated,
        }
        for road in roads
    ]


def _limit(telling: Telling, hurdle: Hurdle | None) -> str | None:
    return None if hurdle is None else limit_words(telling, hurdle, _WIDE)


def _left_out(telling: Telling, leg: LeftOut, when: _Local) -> Json:
    return {
        "id": leg.id,
        "name": leg.name,
        "cause": leg.cause,
        "reason": _hazard(leg.reason, when),
        "price_minutes": _number(leg.price_minutes),
        "to_ride_it": wanted_words(telling, leg.to_ride_it, _WIDE) or None,
        "moved_to": None if leg.moved_to is None else leg.moved_to.isoformat(),
    }


def _change(change: Change, when: _Local) -> Json:
    return {
        "kind": str(change.kind),
        "leg": change.leg,
        "other_leg": change.other_leg,
        "worth_minutes": _number(change.worth_minutes),
        "reason": _hazard(change.reason, when),
        "own_start": when(change.own_start),
        "new_start": when(change.new_start),
        "to_day": None if change.to_day is None else change.to_day.isoformat(),
    }


def _plan_b(telling: Telling, when: _Local) -> Json | None:
    second = telling.briefing.plan_b
    if second is None:
        return None
    better = second.better_when
    return {
        "departure": when(second.departure),
        "arrival": when(second.arrival),
        "legs": _legs(second.legs, when),
        "value_minutes": _number(second.value_minutes),
        "better_when": None if better is None else better_words(telling, better, _WIDE),
    }


def _point(telling: Telling, point: DecisionPoint, when: _Local) -> Json:
    return {
        "leg": point.leg,
        "place": point.place,
        "place_name": point.place_name,
        "latest": when(point.latest),
        "rule": None if point.rule is None else telling.seen(point.rule),
        "hazard": _hazard(point.rule, when),
        "instead": point.instead,
        "instead_name": point.instead_name,
        "arrival_instead": when(point.arrival_instead),
    }


def _waiting(waiting: Waiting | None, when: _Local) -> Json | None:
    if waiting is None:
        return None
    return {
        "gain_minutes": _number(waiting.gain_minutes),
        "decide_by": when(waiting.decide_by),
        "members": waiting.members,
        "other_share": _number(waiting.other_share),
        "estimated": waiting.estimated,
    }


def _over_days(telling: Telling, over: OverDays | None) -> Json | None:
    if over is None:
        return None
    return {
        "without_plan": [day.isoformat() for day in over.without_plan],
        "demands": [
            {
                "date": None if day is None else day.isoformat(),
                "demand": demand_words(telling, demand),
            }
            for day, demand in over.demands
        ],
        "fewest": over.fewest,
        "fuel": over.fuel,
        "no_go_roads": [day.isoformat() for day in over.no_go_roads],
    }


def _odds(briefing: Briefing) -> Json | None:
    odds = briefing.odds
    if odds is None:
        return None
    return {
        "members": odds.members,
        "plan_holds": _number(odds.plan_holds),
        "by_leg": {leg: _number(share) for leg, share in odds.by_leg.items()},
        "estimated": odds.estimated,
    }
