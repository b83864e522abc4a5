"""Briefings made by hypothesis: any names, any figures, anything missing."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from briefings import ALL, ORIGIN
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st

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
    PlannedLeg,
    PlannedRoad,
    ShutHalt,
    Waiting,
)
from replanner.advice.cautions import cautions_for
from replanner.hazards.register import HAZARDS
from replanner.planning.demand import Demand, DemandKind
from replanner.trip.model import HaltKind, LegKind, Way
from replanner.units import UnitSystem
from replanner.weather.hourly import Origin

# Shrinking a whole day takes minutes; a failing one is readable enough as it is.
quick = settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)
_START = datetime(2026, 3, 1, tzinfo=UTC)
_MIDNIGHT = st.integers(0, 399).map(lambda n: _START + timedelta(days=n))
_LEGS = tuple(f"leg{n}" for n in range(16))
_UNITS = {
    "visibility": "m", "cloud_base": "m", "frost": "degC", "heat": "degC", "wind_chill": "degC",
    "rain": "mm", "wet_track": "mm", "gravel": "mm", "wet_road": "h", "chippings": "d",
    "darkness": "min", "dusk_animals": "min", "low_sun": "deg", "thunder": "%", "wet_steep": "%",
}  # fmt: skip

names = st.one_of(
    st.sampled_from(("Hask Saddle", "A89", "Pass", "Ὁδὸς ἡ μακρὰ", "山を越える長い道", "x" * 90)),
    st.text(
        st.characters(exclude_categories=("Cs", "Co", "Cn"), exclude_characters="_"),
        min_size=1,
        max_size=120,
    ).filter(lambda text: any(char.isalnum() for char in text)),
)
demands = st.one_of(
    st.builds(
        Demand,
        kind=st.sampled_from((DemandKind.RIDE, DemandKind.AT_MOST_ONE)),
        legs=st.lists(st.sampled_from((*_LEGS, "leg20")), min_size=1, max_size=4).map(tuple),
    ),
    st.just(Demand(kind=DemandKind.BEFORE, legs=("leg3", "leg4"))),
    st.builds(
        Demand,
        kind=st.sampled_from((DemandKind.START_BY, DemandKind.END_BY)),
        slot=st.just(20),
        by=_MIDNIGHT.map(lambda midnight: midnight + timedelta(hours=17)),
    ),
    st.just(Demand(kind=DemandKind.A_WAY)),
)
figures = st.floats(-60.0, 400.0) | st.none()


@st.composite
def notes(draw: st.DrawFn, midnight: datetime) -> HazardNote:
    """Any hazard, at any hour of the day."""
    name = draw(st.sampled_from([hazard.name for hazard in HAZARDS] + ["deep_ford"]))
    unknown = draw(st.booleans())
    return HazardNote(
        name=name,
        value=None if unknown else draw(figures | st.just(float("nan"))),
        limit=None if unknown else draw(figures),
        unit=_UNITS.get(name, "m/s"),
        hour=midnight + timedelta(hours=draw(st.integers(0, 23))),
        section=draw(names),
        unknown=unknown,
    )


def _over_days(day: date) -> st.SearchStrategy[OverDays]:
    """Any days from the briefing's own on, with any demands of them."""
    days = st.integers(0, 5).map(lambda n: day + timedelta(days=n))
    return st.builds(
        OverDays,
        without_plan=st.lists(days, min_size=1, max_size=6, unique=True).map(
            lambda found: tuple(sorted(found))
        ),
        demands=st.lists(st.tuples(st.none() | days, demands), max_size=4).map(tuple),
        fewest=st.booleans(),
        fuel=st.booleans(),
        no_go_roads=st.lists(days, max_size=3).map(tuple),
    )


@st.composite
def briefings(draw: st.DrawFn) -> Briefing:
    """Return any briefing, also ones no search would make."""
    midnight = draw(_MIDNIGHT)
    minute = st.integers(0, 1700).map(lambda n: midnight + timedelta(minutes=n))
    note = notes(midnight)
    text = st.just("") | names
    hurdle = st.none() | st.builds(
        Hurdle,
        kind=st.sampled_from(HurdleKind),
        leg=st.none() | st.sampled_from(_LEGS),
        name=text,
        at=st.none() | minute,
    )
    better = st.builds(
        BetterWhen, kind=st.sampled_from(BetterKind), leg=st.none() | st.sampled_from(_LEGS)
    )
    shut = st.builds(
        ShutHalt,
        place=names,
        kind=st.sampled_from([*map(str, HaltKind)]),
        passed=minute,
        opens=st.none() | minute,
        closes=st.none() | minute,
    )
    count = draw(st.integers(0, 14))
    starts = sorted(draw(st.lists(minute, min_size=count, max_size=count)))
    legs = tuple(
        PlannedLeg(
            id=key,
            name=draw(names),
            kind=str(draw(st.sampled_from(LegKind))),
            way=draw(st.sampled_from(Way)),
            start=start,
            end=start + timedelta(minutes=30),
            severity=draw(st.floats(0.0, 4.0)),
            hazard=draw(st.none() | note),
            turn_back=draw(st.none() | minute),
            sailing=draw(st.none() | minute),
            halts=tuple(draw(st.lists(st.tuples(names, minute), max_size=2))),
            halt_kinds=tuple(draw(st.lists(st.sampled_from([*map(str, HaltKind)]), max_size=2))),
            note=draw(text),
            shut=tuple(draw(st.lists(shut, max_size=2))),
        )
        for key, start in zip(_LEGS, starts, strict=False)
    )
    road = st.builds(
        PlannedRoad,
        start=names,
        end=names,
        leave=minute,
        arrive=minute,
        severity=st.floats(0.0, 4.0) | st.just(4.0),
        hazard=st.none() | note,
        waits=st.booleans(),
        estimated=st.booleans(),
    )
    left_out = draw(
        st.lists(
            st.builds(
                LeftOut,
                id=st.sampled_from(_LEGS),
                name=names,
                reason=st.none() | note,
                cause=st.sampled_from(
                    (
                        "hazard",
                        "no time",
                        "not worth it",
                        "closed",
                        "asked",
                        "stand-in",
                        "other day",
                    )
                ),
                price_minutes=st.none() | st.floats(0, 500),
                to_ride_it=hurdle,
                moved_to=st.none() | st.dates(date(2026, 3, 1), date(2027, 3, 1)),
            ),
            max_size=5,
        )
    )
    changes = draw(
        st.lists(
            st.builds(
                Change,
                kind=st.sampled_from(ChangeKind),
                leg=st.none() | st.sampled_from(_LEGS),
                worth_minutes=st.none() | st.floats(0, 500),
                reason=st.none() | note,
                own_start=st.none() | minute,
                new_start=st.none() | minute,
                other_leg=st.none() | st.sampled_from(_LEGS),
                to_day=st.none() | st.dates(date(2026, 3, 1), date(2027, 3, 1)),
            ),
            max_size=5,
        )
    )
    points = draw(
        st.lists(
            st.builds(
                DecisionPoint,
                leg=st.sampled_from(_LEGS),
                place=st.just("junction"),
                place_name=names,
                latest=minute,
                rule=st.none() | note,
                instead=st.sampled_from(_LEGS),
                instead_name=names,
                arrival_instead=st.none() | minute,
            ),
            max_size=3,
        )
    )
    light = st.none() | minute
    example = draw(st.sampled_from(sorted(ALL.items())))[1]
    second = draw(st.none() | st.just(example.plan_b))
    made_at = midnight - timedelta(minutes=draw(st.integers(-600, 3000)))
    return Briefing(
        tour=draw(names),
        invented=draw(st.booleans()),
        zone=draw(st.sampled_from(("Europe/London", "Pacific/Chatham", "America/St_Johns", "UTC"))),
        units=draw(st.sampled_from(UnitSystem)),
        language=draw(st.sampled_from(("en", "en_US", "de", "nonsense"))),
        date=midnight.date(),
        made_at=made_at,
        base_from=draw(names),
        base_to=draw(names),
        decision=draw(st.sampled_from(Decision)),
        departure=draw(minute) if legs else None,
        arrival=draw(minute) if legs else None,
        light=DayLight(
            civil_dawn=draw(light),
            sunrise=draw(light),
            sunset=draw(light),
            civil_dusk=draw(light),
        ),
        spare_minutes=draw(st.none() | st.floats(-100, 900)),
        spare_limit=draw(hurdle),
        value_minutes=draw(st.none() | st.floats(-500, 500)),
        proven=draw(st.booleans()),
        bound_minutes=draw(st.none() | st.floats(-500, 900)),
        legs=legs,
        left_out=tuple(left_out),
        changes=tuple(changes),
        own_order=OwnOrder(
            value_minutes=draw(st.none() | st.floats(-500, 500)),
            severity=draw(st.floats(0, 4)),
            worst_leg=draw(st.none() | st.sampled_from(_LEGS)),
            worst=draw(st.none() | note),
            worst_start=draw(st.none() | minute),
            breaks=draw(hurdle),
        ),
        plan_b=None if second is None else replace(second, better_when=draw(st.none() | better)),
        decision_points=tuple(points),
        odds=draw(
            st.none()
            | st.builds(
                Odds,
                members=st.just(20),
                plan_holds=st.floats(0, 1),
                by_leg=st.just({}),
                estimated=st.booleans(),
            )
        ),
        warnings=draw(st.none() | st.lists(names, max_size=3).map(tuple)),
        roads=draw(st.none() | st.lists(road, max_size=3).map(tuple)),
        cautions=cautions_for([(draw(note).name, draw(st.floats(0, 4)))]),
        blame=tuple(draw(st.lists(demands, max_size=4))),
        over_days=draw(st.none() | _over_days(midnight.date())),
        unknown=tuple(
            draw(st.lists(st.sampled_from([hazard.name for hazard in HAZARDS]), max_size=9))
        ),
        origin=Origin(
            service=draw(names),
            credit=draw(names),
            fetched=made_at - timedelta(hours=draw(st.integers(0, 40))),
            issued=None,
            stale=draw(st.booleans()),
            invented=ORIGIN.invented,
        ),
        plan_stale=draw(st.booleans()),
        stale_cause=draw(text),
        next_check=draw(st.none() | minute),
        waiting=draw(
            st.none()
            | st.builds(
                Waiting,
                gain_minutes=st.floats(0, 500),
                decide_by=minute,
                members=st.integers(2, 51),
                other_share=st.floats(0, 1),
                estimated=st.booleans(),
            )
        ),
        tonight=draw(st.none() | st.sampled_from(_LEGS)),
    )
