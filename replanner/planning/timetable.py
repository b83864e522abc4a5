"""The chosen order timed to the minute, and checked against every limit once more."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from replanner.planning.build import BuiltDay
from replanner.planning.build_way import BuiltWay
from replanner.planning.leaving import HARDLY_BETTER, leaving, setting_out
from replanner.planning.plain_roads import RoadPassage
from replanner.planning.problem import NEVER, DaySolution, Visit
from replanner.planning.rest import Where
from replanner.trip.model import Halt, HaltKind, Leg, LegId, PlaceId, Way
from replanner.trip.passage import Delay, in_way, moment_of
from replanner.trip.windows import halts_open

Break = tuple[PlaceId | None, datetime]


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedLeg:
    """A leg of the plan with its instants, UTC.

    Parameters
    ----------
    ready : datetime
        When the riders are at its start; what is left until `start` is waiting.
    sailing : datetime or None
        The boat boarded.
    halts : tuple of (Halt, datetime)
        The halts taken, with the instant of reaching each.
    slow, avoided : tuple of str
        Windows met that slow, or are better avoided.
    breaks : tuple of (PlaceId or None, datetime)
        Breaks beside halts on it and on the way to the next leg, the first leg's also those before
        it; None: at no place of the tour.
    shut : tuple of (Halt, datetime)
        Halts wished for that its hours forbid: left out, with the instant of passing each.
    """

    leg: LegId
    way: Way
    visit: Visit
    ready: datetime
    start: datetime
    end: datetime
    sailing: datetime | None
    halts: tuple[tuple[Halt, datetime], ...]
    slow: tuple[str, ...]
    avoided: tuple[str, ...]
    breaks: tuple[Break, ...] = ()
    shut: tuple[tuple[Halt, datetime], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedRoad:
    """A connector of the plan with its instants, UTC.

    Parameters
    ----------
    start, end : PlaceId
    passage : RoadPassage or None
        What it meets; None: nobody has looked.
    waits : bool
        Whether the riders wait where it begins, since leaving at once would be worse.
    estimated : bool
        Whether its minutes are only an estimate.
    """

    start: PlaceId
    end: PlaceId
    leave: datetime
    arrive: datetime
    passage: RoadPassage | None
    waits: bool
    estimated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Timetable:
    """A day timed to the minute, UTC.

    `roads` are the connectors ridden, where the places differ.
    """

    departure: datetime
    legs: tuple[TimedLeg, ...]
    arrival: datetime
    roads: tuple[TimedRoad, ...] = ()

    @property
    def estimated(self) -> tuple[tuple[PlaceId, PlaceId], ...]:
        """The connectors ridden whose minutes are only an estimate."""
        return tuple((road.start, road.end) for road in self.roads if road.estimated)

    @property
    def no_go_road(self) -> bool:
        """Whether plain road is ridden that is no-go; False where nobody has looked."""
        return any(road.passage is not None and road.passage.is_no_go() for road in self.roads)


def timetable(built: BuiltDay, solution: DaySolution) -> Timetable:
    """Time a plan to the minute.

    Legs start in the slot the plan says; ends are rounded up to the minute. Leaving is as late as
    the first leg's start allows, unless the rider named the minute of leaving.

    Raises
    ------
    ValueError
        If the plan breaks a limit: a start that is forbidden, a leg or connector that is not over
        in time for the next, a leaving or an arrival outside the day's limits.
    """
    clock, problem = built.clock, built.problem
    legs: list[TimedLeg] = []
    roads: list[TimedRoad] = []
    place, slot = problem.start_place, solution.leave_slot
    departure = free = _departure(built, solution)
    for visit in solution.visits:
        way = problem.legs[visit.leg].ways[visit.way]
        if legs:
            left = leaving(
                problem, place, way.start, slot, visit.start_slot, within=HARDLY_BETTER
            ).slot
        else:
            slot = left = int((departure - clock.first_slot) // _step(built))
        road = _road(built, (place, way.start), (slot, free), left)
        timed = _timed(built, visit, road.arrive)
        if timed.start < road.arrive:
            raise ValueError(f"leg {timed.leg} would start before its place is reached")
        breaks = _breaks_between(built, place, way.start, road.leave)
        if legs:
            legs[-1] = replace(legs[-1], breaks=(*legs[-1].breaks, *breaks))
        else:
            timed = replace(timed, breaks=(*breaks, *timed.breaks))
        legs.append(timed)
        roads.append(road)
        place, free = way.end, timed.end
        slot = visit.start_slot + int(way.ride_slots[visit.start_slot])
    left = leaving(
        problem, place, problem.end_place, slot, solution.finish_slot, within=HARDLY_BETTER
    ).slot
    road = _road(built, (place, problem.end_place), (slot, free), left)
    breaks = _breaks_between(built, place, problem.end_place, road.leave)
    if legs:
        legs[-1] = replace(legs[-1], breaks=(*legs[-1].breaks, *breaks))
    if road.arrive > clock.by:
        late, limit = road.arrive.isoformat(), clock.by.isoformat()
        raise ValueError(f"in at {late}, after the limit {limit}")
    return Timetable(
        departure=departure,
        legs=tuple(legs),
        arrival=road.arrive,
        roads=tuple(one for one in (*roads, road) if one.start != one.end),
    )


def slot_moment(built: BuiltDay, slot: int) -> datetime:
    """Return the instant of a slot."""
    return built.clock.first_slot + timedelta(minutes=slot * built.clock.slot_minutes)


def _departure(built: BuiltDay, solution: DaySolution) -> datetime:
    """Return the latest instant of leaving that keeps the first leg's start."""
    clock, problem = built.clock, built.problem
    if not clock.earliest <= solution.leave_slot <= clock.latest:
        raise ValueError(f"leaving in slot {solution.leave_slot} is outside the day's limits")
    at_once = slot_moment(built, solution.leave_slot)
    if not solution.visits or clock.earliest == clock.latest:
        return at_once
    first = solution.visits[0]
    entry = problem.legs[first.leg].ways[first.way].start
    last = first.start_slot - int(problem.travel_slots[problem.start_place, entry, 0])
    slot = setting_out(
        problem, entry, solution.leave_slot, first.start_slot, within=HARDLY_BETTER
    ).slot
    if slot < last:
        return slot_moment(built, slot)
    road = _road_minutes(built, problem.start_place, entry)
    latest = slot_moment(built, first.start_slot) - road
    return max(at_once, min(latest, slot_moment(built, clock.latest)))


def _step(built: BuiltDay) -> timedelta:
    return timedelta(minutes=built.clock.slot_minutes)


def _road(
    built: BuiltDay, places: tuple[int, int], free: tuple[int, datetime], left: int
) -> TimedRoad:
    """Return a connector left in a slot by riders who are free from a slot and a minute on."""
    start, end = places
    takes = _road_minutes(built, start, end)
    leave = free[1] if left == free[0] else slot_moment(built, left)
    return TimedRoad(
        start=built.places[start],
        end=built.places[end],
        leave=leave,
        arrive=leave + takes,
        passage=built.road(start, end, left),
        waits=left > free[0],
        estimated=bool(built.connector_estimated[start, end]),
    )


def _road_minutes(built: BuiltDay, start: int, end: int) -> timedelta:
    """Return the minutes of a connector, rounded up."""
    if built.problem.travel_slots[start, end, 0] == NEVER:
        raise ValueError(f"no road leads from {built.places[start]} to {built.places[end]}")
    return whole_minutes(float(built.connector_minutes[start, end]))


def whole_minutes(minutes: float) -> timedelta:
    """Return minutes, begun ones counted whole."""
    return timedelta(minutes=int(np.ceil(round(minutes, 6))))


def _timed(built: BuiltDay, visit: Visit, ready: datetime) -> TimedLeg:
    slot = visit.start_slot
    leg = built.legs[visit.leg].leg
    way = built.way(visit.leg, visit.way)
    if not 0 <= slot < built.problem.slots:
        raise ValueError(f"leg {leg.id} would start outside the day")
    ban = way.ban_at(slot)
    if ban is not None or not np.isfinite(way.worth[slot]):
        cause = "nothing is gained by its halts" if ban is None else f"{ban.kind} {ban.name}"
        raise ValueError(f"leg {leg.id} may not start in slot {slot}: {cause}")
    start = slot_moment(built, slot)
    sailing = way.verdict.departure[slot]
    return TimedLeg(
        leg=leg.id,
        way=way.way,
        visit=visit,
        ready=ready,
        start=start,
        end=start + whole_minutes(float(way.minutes[slot])),
        sailing=None if np.isnat(sailing) else moment_of(sailing),
        halts=_halts_taken(leg.halts, way, slot),
        slow=tuple(name for name, met in way.verdict.slow if met[slot]),
        avoided=tuple(name for name, met in way.verdict.avoided if met[slot]),
        breaks=tuple(
            (None, moment_of(way.passage.reaching(one.fraction)[slot]))
            for one in way.breaks
            if one.minutes[slot] > 0
        ),
        shut=_met_shut(built.tour.zone, leg, way, slot),
    )


def _breaks_between(built: BuiltDay, start: int, end: int, free: datetime) -> list[Break]:
    """Return the breaks on a connector left at an instant, each when it begins."""
    pauses = built.pauses.get((start, end), ())
    one = built.rules.break_minutes
    road = float(built.connector_minutes[start, end]) - one * len(pauses)
    stretches = pauses.count(Where.ON_THE_WAY) + 1
    found: list[Break] = []
    ridden = 0.0
    for number, where in enumerate(pauses):
        if where is Where.ON_THE_WAY:
            ridden += road / stretches
        elif where is Where.AFTER:
            ridden = road
        at = free + timedelta(minutes=ridden + number * one)
        place = {Where.BEFORE: built.places[start], Where.AFTER: built.places[end]}.get(where)
        found.append((place, at))
    return found


def _halts_taken(
    halts: tuple[Halt, ...], way: BuiltWay, slot: int
) -> tuple[tuple[Halt, datetime], ...]:
    taken = [halt for halt, here in zip(halts, way.halts, strict=True) if here[slot]]
    met = [
        (halt, moment_of(way.passage.reaching(in_way(halt.fraction, way.way))[slot]))
        for halt in taken
    ]
    return tuple(sorted(met, key=lambda pair: pair[1]))


def _met_shut(
    zone: ZoneInfo, leg: Leg, way: BuiltWay, slot: int
) -> tuple[tuple[Halt, datetime], ...]:
    """Return halts that may be left out and that could not be made all the while they take."""
    found = []
    for number, halt in enumerate(leg.halts):
        wished = halt.optional and halt.kind is not HaltKind.FUEL
        if halt.hours is None or not wished or way.halts[number, slot]:
            continue
        at, passage = in_way(halt.fraction, way.way), way.passage
        made = Delay(at, np.full(passage.starts.shape, halt.minutes))
        with_it = replace(passage, delays=(*passage.delays, made))
        if not halts_open(leg, with_it, zone)[number, slot]:
            found.append((halt, moment_of(passage.reaching(at)[slot])))
    return tuple(sorted(found, key=lambda pair: pair[1]))


def in_by(built: BuiltDay, arrival: datetime) -> datetime:
    """Return the instant to be in by: civil dusk, or the hard limit where dusk is past anyway."""
    by, dusk = built.clock.by, built.clock.civil_dusk
    return by if dusk is None or arrival > dusk else min(by, dusk)
