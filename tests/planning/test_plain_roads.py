"""Connectors under the weather. Days, severities and paces are INVENTED."""

from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.hazards.model import Finding
from replanner.hazards.plain_road import RoadWeather
from replanner.planning.build import BuiltDay
from replanner.planning.day_search import solve
from replanner.planning.leaving import HARDLY_BETTER, leaving, setting_out
from replanner.planning.plain_roads import RoadPassage, connected
from replanner.planning.prices import minute_price
from replanner.planning.problem import NEVER
from replanner.planning.replay import replay
from replanner.planning.rules import Rules
from replanner.planning.timetable import slot_moment, timetable
from replanner.trip.model import Tour
from tests.planning.invented import a_leg, a_tour, best, build, local_hours, ridden, roads

PLACES = ("base", "far", "quay", "other", "inn")
RULES = Rules(break_after_minutes=24 * 60)
# One loop begins an hour's plain road away, at the quay.
TOUR = a_tour([a_leg("out", start="quay", end="quay", worth=150, minutes=60)])
HOUR_ROADS = roads({("base", "quay"): 60.0})


def weather(severity: object, pace: float = 1.0, hazard: str = "gust") -> RoadWeather:
    """Return the weather of a road: severity by slot, or by member and slot."""
    level = np.atleast_2d(np.asarray(severity, np.float64))
    first = np.datetime64("2027-04-02T00:00:00", "s")
    findings = tuple(
        Finding(hazard, "There", float(one), 20.0, 15.0, "m/s", first, first, unknown=False)
        if one > 1
        else None
        for one in level[0]
    )
    return RoadWeather(pace=np.full(level.shape, pace), severity=level, findings=findings)


def built(tour: Tour = TOUR, rules: Rules = RULES, **by_place: object) -> BuiltDay:
    """Build a day with road weather by place: a function of the local hour, else fair."""
    plain = build(tour, rules=rules, connectors=HOUR_ROADS)
    hours = local_hours(plain.clock.instants)
    found = {}
    for place in PLACES:
        given = by_place.get(place, 0.0)
        level = given(hours) if callable(given) else given
        found[place] = weather(np.broadcast_to(level, (*np.shape(level)[:-1], hours.size)))
    return build(tour, rules=rules, connectors=HOUR_ROADS, road_weather=found)


def test_fair_roads_are_as_nobody_had_looked() -> None:
    dry = build(TOUR, rules=RULES, connectors=HOUR_ROADS)
    fair = built()
    assert (fair.problem.travel_slots == dry.problem.travel_slots).all()
    assert (fair.problem.travel_cost == dry.problem.travel_cost).all()
    assert (fair.connector_minutes == dry.connector_minutes).all()


def test_a_road_takes_as_long_as_in_the_worst_hour_at_its_ends() -> None:
    dry = np.array([[0.0, 60.0, np.nan], [60.0, 0.0, 41.0], [np.nan, 41.0, 0.0]])
    slots = 4
    pace = np.ones((5, slots))
    pace[1:, 2] = 1.2  # four of five members: the cautious fifth of them is above
    slow = RoadWeather(pace=pace, severity=np.zeros((5, slots)), findings=(None,) * slots)
    fair = weather(np.zeros((5, slots)))
    rules = Rules()
    found = connected(("a", "b", "c"), dry, {"a": fair, "b": slow, "c": fair}, slots, rules)
    assert found.minutes[0, 1] == found.minutes[1, 0] == pytest.approx(66.0)
    assert found.minutes[1, 2] == pytest.approx(45.1)
    assert np.isnan(found.minutes[0, 2])
    assert found.slots[0, 1].tolist() == [14] * slots  # begun slots whole
    assert found.slots[1, 2].tolist() == [10] * slots
    assert found.slots[0, 2].tolist() == [NEVER] * slots
    assert found.slots[0, 0].tolist() == [0] * slots
    assert found.cost[0, 1].tolist() == pytest.approx([66.0] * slots)


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10_000), members=st.sampled_from([1, 4]))
def test_what_a_road_costs_is_the_sum_over_what_is_met_on_its_halves(
    seed: int, members: int
) -> None:
    """Each half by the weather of its end, an hour at a time; pair by pair in plain loops."""
    rng = np.random.default_rng(seed)
    places, slots, rules = ("a", "b", "c"), 60, Rules()
    minutes = rng.uniform(5, 300, (3, 3))
    minutes = np.triu(minutes, 1) + np.triu(minutes, 1).T
    by_place = {
        place: weather(rng.choice([0.0, 1.5, 2.0, 3.1, 4.0], (members, slots))) for place in places
    }
    found = connected(places, minutes, by_place, slots, rules)
    for a, b in ((0, 1), (1, 2), (2, 0)):
        takes = int(np.ceil(round(minutes[a, b] / 5, 6)))
        for leave in range(0, slots, 7):
            met = []
            before = 0.0
            while before < minutes[a, b] / 2:
                met.append((a, min(leave + int(before / 5), slots - 1)))
                met.append((b, min(max(leave + takes - int(before / 5), 0), slots - 1)))
                before += 60.0
            levels = [by_place[places[end]].severity[:, slot] for end, slot in met]
            price = np.mean([minute_price(level, rules).mean() for level in levels])
            share = max(float((level >= 4).mean()) for level in levels)
            barred = rules.no_go_road_cost if share > rules.no_go_share else 0.0
            assert found.cost[a, b, leave] == pytest.approx(
                minutes[a, b] * (1 + price) + barred, abs=1e-6
            )
            passage = RoadPassage(
                start=by_place[places[a]], end=by_place[places[b]], minutes=minutes[a, b],
                leave=leave, over=leave + takes, rules=rules,
            )  # fmt: skip
            assert passage.met().severity == max(level[0] for level in levels)
            assert (passage.no_go_in() == (np.array(levels) >= 4).any(axis=0)).all()
            assert passage.is_no_go() == (barred > 0)


def test_a_no_go_road_is_waited_out() -> None:
    """Gusts at the quay until noon: the same loop, ridden later."""
    fair = best(built())
    day = built(quay=lambda hours: np.where(hours < 12, 4.0, 0.0))
    plan = best(day)
    times = timetable(day, plan)
    assert ridden(day, plan) == ["out"]
    assert plan.leave_slot > fair.leave_slot
    assert [(road.start, road.end) for road in times.roads] == [("base", "quay"), ("quay", "base")]
    out = times.roads[0]
    assert local_hours(np.array([np.datetime64(out.arrive.replace(tzinfo=None), "s")]))[0] >= 12
    assert not out.waits  # nobody has to be told to leave when the plan leaves


def test_a_no_go_road_is_ridden_only_where_every_plan_has_it() -> None:
    day = built(quay=4.0)
    assert ridden(day, best(day)) == []
    must = a_tour([a_leg("out", start="quay", end="quay", worth=150, must=True)])
    forced = built(must, quay=4.0)
    plan = best(forced)
    assert ridden(forced, plan) == ["out"]
    assert plan.value < -RULES.no_go_road_cost
    assert replay(forced, plan).holds == 0.0
    assert replay(built(must), plan).holds == 1.0


def test_riders_wait_before_a_road_that_would_be_worse_at_once() -> None:
    """The far loop opens by daylight only late: what lies between is spent where it blows less."""
    first = a_leg("first", start="base", end="base", minutes=60, worth=60)
    second = a_leg("second", start="quay", end="quay", minutes=60, worth=200)
    tour = a_tour([first, second])
    # second is fair from 13 on; the road there blows from 9 to 11:30
    plain = build(tour, rules=RULES, connectors=HOUR_ROADS)
    hours = local_hours(plain.clock.instants)
    by_place = {place: weather(np.zeros(hours.size)) for place in PLACES}
    by_place["quay"] = weather(np.where((hours >= 9) & (hours < 11.5), 3.0, 0.0))
    day = build(
        tour, rules=RULES, connectors=HOUR_ROADS, road_weather=by_place,
        severity={
            "first": lambda at: np.where(at < 9, 0.0, 4.0),
            "second": lambda at: np.where(at < 13, 4.0, 0.0),
        },
    )  # fmt: skip
    plan = best(day)
    assert ridden(day, plan) == ["first", "second"]
    road = next(one for one in timetable(day, plan).roads if one.end == "quay")
    assert road.waits
    (arrives,) = local_hours(np.array([np.datetime64(road.arrive.replace(tzinfo=None), "s")]))
    assert arrives >= 11.5
    assert road.passage is not None
    assert road.leave == slot_moment(day, road.passage.leave)
    assert road.arrive - road.leave == timedelta(minutes=60)
    assert road.passage.met().severity == 0.0


def test_of_roads_hardly_better_nobody_is_told_to_wait() -> None:
    day = built(quay=lambda hours: 1.5 + 0.001 * (12 - hours))  # ever so slightly better later
    problem = day.problem
    at, to = problem.start_place, day.places.index("quay")
    free, start = 10, 80
    exact = leaving(problem, at, to, free, start)
    told = leaving(problem, at, to, free, start, within=HARDLY_BETTER)
    assert exact.slot > free
    assert exact.cost < told.cost <= exact.cost + HARDLY_BETTER
    assert told.slot == free
    late = setting_out(problem, to, free, start, within=HARDLY_BETTER)
    assert late.slot == start - 12
    # who is late leaves at once
    assert leaving(problem, at, to, 75, start).slot == 75


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_worse_roads_never_raise_the_value_of_a_day(seed: int) -> None:
    rng = np.random.default_rng(seed)
    legs = [
        a_leg(f"l{n}", start=str(rng.choice(PLACES)), end=str(rng.choice(PLACES)),
              minutes=float(rng.integers(20, 90)), worth=float(rng.integers(20, 150)))
        for n in range(4)
    ]  # fmt: skip
    tour = a_tour(legs)
    hours = local_hours(build(tour, rules=RULES).clock.instants)
    fair = {place: rng.choice([0.0, 2.0, 3.0], 24)[hours.astype(int)] for place in PLACES}
    worse = {
        place: np.maximum(level, rng.choice([0.0, 3.5, 4.0], 24)[hours.astype(int)])
        for place, level in fair.items()
    }
    values = []
    for levels in (fair, worse):
        by_place = {place: weather(level) for place, level in levels.items()}
        solution = solve(build(tour, rules=RULES, road_weather=by_place).problem).solution
        assert solution is not None
        values.append(solution.value)
    assert values[1] <= values[0] + 1e-6
