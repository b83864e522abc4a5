"""An invented day of an invented tour, and a stand-in planner that does what demands say.

Every place and figure is INVENTED. The planner searches nothing: it keeps a fixed suggestion and
applies the demands to it, so that a test can see which demands a plan was made under.
"""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from replanner.advice.briefing import (
    BetterKind,
    BetterWhen,
    Briefing,
    Change,
    ChangeKind,
    DayLight,
    Decision,
    HazardNote,
    Hurdle,
    HurdleKind,
    LeftOut,
    OwnOrder,
    PlanB,
    PlannedLeg,
)
from replanner.clock import local_instant
from replanner.dialogue.book import BookDay, TourBook
from replanner.dialogue.events import Memory, Replan
from replanner.dialogue.intents import Hearing
from replanner.dialogue.state import State, begin
from replanner.errors import NoPlanError
from replanner.trip.edits import Demands
from replanner.trip.model import Way
from replanner.units import UnitSystem
from replanner.weather.hourly import Origin

ZONE = "Pacific/Auckland"
DAY = date(2027, 4, 2)  # a Friday; the clocks go back on Sunday 4 April
SENT = datetime(2027, 4, 1, 7, 30, tzinfo=UTC)  # Thursday 20:30 there

NAMES = {
    "quern": "Quern Point loop",
    "hask": "Hask Saddle",
    "valley": "Hask valley road",
    "brindle": "Brindle loop",
    "brindle-low": "Brindle low road",
    "causeway": "Salt Causeway",
    "kelp": "Kelp Narrows ferry",
    "gannet": "Gannet Stack spur",
    "wrack": "Wrack Bay gravel",
    "tar": "Tārn Förde lane",
}
BOOK = TourBook(
    zone=ZONE,
    names=tuple(NAMES.items()),
    kinds=(
        ("quern", "loop"),
        ("hask", "pass"),
        ("valley", "transit"),
        ("brindle", "loop"),
        ("brindle-low", "transit"),
        ("causeway", "coast lane"),
        ("kelp", "crossing"),
        ("gannet", "spur"),
        ("wrack", "loop"),
        ("tar", "coast lane"),
    ),
    places=(("orrowick", "Orrowick"), ("sable", "Sable")),
    days=(
        BookDay(
            date=date(2027, 4, 2),
            start="orrowick",
            end="orrowick",
            own_order=("hask", "quern"),
            optional=("valley", "brindle", "brindle-low", "causeway"),
        ),
        BookDay(
            date=date(2027, 4, 3), start="orrowick", end="orrowick", own_order=("gannet", "tar")
        ),
        BookDay(date=date(2027, 4, 4), start="orrowick", end="sable", own_order=("kelp",)),
        BookDay(date=date(2027, 4, 5), start="sable", end="sable", own_order=("wrack",)),
    ),
)
SUGGESTED = ("quern", "hask")
OWN = ("hask", "quern")
PLAN_B = ("quern", "valley")
GUST = HazardNote(
    name="gust",
    value=21.0,
    limit=15.0,
    unit="m/s",
    hour=datetime(2027, 4, 1, 22, tzinfo=UTC),
    section="Brindle head",
    unknown=False,
)
LEFT = {
    "brindle": LeftOut(
        id="brindle", name=NAMES["brindle"], reason=GUST, cause="hazard", price_minutes=120.0
    ),
    "valley": LeftOut(
        id="valley", name=NAMES["valley"], reason=None, cause="stand-in", price_minutes=20.0
    ),
    "causeway": LeftOut(
        id="causeway", name=NAMES["causeway"], reason=None, cause="not worth it", price_minutes=9.0
    ),
}


def at(wall: str, day: date = DAY) -> datetime:
    """Return the instant of a local wall time."""
    return local_instant(day, time.fromisoformat(wall), ZoneInfo(ZONE))


def hearing(planned: tuple[str, ...] = SUGGESTED) -> Hearing:
    """Return what a line is understood against after the suggestion was shown."""
    return Hearing(
        book=BOOK,
        day=DAY,
        today=DAY - timedelta(days=1),
        planned=frozenset(planned),
        left_out=frozenset(LEFT),
    )


def plan(request: Replan) -> Briefing:
    """Make the plan of the demands; raises NoPlanError where they contradict each other."""
    demands = request.demands
    if demands.forced & demands.closed:
        raise NoPlanError("a leg is wanted and closed")
    legs = _legs(request.day, demands)
    departure = demands.departure or at("08:30", request.day)
    planned = tuple(
        PlannedLeg(
            id=leg,
            name=NAMES[leg],
            kind="loop",
            way=Way.FORWARD,
            start=departure + timedelta(hours=2 * number),
            end=departure + timedelta(hours=2 * number + 1),
            severity=1.0,
            hazard=None,
            turn_back=None,
        )
        for number, leg in enumerate(legs)
    )
    second = (
        tuple(replace(planned[0], id=leg, name=NAMES[leg]) for leg in PLAN_B) if planned else ()
    )
    arrival = planned[-1].end if planned else departure
    return Briefing(
        tour="Coast of Lanterns",
        invented=True,
        zone=ZONE,
        units=UnitSystem.METRIC,
        language="en",
        date=request.day,
        made_at=SENT,
        base_from="Orrowick",
        base_to="Orrowick",
        decision=Decision.SWAP if legs != OWN else Decision.AS_PLANNED,
        departure=departure,
        arrival=arrival,
        light=DayLight(civil_dawn=None, sunrise=None, sunset=None, civil_dusk=None),
        spare_minutes=65.0,
        spare_limit=Hurdle(kind=HurdleKind.DUSK),
        value_minutes=100.0,
        proven=True,
        bound_minutes=100.0,
        legs=planned,
        left_out=tuple(left for leg, left in LEFT.items() if leg not in legs),
        changes=(Change(kind=ChangeKind.MOVED, leg="hask", worth_minutes=45.0, reason=GUST),)
        if legs != OWN
        else (),
        own_order=OwnOrder(value_minutes=55.0, severity=3.0, worst_leg="hask", worst=GUST),
        plan_b=PlanB(
            departure=departure,
            arrival=arrival,
            legs=second,
            value_minutes=80.0,
            better_when=BetterWhen(kind=BetterKind.WORSE),
        ),
        decision_points=(),
        odds=None,
        warnings=None,
        cautions=(),
        unknown=(),
        origin=Origin("Invented Weather", "INVENTED", SENT, invented=True),
    )


def _legs(day: date, demands: Demands) -> tuple[str, ...]:
    start = OWN if demands.own_order else SUGGESTED
    moved = dict(demands.moved)
    legs = [leg for leg in start if moved.get(leg, day) == day]
    legs += [leg for leg in sorted(demands.forced) if leg not in legs]
    legs += [leg for leg, to in sorted(moved.items()) if to == day and leg not in legs]
    legs = [leg for leg in legs if leg not in demands.left_out | demands.closed]
    for first, second in sorted(demands.before):
        if first in legs and second in legs and legs.index(first) > legs.index(second):
            legs.remove(first)
            legs.insert(legs.index(second), first)
    return tuple(legs)


def fresh(memory: Memory | None = None, accepted: Briefing | None = None) -> State:
    """Return a conversation that has not begun."""
    return begin("coast", BOOK, DAY, memory=memory or Memory(), accepted=accepted)
