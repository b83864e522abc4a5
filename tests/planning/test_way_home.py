"""The way in against every way in there is, on small INVENTED tours."""

from dataclasses import replace
from datetime import time, timedelta
from itertools import combinations, permutations, product

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from replanner.errors import NoPlanError
from replanner.planning.prices import minute_price
from replanner.planning.rules import Rules
from replanner.planning.way_home import LAST_RESORT, WayIn, way_in
from replanner.trip.connectors import ConnectorTable
from replanner.trip.fuel import fill_ups
from replanner.trip.model import (
    Halt,
    HaltKind,
    Leg,
    LegKind,
    Way,
    WeeklyWindow,
    WindowEffect,
)
from replanner.trip.plain_road import roads_to
from tests.planning.invented import a_day, a_leg, a_tour, build, roads, utc
from tests.planning.test_plain_roads import weather

RULES = Rules()
PLACES = ("base", "far", "quay", "other", "inn")
FIVES = st.integers(1, 24).map(lambda n: 5.0 * n)


def a_way(name: str, start: str, end: str, minutes: float, **other: object) -> Leg:
    return a_leg(name, minutes=minutes, start=start, end=end, via=(), kind=LegKind.TRANSIT, **other)


def found(
    legs: list[Leg],
    minutes: dict[tuple[str, str], float],
    severity: dict[str, float],
    first: str | None = None,
    windy: dict[str, float] | None = None,
) -> WayIn | None:
    """Return the way in from the quay to the inn; `windy` has how bad the roads are by place."""
    table = roads(minutes)
    plain = roads_to(a_tour(legs), "inn", PLACES, table)
    every = [*legs, *plain.legs.values()]
    day = a_day(*[leg.id for leg in every], start="quay", end="inn")
    tour = a_tour(every, [day])
    levels = {leg.id: severity.get(leg.id, 0.0) for leg in every}
    try:
        built = build(tour, severity=levels, connectors=table, earliest_now=utc("09:00"))
        if windy is not None:
            slots = built.clock.instants.size
            met = {name: weather(np.full(slots, windy.get(name, 0.0))) for name in PLACES}
            built = build(
                tour, severity=levels, connectors=table, earliest_now=utc("09:00"), road_weather=met
            )
    except NoPlanError:  # no road leads there at all
        return None
    return way_in(built, first, plain)


def dear(minutes: float, severity: float) -> float:
    price = minutes * (1.0 + float(minute_price(np.array(severity), RULES)))
    in_hand = RULES.margin_cost * RULES.wanted_margin_minutes  # none of them before a no-go
    return price + (LAST_RESORT + in_hand if severity >= 4.0 else 0.0)


def _plain(table: ConnectorTable, place: str, by: str) -> float:
    """Return the minutes of plain road to the inn by another place."""
    there, on = table.between(place, by), table.between(by, "inn")
    return np.inf if there is None or on is None else there + on


def by_enumeration(
    legs: list[Leg], minutes: dict[tuple[str, str], float], severity: dict[str, float], first: str
) -> float:
    """Ride every order of legs in every way, plain road between and to the inn."""
    table = roads(minutes)
    best = np.inf
    for count in range(len(legs) + 1):
        for order in permutations(legs, count):
            if first and (not order or order[0].id != first):
                continue
            for ways in product(*[leg.ways for leg in order]):
                place, price = "quay", 0.0
                for leg, way in zip(order, ways, strict=True):
                    start, end = leg.ends(way)
                    road = table.between(place, start)
                    price += np.inf if road is None else road
                    price += dear(leg.riding_minutes, severity.get(leg.id, 0.0))
                    place = end
                price += min(_plain(table, place, by) for by in PLACES)
                best = min(best, price)
    return best


@settings(max_examples=40, deadline=None, phases=(Phase.explicit, Phase.generate))
@given(st.data())
def test_the_way_in_is_the_best_of_all_ways_in(data: st.DataObject) -> None:
    pairs = [(a, b) for n, a in enumerate(PLACES) for b in PLACES[n + 1 :]]
    road = st.one_of(FIVES, st.just(np.nan))
    minutes = {pair: data.draw(road) for pair in pairs}
    ends = st.sampled_from(PLACES)
    legs = [
        a_way(f"leg{n}", start, end, data.draw(FIVES))
        for n in range(3)
        if (start := data.draw(ends)) != (end := data.draw(ends))
    ]
    severity = {leg.id: data.draw(st.sampled_from([0.0, 2.0, 3.0, 4.0])) for leg in legs}
    begin = [leg for leg in legs if leg.start == "quay"]
    first = begin[0].id if begin and data.draw(st.booleans()) else ""
    if first:
        # the leg they are on is ridden one way, before all others
        ahead = tuple(leg.id for leg in legs if leg.id != first)
        one = replace(begin[0], one_way=True, before=(*ahead, *(f"road from {p}" for p in PLACES)))
        legs = [one if leg.id == first else leg for leg in legs]
    best = by_enumeration(legs, minutes, severity, first)
    way = found(legs, minutes, severity, first or None)
    if best > 11 * 60.0:  # from 09:00 nothing later than 22:00 is in the slots of the day
        return
    assert way is not None
    assert way.price == pytest.approx(best)
    if first:
        assert way.legs[0] == first
    assert way.arrival - way.departure <= timedelta(minutes=way.price)


def test_a_no_go_leg_is_taken_only_where_nothing_else_leads_in() -> None:
    """Two hours round come before it; three do not."""
    cut = {("quay", "inn"): np.nan, ("base", "inn"): np.nan, ("other", "inn"): np.nan}
    apart = cut | {("far", "inn"): np.nan}
    pass_road = a_way("pass", "quay", "inn", 30.0)
    round_it = found([pass_road], cut | {("quay", "far"): 60.0, ("far", "inn"): 60.0},
                     {"pass": 4.0})  # fmt: skip
    assert round_it is not None
    assert (round_it.legs, round_it.severity) == ((), 0.0)
    over = found([pass_road], apart, {"pass": 4.0})
    assert over is not None
    assert (over.legs, over.severity) == (("pass",), 4.0)


def test_the_roads_to_its_legs_are_judged_by_the_weather_at_their_ends() -> None:
    """To the inn leads one leg alone, from the far end of half an hour's plain road."""
    legs = [a_way("pass", "far", "inn", 60)]
    no_road = {(place, "inn"): np.nan for place in PLACES[:-1]}
    calm, gale = (found(legs, no_road, {"pass": 1.0}, windy={"far": at}) for at in (0.0, 3.0))
    assert calm is not None
    assert gale is not None
    assert (calm.severity, calm.worst) == (1.0, None)
    assert gale.severity == 3.0
    assert gale.worst is not None
    assert gale.worst.hazard == "gust"
    # the far half of the half hour costs what avoid costs a minute
    price = 15 * float(minute_price(np.array(3.0), RULES))
    assert gale.price - calm.price == pytest.approx(price)


def test_no_road_at_all_is_no_way_in() -> None:
    nowhere = {(place, "inn"): np.nan for place in PLACES[:-1]}
    assert found([], nowhere, {}) is None


def test_minutes_are_whole_and_plain_road_is_told_apart() -> None:
    way = found([], {("quay", "inn"): 41.2}, {})
    assert way is not None
    assert way.minutes == 42.0
    assert (way.road_minutes, way.legs, way.estimated) == (41.2, (), False)
    assert Way.FORWARD in a_way("x", "quay", "inn", 5.0).ways


def test_kilometres_and_open_pumps_of_the_way_in() -> None:
    """90 km of road with a pump after a third of it, then road of which only minutes are known."""
    pump = Halt(place="far", fraction=1 / 3, minutes=8, kind=HaltKind.FUEL, optional=True)
    shut = WeeklyWindow(name="pump", effect=WindowEffect.OPEN, opens=time(14), closes=time(18))
    valley = a_way(
        "valley", "quay", "far", 60, halts=(pump, replace(pump, hours=shut)), distance_km=90.0
    )
    none = dict.fromkeys(combinations(PLACES, 2), np.nan)
    way = found([valley], {**none, ("far", "inn"): 30.0}, {})
    assert way is not None
    assert way.legs == ("valley",)
    assert way.pumps == ((pytest.approx(30.0), "far"),)
    assert way.km == pytest.approx(90.0 + 30.0)  # plain road of no known length: 60 km/h


@settings(max_examples=200, deadline=None)
@given(
    st.integers(0, 30),
    st.lists(st.integers(0, 30), max_size=4).map(sorted),
    st.integers(-5, 20),
    st.integers(1, 20),
)
def test_fill_ups_bring_them_in_or_nothing_does(
    km: int, pumps: list[int], left: int, usable: int
) -> None:
    """By trying every choice of pumps: the fewest fill-ups, and short only where none will do."""
    pumps = [pump for pump in pumps if pump <= km]
    named = [(float(pump), str(number)) for number, pump in enumerate(pumps)]
    places, short = fill_ups(float(km), named, float(left), float(usable))

    def lasts(chosen: tuple[int, ...]) -> bool:
        at, reach = 0, max(left, 0)
        for number in chosen:
            if pumps[number] - at > reach:
                return False
            at, reach = pumps[number], usable
        return km - at <= reach

    numbers = range(len(pumps))
    enough = [c for size in range(len(pumps) + 1) for c in combinations(numbers, size) if lasts(c)]
    assert (short == 0) == bool(enough)
    if enough:
        assert lasts(tuple(map(int, places)))
        assert len(places) == len(enough[0])
