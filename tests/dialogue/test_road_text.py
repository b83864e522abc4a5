"""The few lines told on the road, on a briefing made by hand. INVENTED."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from replanner.advice.briefing import Briefing, Decision, HazardNote, HomeWay
from replanner.advice.text_road import Manner, road_tail, road_text, status_line
from replanner.dialogue.events import Replan
from replanner.planning.demand import Demand, DemandKind
from replanner.trip.edits import Demands
from replanner.units import UnitSystem
from tests.dialogue.evening import DAY, at, plan

HOME = HomeWay(
    departure=at("11:00"),
    arrival=at("12:10"),
    legs=("Hask valley road",),
    severity=1.0,
    worst=None,
    road_minutes=10.0,
    estimated=False,
    turning_back=False,
    in_time=True,
    limit=at("20:00"),
)
# 26.0 m/s against 20.6: 93.6 against 74.2 km/h, 58.2 against 46.1 mph; a value is rounded up.
GALE = HazardNote(
    name="gust", value=26.0, limit=20.6, unit="m/s", hour=at("11:00"), section="", unknown=False
)


def rest(**changes: object) -> Briefing:
    """Return a day under way: two legs from 08:30, the second with a turn-back time."""
    made = plan(Replan(day=DAY, demands=Demands()))
    first, second = made.legs
    second = replace(second, turn_back=at("11:20"), severity=2.0, hazard=GALE)
    return replace(made, legs=(first, second), way_home=HOME, **changes)


def test_the_lines_are_next_worst_turn_back_in_by_and_the_way_home() -> None:
    assert road_text(rest(), at("08:30")).splitlines() == [
        "Next: 08:30 Quern Point loop, 10:30 Hask Saddle.",
        "Mind Hask Saddle at 11:00 gust 94, limit 74 km/h.",
        "Turn back: Hask Saddle by 11:20.",
        "In by 11:30, 65 min to spare (dusk).",
        "Way home: Hask valley road, in by 12:10.",
    ]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"km": 80.0}, "Hask valley road, in by 12:10."),
        (
            {"km": 80.0, "fill_up_at": ("Orrowick",)},
            "Hask valley road, in by 12:10, fill up at Orrowick.",
        ),
        (
            {"km": 80.0, "short_km": 12.3},
            "Hask valley road, in by 12:10, the smallest tank 13 km short.",
        ),
        (
            {"km": 180.0, "fill_up_at": ("Orrowick",), "short_km": 12.3},
            "Hask valley road, in by 12:10, fill up at Orrowick, the smallest tank 13 km short.",
        ),
        ({"km": 79.2, "short_km": None}, "Hask valley road, in by 12:10, 80 km, check the tank."),
    ],
)
def test_the_way_home_says_whether_the_tank_lasts(changes: dict[str, Any], told: str) -> None:
    """Told as good as ever, it led riders with an empty tank past the last pump."""
    home = replace(HOME, **changes)
    assert road_text(replace(rest(), way_home=home), at("08:30")).splitlines()[-1] == (
        f"Way home: {told}"
    )


def test_turn_back_times_that_are_past_are_not_told() -> None:
    assert "Turn back" not in road_text(rest(), at("11:20"))
    assert "Turn back" not in road_tail(rest(), at("11:20"))


def test_figures_are_in_the_riders_unit() -> None:
    assert "gust 59, limit 46 mph" in road_text(rest(units=UnitSystem.IMPERIAL), at("08:30"))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"in_time": False}, "too late for the limit 20:00"),
        ({"severity": 4.0, "worst": GALE}, "NO-GO gust 94"),
        ({"severity": 2.0, "worst": GALE}, "mind gust 94"),
        ({"turning_back": True}, "turn back, Hask valley road"),
        ({"legs": (), "estimated": True}, "plain road, estimated"),
    ],
)
def test_what_is_bad_about_the_way_home_is_told(changes: dict[str, object], said: str) -> None:
    told = road_text(replace(rest(), way_home=replace(HOME, **changes)), at("08:30"))
    assert said in told.splitlines()[-1]


def test_a_way_home_over_what_no_plan_holds_with_is_told_as_such() -> None:
    """It keeps the limit and nothing is bad on it by the forecast: all the same."""
    blame = (
        Demand(kind=DemandKind.RIDE, legs=("valley",)),
        Demand(kind=DemandKind.END_BY, by=at("18:00")),
    )
    none = rest(decision=Decision.NO_WAY, departure=None, arrival=None, blame=blame)
    none = replace(none, legs=(), names={"valley": "Hask valley road"})
    told = road_text(none, at("11:00")).splitlines()
    assert told[0].startswith("No plan holds from here: riding Hask valley road")
    assert told[-1].endswith("in by 12:10, mind Hask valley road: no plan holds with it.")
    # told once only, where more is told of it; and not of another road
    late = replace(none, way_home=replace(HOME, in_time=False))
    assert "no plan holds with it" not in road_text(late, at("11:00"))
    other = replace(none, way_home=replace(HOME, legs=("Brindle low road",)))
    assert "no plan holds with it" not in road_text(other, at("11:00"))


def test_a_stand_in_that_is_ridden_no_more_is_named() -> None:
    """It is in no list of what is left out: it was never asked for."""
    before = rest()
    stand_in = replace(before.legs[1], id="valley", name="Hask valley road")
    before = replace(before, legs=(before.legs[0], stand_in))
    after = replace(rest(), legs=(), left_out=())
    told = road_text(after, at("10:00"), before=before, ridden=frozenset({"quern"}))
    assert "Dropped: Hask valley road." in told
    # begun, or done before its time: it fell out of nothing
    assert "Dropped" not in road_text(
        after, at("10:31"), before=before, ridden=frozenset({"quern"})
    )
    done = frozenset({"quern", "valley"})
    assert "Dropped" not in road_text(after, at("10:00"), before=before, ridden=done)


def test_without_a_plan_it_is_said_and_the_way_home_is_told_or_not_known() -> None:
    none = rest(decision=Decision.NO_WAY, departure=None, arrival=None)
    told = road_text(replace(none, legs=()), at("19:00")).splitlines()
    assert told[0] == "No plan holds from here."
    assert told[-1].startswith("Way home: ")
    lost = replace(none, legs=(), way_home=None)
    assert road_text(lost, at("19:00")).splitlines()[-1] == "No way home is known from here."


def test_who_is_at_the_base_and_has_nothing_left_to_ride_stays_there() -> None:
    none = replace(rest(decision=Decision.REST_DAY, departure=None, arrival=None), legs=())
    told = road_text(none, at("17:00")).splitlines()
    assert told[0] == f"Nothing more to ride: stay in {none.base_to}."
    sheltered = road_text(none, at("17:00"), manner=Manner.SHELTER).splitlines()
    assert sheltered[0] == told[0]


def test_thunder_shows_no_leg_and_no_way_to_ride() -> None:
    told = road_text(rest(departure=at("11:30")), at("11:00"), manner=Manner.SHELTER)
    assert told.splitlines()[0] == "Ride on at 11:30 at the earliest."
    assert "Hask" not in told
    assert "Way home" not in told


def test_the_latest_restart_is_the_limit_less_the_way_home() -> None:
    """The way home takes 70 minutes; the limit is 20:00, dusk not known here: 18:50."""
    told = road_text(rest(), at("11:00"), manner=Manner.STRANDED)
    assert told.splitlines()[0] == "Latest restart to be in Orrowick in light: 18:50."
    dusk = replace(rest().light, civil_dusk=at("19:00"))
    told = road_text(rest(light=dusk), at("11:00"), manner=Manner.STRANDED)
    assert told.splitlines()[0] == "Latest restart to be in Orrowick in light: 17:50."
    dark = replace(rest().light, civil_dusk=HOME.departure + timedelta(minutes=5))
    told = road_text(rest(light=dark), at("11:00"), manner=Manner.STRANDED)
    assert told.splitlines()[0] == "No restart reaches Orrowick in light."


def test_old_data_is_said_as_such() -> None:
    stale = replace(rest(), origin=replace(rest().origin, stale=True))
    assert "OLD DATA." in road_text(stale, at("08:30"))


def test_a_long_rest_is_cut_to_what_is_read_in_twenty_seconds() -> None:
    """Ninety words in thirty seconds, as the evening's message is read: sixty with the echo."""
    made = rest()
    many = tuple(replace(made.legs[1], id=f"leg{n}", name=f"Some Leg {n}") for n in range(6))
    told = road_text(replace(made, legs=many), at("08:30"))
    assert len(told.split()) <= 46
    assert "more." in told.splitlines()[0]
    assert len(told.splitlines()) <= 5


def test_the_status_is_one_line() -> None:
    told = status_line(rest(), "You are on Hask Saddle.", at("10:40"))
    assert told == "10:40 You are on Hask Saddle. In by 11:30, 65 min to spare (dusk)."
