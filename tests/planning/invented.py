"""INVENTED places, legs and assessments for planning tests: a flat grid round one base.

Every name, road, window and figure here is made up; only the zone is real.
"""

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import numpy as np

from replanner.geodesy import Point
from replanner.hazards.assess import LegAssessment
from replanner.planning.build import Assessed, BuiltDay, build_day, day_legs
from replanner.planning.day_clock import day_clock
from replanner.planning.day_search import solve
from replanner.planning.problem import DaySolution
from replanner.planning.rules import Rules
from replanner.trip.connectors import ConnectorTable
from replanner.trip.edits import Demands
from replanner.trip.model import (
    Base,
    Day,
    Halt,
    HaltKind,
    Leg,
    LegId,
    LegKind,
    Place,
    Tour,
    Way,
    WeeklyWindow,
    WindowEffect,
)
from replanner.trip.stretches import pieces
from replanner.weather.daylight import Daylight

ZONE = ZoneInfo("Pacific/Auckland")
FRIDAY = date(2027, 4, 2)
DAWN, SUNRISE = time(7, 30), time(8, 0)
SUNSET, DUSK = time(19, 30), time(20, 0)


IN_ONE_GO = Rules(break_after_minutes=24 * 60)  # breaks have tests of their own

LUNCH = Halt(
    place="far",
    fraction=0.5,
    minutes=40,
    kind=HaltKind.CAFE,
    optional=True,
    worth_minutes=60,
    hours=WeeklyWindow(
        name="cafe hours",
        effect=WindowEffect.OPEN,
        weekdays=frozenset({4}),  # the invented day is a Friday
        opens=time(12),
        closes=time(14),
        fractions=(0.5,),
    ),
)


def utc(wall: str, day: date = FRIDAY) -> datetime:
    """Return the UTC instant of a wall time HH:MM on that day."""
    return datetime.combine(day, time.fromisoformat(wall), tzinfo=ZONE).astimezone(UTC)


def light(day: date = FRIDAY, **other: object) -> Daylight:
    """Return daylight from 07:30 to 20:00, sun from 08:00 to 19:30."""
    given = {
        "date": day,
        "civil_dawn": datetime.combine(day, DAWN, tzinfo=ZONE).astimezone(UTC),
        "sunrise": datetime.combine(day, SUNRISE, tzinfo=ZONE).astimezone(UTC),
        "sunset": datetime.combine(day, SUNSET, tzinfo=ZONE).astimezone(UTC),
        "civil_dusk": datetime.combine(day, DUSK, tzinfo=ZONE).astimezone(UTC),
    }
    return Daylight(**(given | other))


def a_leg(name: str, *, minutes: float = 60.0, worth: float = 60.0, **other: object) -> Leg:
    """Return a leg; a loop from the base unless its ends say otherwise."""
    given = {
        "id": name,
        "name": name.title(),
        "kind": LegKind.LOOP,
        "start": "base",
        "end": "base",
        "via": ("far",),
        "riding_minutes": minutes,
        "distance_km": minutes,
        "worth_minutes": worth,
    }
    return Leg(**(given | other))


def a_tour(
    legs: Sequence[Leg],
    days: Sequence[Day] | None = None,
    bases: Iterable[Base] = (),
) -> Tour:
    """Return an invented tour; without days, one Friday whose own order is all the legs."""
    names = ["base", "far", "quay", "other", "inn"]
    places = {
        name: Place(id=name, name=name.title(), point=Point(-46.0 + 0.1 * n, 168.0, 10.0))
        for n, name in enumerate(names)
    }
    return Tour(
        name="Invented",
        zone=ZONE,
        places=places,
        legs={leg.id: leg for leg in legs},
        days=tuple(days or [a_day(*[leg.id for leg in legs])]),
        riders=(),
        bases=tuple(bases),
        invented=True,
    )


def a_day(*own_order: LegId, **other: object) -> Day:
    """Return a Friday from the base to the base."""
    given = {"date": FRIDAY, "start": "base", "end": "base", "own_order": own_order}
    return Day(**(given | other))


def roads(minutes: dict[tuple[str, str], float] | None = None) -> ConnectorTable:
    """Return connectors of 30 minutes between all places, or as given; NaN: no road."""
    names = ("base", "far", "quay", "other", "inn")
    table = np.full((5, 5), 30.0)
    for (a, b), value in (minutes or {}).items():
        table[names.index(a), names.index(b)] = table[names.index(b), names.index(a)] = value
    np.fill_diagonal(table, 0.0)
    return ConnectorTable(names, table, np.zeros((5, 5), dtype=np.bool_), table)


def assess(
    tour: Tour,
    leg: Leg,
    way: Way,
    starts: np.ndarray,
    severity: object = 0.0,
    *,
    slower: float = 1.0,
) -> LegAssessment:
    """Assess a leg by hand: its severity (scalar, per start or members by starts), its pace."""
    cut = pieces(tour, leg, way)
    level = np.asarray(severity, dtype=np.float64)
    level = np.broadcast_to(level, (*level.shape[:-1], starts.size)).copy()
    dry = np.array([piece.end_minutes - piece.start_minutes for piece in cut])
    minutes = dry.reshape(-1, *[1] * level.ndim) * np.ones(level.shape) * slower
    return LegAssessment(
        leg=leg.id,
        way=way,
        starts=starts,
        piece_names=tuple(piece.name for piece in cut),
        piece_minutes=minutes,
        piece_severity=np.broadcast_to(level, (len(cut), *level.shape)).copy(),
        severity=level,
        halt_fits=np.ones((len(leg.halts), *level.shape), dtype=np.bool_),
        findings=(None,) * starts.size,
        unknown=(),
    )


def build(
    tour: Tour,
    *,
    day: Day | None = None,
    severity: dict[LegId, object] | None = None,
    changed: Assessed | None = None,
    demands: Demands | None = None,
    rules: Rules | None = None,
    connectors: ConnectorTable | None = None,
    lights: tuple[Daylight, Daylight] | None = None,
    **other: object,
) -> BuiltDay:
    """Build a day of an invented tour; a severity may be a function of the local hour."""
    day = day or tour.days[0]
    demands, rules = demands or Demands(), rules or IN_ONE_GO
    start, end = lights or (light(day.date), light(day.date))
    starts = day_clock(tour, day, start, end, rules, demands, other.get("earliest_now")).instants
    assessed = {}
    for leg, way in day_legs(tour, day, demands):
        level = (severity or {}).get(leg, 0.0)
        if callable(level):
            level = level(local_hours(starts))
        assessed[leg, way] = assess(tour, tour.legs[leg], way, starts, level)
    return build_day(
        tour,
        day,
        assessed | (dict(changed) if changed else {}),
        start,
        end,
        rules,
        demands,
        connectors or roads(),
        **other,
    )


def local_hours(starts: np.ndarray) -> np.ndarray:
    """Return the local wall time of instants as hours."""
    moments = [start.item().replace(tzinfo=UTC).astimezone(ZONE) for start in starts]
    return np.array([moment.hour + moment.minute / 60 for moment in moments])


def best(built: BuiltDay) -> DaySolution:
    """Return the best plan of a day."""
    solution = solve(built.problem).solution
    assert solution is not None
    return solution


def ridden(built: BuiltDay, solution: DaySolution | None) -> list[LegId]:
    """Return the legs of a plan in order."""
    return [] if solution is None else [built.legs[leg].leg.id for leg in solution.legs]


def value(built: BuiltDay) -> float:
    """Return the value of the best plan, -inf where there is none."""
    solution = solve(built.problem).solution
    return -np.inf if solution is None else solution.value
