"""What a rider is told of the tank: fuel on the way, a leg too far, a day that lacks it.

All tours are INVENTED, the weather too: calm, dry and light.
"""

from dataclasses import replace
from datetime import UTC, datetime

from replanner.advice.as_json import as_json
from replanner.advice.assemble import Setting
from replanner.advice.briefing import Briefing, Decision
from replanner.advice.text_message import message
from replanner.planning.fuelled_day import tank_of
from replanner.planning.own_run import own_run
from replanner.service.evening import search_day, tell_day
from replanner.service.planner import SharedDay
from replanner.trip.edits import Demands
from replanner.trip.model import Halt, HaltKind, Leg, Rider
from replanner.units import UnitSystem
from tests.advice.briefings import ORIGIN
from tests.planning.invented import a_leg, a_tour, build

SETTING = Setting(made_at=datetime(2027, 4, 1, 6, 30, tzinfo=UTC), language="en", origin=ORIGIN)
PUMP = Halt(place="base", fraction=1.0, minutes=10, kind=HaltKind.FUEL, optional=True)


def told(
    range_km: float, *legs: Leg, demands: Demands | None = None, **tour: UnitSystem
) -> Briefing:
    """Plan the day of these legs for a rider with such a tank; four fifths of it are usable."""
    rider = Rider(id="R1", leader=True, tank_range_km=range_km)
    built = build(replace(a_tour(legs), riders=(rider,), **tour), demands=demands)
    own = own_run(built, tank_of(built))
    day = SharedDay(built=built, demands=demands or Demands(), own=own)
    return tell_day(search_day(day), SETTING).briefing


def test_fuel_the_tank_demands_is_told_with_hour_and_place() -> None:
    legs = [a_leg(name, distance_km=100.0, halts=(PUMP,)) for name in ("one", "two", "three")]
    briefing = told(300.0, *legs)
    (pump,) = [(leg, at) for leg in briefing.legs for at in leg.pumps]
    assert pump[1][0] == "Base"
    hour = pump[1][1].astimezone(build(a_tour(legs)).tour.zone)
    assert f"{hour:%H:%M} fuel, Base" in message(briefing)
    answer = as_json(briefing)
    kinds = [halt["kind"] for leg in answer["legs"] for halt in leg["halts"]]
    assert kinds == ["fuel"]
    assert "Fuel at Base at" in answer["spoken"]


def test_where_the_tank_lasts_no_pump_is_told() -> None:
    legs = [a_leg(name, distance_km=100.0, halts=(PUMP,)) for name in ("one", "two", "three")]
    briefing = told(400.0, *legs)
    assert not any(leg.halts for leg in briefing.legs)
    assert "fuel" not in message(briefing)


def test_a_leg_too_far_on_one_tank_says_so() -> None:
    briefing = told(300.0, a_leg("far", distance_km=300.0), a_leg("near", distance_km=50.0))
    assert [leg.id for leg in briefing.legs] == ["near"]
    (left,) = briefing.left_out
    assert (left.id, left.cause, left.price_minutes) == ("far", "fuel", None)
    answer = as_json(briefing)
    assert answer["left_out"][0]["cause"] == "fuel"
    assert answer["own_order"]["value_minutes"] is None
    assert answer["own_order"]["breaks"] == "the smallest tank on Far"


def test_a_tank_that_lacks_names_the_leg_the_kilometres_and_what_mends_it() -> None:
    legs = a_leg("far", distance_km=200.0, must=True), a_leg("near", distance_km=40.0)
    briefing = told(200.0, *legs)  # 160 km of it are usable
    assert briefing.decision is Decision.NO_WAY
    line = "the smallest tank: 40 km short on Far, add a fuel halt"
    assert line in " ".join(message(briefing).split())
    assert as_json(briefing)["blame"] == [line]
    imperial = told(200.0, *legs, units=UnitSystem.IMPERIAL)
    assert "25 mi short on Far" in " ".join(message(imperial).split())  # 24.85 mi, told up


def test_a_fuel_halt_there_mends_it() -> None:
    on_the_way = replace(PUMP, fraction=0.5, place="far")
    far = a_leg("far", distance_km=200.0, must=True, halts=(on_the_way,))
    briefing = told(200.0, far, a_leg("near", distance_km=40.0))
    assert "far" in [leg.id for leg in briefing.legs]
    assert [place for leg in briefing.legs for place, _ in leg.pumps] == ["Far"]


def test_the_own_order_kept_takes_the_fuel_it_needs() -> None:
    legs = [a_leg(name, distance_km=100.0, halts=(PUMP,)) for name in ("one", "two", "three")]
    briefing = told(300.0, *legs, demands=Demands(own_order=True))
    assert [leg.id for leg in briefing.legs] == ["one", "two", "three"]
    assert sum(len(leg.pumps) for leg in briefing.legs) == 1
