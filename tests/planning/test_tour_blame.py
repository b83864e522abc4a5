"""Demands over the days of a tour that cannot hold together. INVENTED tours."""

from dataclasses import replace
from itertools import combinations

from hypothesis import example, given, settings
from hypothesis import strategies as st

from replanner.planning.blame import NO_WAY
from replanner.planning.dealing import Dealing
from replanner.planning.dealing_problem import DayToDeal, TourProblem
from replanner.planning.demand import Clash, Demand, DemandKind
from replanner.planning.problem_file import read_problem
from replanner.planning.tour_blame import TourDemand, blame_tour
from tests.planning.day_problems import every_demand, with_demands
from tests.planning.invented_tours import best_by_every_dealing, invented_tour


def a_day(*hours: tuple[int, int] | None, own: int | None = None, end: int = 8) -> DayToDeal:
    """Make a day of 12 slots with legs of 3 slots that may start from one slot to another.

    The legs before `own`, all without it, are shared; `own` is a must of the day.
    """
    starts = [None if span is None else range(span[0], span[1] + 1) for span in hours]
    problem = read_problem(
        {
            "format": "replanner-problem-1",
            "slot_minutes": 60,
            "first_slot": "2027-01-14T06:00:00Z",
            "slots": 12,
            "travel_slots": [[0]],
            "travel_cost_per_slot": 0,
            "start": {"place": 0, "earliest": 0, "latest": 11},
            "end": {"place": 0, "by": end, "dusk": end, "late_cost_per_slot": 0},
            "legs": [
                {
                    "id": f"leg{n}",
                    "must": n == own,
                    "ways": [
                        {
                            "from": 0,
                            "to": 0,
                            "ride_slots": 3,
                            "worth": [None if s is None or t not in s else 10 for t in range(12)],
                        }
                    ],
                }
                for n, s in enumerate(starts)
            ],
        }
    )
    shared = len(hours) if own is None else own
    rides = tuple(() if hours[leg] is None else (leg,) for leg in range(shared))
    return DayToDeal(problem=problem, rides=rides, extra=(0.0,) * shared)


def told(clash: Clash[TourDemand]) -> set[tuple[int | None, str, tuple[str, ...]]]:
    return {(one.day, one.demand.kind.value, one.demand.legs) for one in clash.demands}


def test_two_musts_that_only_one_day_could_ride_and_only_one_of_them() -> None:
    # Both on the first day by noon alone; the third must has the second day for itself.
    tour = TourProblem(
        days=(a_day((0, 1), (0, 1), None), a_day(None, None, (0, 5))), musts=frozenset({0, 1, 2})
    )
    assert Dealing(tour).best().no_plan == 1
    assert told(blame_tour(tour)) == {(None, "ride", ("leg0",)), (None, "ride", ("leg1",))}


def test_the_hours_of_a_day_are_to_blame_too_where_more_of_them_would_do() -> None:
    tour = TourProblem(
        days=(a_day((0, 8), (0, 8), end=5), a_day(None, None)), musts=frozenset({0, 1})
    )
    assert told(blame_tour(tour)) == {
        (None, "ride", ("leg0",)),
        (None, "ride", ("leg1",)),
        (0, "end by", ()),
    }


def test_a_must_of_the_day_itself() -> None:
    tour = TourProblem(
        days=(a_day((0, 1), (0, 1), own=1), a_day(None, (0, 1), own=1)), musts=frozenset({0})
    )
    assert told(blame_tour(tour)) == {(None, "ride", ("leg0",)), (0, "ride", ("leg1",))}


def test_a_day_that_has_no_plan_by_itself() -> None:
    tour = TourProblem(days=(a_day((0, 5)), a_day((0, 5), None, own=1)), musts=frozenset({0}))
    assert told(blame_tour(tour)) == {(1, "ride", ("leg1",))}


def test_nothing_to_blame() -> None:
    assert blame_tour(TourProblem(days=(a_day((0, 5)),), musts=frozenset({0}))).demands == ()


def every_demand_of(tour: TourProblem) -> list[TourDemand]:
    """All demands of a tour but that a leg is ridden by itself or by its stand-in."""
    legs = {
        leg: next(leg_names(day, day.rides[leg]) for day in tour.days if day.rides[leg])
        for leg in tour.musts
    }
    every = [
        TourDemand(day=None, demand=Demand(kind=DemandKind.RIDE, legs=names))
        for names in legs.values()
    ]
    for number, day in enumerate(tour.days):
        own = set(every_demand(day.problem)) - pairs_of(day)
        every += [TourDemand(day=number, demand=one) for one in own]
    return every


def leg_names(day: DayToDeal, legs: tuple[int, ...]) -> tuple[str, ...]:
    return tuple(day.problem.legs[number].id for number in legs)


def pairs_of(day: DayToDeal) -> set[Demand]:
    return {
        Demand(kind=DemandKind.AT_MOST_ONE, legs=leg_names(day, group))
        for group in day.problem.at_most_one + day.problem.exactly_one
        if any(set(group) <= set(numbers) for numbers in day.rides)
    }


def only_with(tour: TourProblem, kept: tuple[TourDemand, ...]) -> TourProblem:
    """Give a tour with these demands alone."""
    days = []
    for number, day in enumerate(tour.days):
        own = {one.demand for one in kept if one.day == number} | pairs_of(day)
        days.append(replace(day, problem=with_demands(day.problem, tuple(own))))
    shared = [one.demand.legs for one in kept if one.day is None]
    musts = frozenset(
        leg
        for leg in tour.musts
        for day in tour.days
        if day.rides[leg] and leg_names(day, day.rides[leg]) in shared
    )
    return TourProblem(days=tuple(days), musts=musts)


def has_a_dealing(tour: TourProblem) -> bool:
    """Try every dealing."""
    return best_by_every_dealing(tour)[0] == 0


@settings(max_examples=30, deadline=None, derandomize=True)
@given(seed=st.integers(0, 2**32 - 1))
@example(seed=79)  # letting go of one demand after another leaves four for two
@example(seed=566)  # a day has no plan by itself for two demands, the tour none for one
@example(seed=672)  # again too many, two for one
@example(seed=1345)  # two days that both have to ride the one leg they share
def test_what_is_told_is_the_fewest_demands_of_all(seed: int) -> None:
    """Oracle: every dealing tried, of what is told alone and of any fewer demands of the tour."""
    tour = invented_tour(seed, days=2, legs=4, shared=3)
    clash = blame_tour(tour)
    assert bool(clash.demands) == (not has_a_dealing(tour))
    assert clash.fewest
    if not clash.demands or any(one.demand == NO_WAY for one in clash.demands):
        return
    assert not has_a_dealing(only_with(tour, clash.demands))
    for size in range(len(clash.demands)):
        for fewer in combinations(every_demand_of(tour), size):
            assert has_a_dealing(only_with(tour, fewer))
