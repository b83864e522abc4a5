"""Example briefings, one for each kind of evening. Every place, person and figure is INVENTED.

They are data for tests of wording only: times and figures fit together loosely, no search made
them.
"""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from replanner.advice.briefing import (
    BetterKind,
    BetterWhen,
    Briefing,
    Change,
    ChangeKind,
    DayLight,
    Decision,
    DecisionPoint,
    HazardNote,
    Hurdle,
    HurdleKind,
    LeftOut,
    Odds,
    OverDays,
    OwnOrder,
    PlanB,
    PlannedLeg,
    PlannedRoad,
)
from replanner.advice.cautions import cautions_for
from replanner.planning.demand import Demand, DemandKind
from replanner.trip.model import Way
from replanner.units import UnitSystem
from replanner.weather.hourly import Origin

DAY = date(2026, 10, 16)  # a Friday; the zone below is one hour ahead of UTC on it


def at(text: str, day: date = DAY) -> datetime:
    """Return the UTC instant "HH:MM" of the day."""
    hour, minute = text.split(":")
    return datetime(day.year, day.month, day.day, int(hour), int(minute), tzinfo=UTC)


GUST = HazardNote(
    name="gust", value=26.4, limit=17.9, unit="m/s", hour=at("13:00"), section="Hask top",
    unknown=False,
)  # fmt: skip
WET = HazardNote(
    name="wet_track", value=4.2, limit=2.0, unit="mm", hour=at("08:00"), section="Hask lane",
    unknown=False,
)  # fmt: skip
NO_FOG_DATA = HazardNote(
    name="visibility", value=None, limit=None, unit="m", hour=at("09:00"), section="Brindle",
    unknown=True,
)  # fmt: skip


def leg(
    key: str,
    name: str,
    start: str,
    end: str,
    *,
    severity: float = 0.5,
    hazard: HazardNote | None = None,
    turn_back: str | None = None,
    note: str = "",
    kind: str = "loop",
) -> PlannedLeg:
    """Return a leg of the day with times in UTC."""
    return PlannedLeg(
        id=key,
        name=name,
        kind=kind,
        way=Way.FORWARD,
        start=at(start),
        end=at(end),
        severity=severity,
        hazard=hazard,
        turn_back=None if turn_back is None else at(turn_back),
        note=note,
    )


CAUSEWAY = leg("causeway", "Salt Causeway", "07:40", "09:00", note="cross 09:15")
BRINDLE = leg("brindle", "Brindle Low Road", "10:45", "12:00")
HASK = leg(
    "hask", "Hask Saddle", "14:15", "15:40", severity=2.1, hazard=replace(GUST, value=13.6,
    limit=13.4, hour=at("14:00")), turn_back="15:15", kind="pass",
)  # fmt: skip

ORIGIN = Origin(
    service="Invented Weather",
    credit="Weather data by Invented Weather (CC0)",
    fetched=datetime(2026, 10, 15, 17, 40, tzinfo=UTC),
    issued=datetime(2026, 10, 15, 12, 0, tzinfo=UTC),
    invented=True,
)

PLAN_B = PlanB(
    departure=at("08:00"),
    arrival=at("15:30"),
    legs=(CAUSEWAY, leg("valley", "Valley Road", "12:30", "13:30", kind="transit")),
    value_minutes=180.0,
    better_when=BetterWhen(kind=BetterKind.WORSE, leg="hask"),
)

SWAP = Briefing(
    tour="Invented Coast",
    invented=True,
    zone="Europe/London",
    units=UnitSystem.METRIC,
    language="en",
    date=DAY,
    made_at=datetime(2026, 10, 15, 18, 30, tzinfo=UTC),
    base_from="Orrowick",
    base_to="Orrowick",
    decision=Decision.SWAP,
    departure=at("07:30"),
    arrival=at("17:00"),
    light=DayLight(
        civil_dawn=at("06:02"), sunrise=at("06:35"), sunset=at("17:12"), civil_dusk=at("17:45")
    ),
    spare_minutes=65.0,
    spare_limit=Hurdle(kind=HurdleKind.DUSK),
    value_minutes=212.0,
    proven=True,
    bound_minutes=212.0,
    legs=(CAUSEWAY, BRINDLE, HASK),
    left_out=(
        LeftOut(
            id="gannet", name="Gannet Head", reason=None, cause="not worth it", price_minutes=31.5
        ),
    ),
    changes=(
        Change(
            kind=ChangeKind.MOVED,
            leg="hask",
            worth_minutes=95.0,
            reason=WET,
            own_start=at("08:00"),
            new_start=at("14:15"),
        ),
        Change(kind=ChangeKind.LEFT_OUT, leg="gannet", worth_minutes=31.5, reason=None),
    ),
    own_order=OwnOrder(
        value_minutes=117.0, severity=3.2, worst_leg="hask", worst=WET, worst_start=at("08:00")
    ),
    plan_b=PLAN_B,
    decision_points=(
        DecisionPoint(
            leg="hask",
            place="haskfoot",
            place_name="Haskfoot",
            latest=at("15:15"),
            rule=WET,
            instead="valley",
            instead_name="Valley Road",
            arrival_instead=at("16:40"),
        ),
    ),
    odds=Odds(
        members=20,
        plan_holds=0.75,
        by_leg={"causeway": 1.0, "brindle": 1.0, "hask": 0.75},
        estimated=True,
    ),
    warnings=None,
    cautions=cautions_for([("gust", 2.1)]),
    unknown=(),
    origin=ORIGIN,
    next_check=at("06:45"),
)

AS_PLANNED = replace(
    SWAP,
    decision=Decision.AS_PLANNED,
    changes=(),
    left_out=(),
    own_order=OwnOrder(value_minutes=212.0, severity=2.1, worst_leg="hask", worst=GUST),
    plan_b=None,
    decision_points=(),
    warnings=(),
)
_VALLEY = leg("valley", "Valley Road", "13:30", "14:30", kind="transit")
STAND_IN = replace(
    SWAP,
    decision=Decision.STAND_IN,
    legs=(CAUSEWAY, BRINDLE, _VALLEY),
    changes=(
        Change(
            kind=ChangeKind.STAND_IN, leg="hask", worth_minutes=None, reason=GUST,
            other_leg="valley",
        ),
    ),
    left_out=(
        LeftOut(
            id="hask", name="Hask Saddle", reason=GUST, cause="hazard", price_minutes=None,
            to_ride_it=Hurdle(kind=HurdleKind.HAZARD, leg="hask"),
        ),
    ),
    decision_points=(),
)  # fmt: skip
NO_WAY = replace(
    SWAP,
    decision=Decision.NO_WAY,
    departure=None,
    arrival=None,
    spare_minutes=None,
    value_minutes=None,
    bound_minutes=None,
    legs=(),
    changes=(),
    left_out=tuple(
        LeftOut(id=key, name=name, reason=GUST, cause="hazard", price_minutes=None)
        for key, name in (("hask", "Hask Saddle"), ("causeway", "Salt Causeway"))
    ),
    own_order=OwnOrder(
        value_minutes=None, severity=4.0, worst_leg="hask", worst=GUST, worst_start=at("08:00"),
        breaks=Hurdle(kind=HurdleKind.HAZARD, leg="hask", at=at("08:00")),
    ),
    plan_b=None,
    decision_points=(),
    odds=None,
    cautions=cautions_for([("gust", 4.0)]),
)  # fmt: skip
REST_DAY = replace(
    NO_WAY,
    decision=Decision.REST_DAY,
    left_out=(LeftOut(id="hask", name="Hask Saddle", reason=GUST, cause="hazard",
                      price_minutes=None),),
)  # fmt: skip
MISSING_DATA = replace(
    AS_PLANNED,
    legs=(CAUSEWAY, replace(BRINDLE, severity=2.0, hazard=NO_FOG_DATA), HASK),
    unknown=("visibility", "cloud_base"),
    odds=None,
    warnings=None,
    cautions=cautions_for([("gust", 2.1)], unknown=("visibility",)),
    next_check=None,
)
STALE = replace(
    SWAP,
    plan_stale=True,
    stale_cause="no answer from Invented Weather",
    origin=replace(
        ORIGIN,
        stale=True,
        fetched=datetime(2026, 10, 14, 17, 40, tzinfo=UTC),
        issued=datetime(2026, 10, 14, 12, 0, tzinfo=UTC),
    ),
    made_at=datetime(2026, 10, 14, 18, 30, tzinfo=UTC),
)
IMPERIAL = replace(SWAP, units=UnitSystem.IMPERIAL, language="en_US", invented=False,
                   origin=replace(ORIGIN, invented=False))  # fmt: skip
_LONG = (
    "The Old Military Road over the High Moor by way of the Seven Bridges",
    "The Old Military Road over the High Moor by way of the Ninth Bridge",
    "Дорога через очень высокий и длинный перевал Тысячи Ветров",
    "Llanfair-far-over-the-hill-and-down-again-to-the-sea-wall",
    "山を越える長い長い長い道と海沿いの小道",
    "Ὁδὸς ἡ μακρὰ διὰ τῶν ὀρέων",
    "طريق الجبل الطويل فوق الوادي",
    "A89/B12 (toll) <north> & {south}",
)
MANY = replace(
    SWAP,
    departure=at("06:50"),
    legs=tuple(
        leg(
            f"leg{n}",
            f"{_LONG[n % len(_LONG)]} {n}",
            f"{7 + n * 40 // 60:02}:{n * 40 % 60:02}",
            f"{7 + (n * 40 + 35) // 60:02}:{(n * 40 + 35) % 60:02}",
            severity=(0.5, 2.2, 3.1, 2.0)[n % 4],
            hazard=(None, WET, GUST, NO_FOG_DATA)[n % 4],
        )
        for n in range(14)
    ),
    own_order=OwnOrder(
        value_minutes=117.0, severity=3.2, worst_leg="leg2", worst=WET, worst_start=at("08:00")
    ),
    changes=(),
    plan_b=replace(PLAN_B, better_when=BetterWhen(kind=BetterKind.WORSE, leg="leg2")),
    decision_points=(),
    unknown=("visibility", "gust", "thunder", "frost", "cloud_base", "low_sun"),
    warnings=("Orange warning of wind, invented, for the whole of the Invented Coast until noon",),
)
POLAR_DAY = replace(
    AS_PLANNED,
    zone="Arctic/Longyearbyen",
    light=DayLight(civil_dawn=None, sunrise=None, sunset=None, civil_dusk=None),
)
POLAR_NIGHT = replace(
    POLAR_DAY,
    light=DayLight(civil_dawn=at("09:10"), sunrise=None, sunset=None, civil_dusk=at("12:20")),
)
_CHANGE_DAY = date(2026, 10, 25)  # clocks go back in Europe/London at 01:00 UTC
CLOCK_CHANGE = replace(
    AS_PLANNED,
    date=_CHANGE_DAY,
    departure=at("07:30", _CHANGE_DAY),
    arrival=at("17:00", _CHANGE_DAY),
    legs=tuple(
        replace(
            one,
            start=one.start.replace(day=25),
            end=one.end.replace(day=25),
            turn_back=None,
            hazard=None
            if one.hazard is None
            else replace(one.hazard, hour=one.hazard.hour.replace(day=25)),
        )
        for one in AS_PLANNED.legs
    ),
    light=DayLight(
        civil_dawn=at("06:15", _CHANGE_DAY),
        sunrise=at("06:50", _CHANGE_DAY),
        sunset=at("16:50", _CHANGE_DAY),
        civil_dusk=at("17:22", _CHANGE_DAY),
    ),
    made_at=datetime(2026, 10, 24, 18, 30, tzinfo=UTC),
    origin=replace(ORIGIN, issued=None, fetched=datetime(2026, 10, 24, 17, 40, tzinfo=UTC)),
    next_check=None,
)
TONIGHT = replace(
    AS_PLANNED,
    tonight="gannet",
    left_out=(
        LeftOut(
            id="gannet", name="Gannet Head", reason=None, cause="other day", price_minutes=12.0,
            moved_to=date(2026, 10, 15),
        ),
    ),
)  # fmt: skip
LATE = replace(
    SWAP,
    decision=Decision.LEAVE_LATER,
    departure=at("09:30"),
    changes=(
        Change(
            kind=ChangeKind.DEPARTURE, leg=None, worth_minutes=22.0, reason=WET,
            own_start=at("07:30"), new_start=at("09:30"),
        ),
    ),
    own_order=OwnOrder(value_minutes=190.0, severity=1.0, worst_leg=None, worst=None),
)  # fmt: skip
_RIDE = {leg: Demand(kind=DemandKind.RIDE, legs=(leg,)) for leg in ("hask", "causeway", "gannet")}
LATER_DAY = replace(
    SWAP,
    over_days=OverDays(
        without_plan=(DAY + timedelta(days=1),),
        demands=(
            (None, _RIDE["hask"]),
            (DAY + timedelta(days=1), _RIDE["gannet"]),
            (
                DAY + timedelta(days=1),
                Demand(kind=DemandKind.END_BY, slot=20, by=at("16:00", DAY + timedelta(days=1))),
            ),
        ),
        fewest=True,
        fuel=False,
    ),
)
NO_LATER_DAY = replace(
    NO_WAY,
    left_out=tuple(replace(leg, cause="no time", reason=None) for leg in NO_WAY.left_out),
    blame=(_RIDE["hask"], _RIDE["causeway"]),
    blame_fewest=True,
    over_days=OverDays(
        without_plan=(DAY,),
        demands=((None, _RIDE["hask"]), (None, _RIDE["causeway"])),
        fewest=True,
        fuel=False,
    ),
)

ROAD_GUST = PlannedRoad(
    start="Salt Bay", end="Brindle Foot", leave=at("09:05"), arrive=at("10:40"), severity=3.2,
    hazard=replace(GUST, value=21.3, section="Brindle Foot", hour=at("10:00")),
)  # fmt: skip
ROAD_HOME = PlannedRoad(
    start="Hask Foot", end="Orrowick", leave=at("15:45"), arrive=at("17:00"), severity=0.4,
    hazard=None,
)  # fmt: skip
WINDY_ROADS = replace(
    AS_PLANNED, roads=(ROAD_GUST, ROAD_HOME), cautions=cautions_for([("gust", 3.2)])
)
NO_GO_ROADS = replace(
    AS_PLANNED,
    roads=(ROAD_HOME, replace(ROAD_GUST, severity=4.0, hazard=replace(GUST, value=29.0))),
    cautions=cautions_for([("gust", 4.0)]),
)
ALL = {
    name.lower(): value for name, value in list(globals().items()) if isinstance(value, Briefing)
}
