"""Loops that other days may take. Tour INVENTED."""

from datetime import timedelta

from replanner.trip.model import Day, Tour
from replanner.trip.swaps import MOST_SHARED, loops_of_other_days, loops_to_swap
from tests.planning.invented import FRIDAY, a_day, a_leg, a_tour


def days_of(loops: int, days: int = 3, **other: object) -> tuple[Tour, tuple[Day, ...]]:
    """Return a tour of days at one base with so many loops each, and its days."""
    names = [[f"l{day}{loop}" for loop in range(loops)] for day in range(days)]
    legs = [
        a_leg(name, worth=float(10 * number + day))
        for day, own in enumerate(names)
        for number, name in enumerate(own)
    ]
    made = tuple(
        a_day(*own, date=FRIDAY + timedelta(days=day), **other) for day, own in enumerate(names)
    )
    return a_tour(legs, made), made


def test_few_loops_all_swap() -> None:
    tour, days = days_of(4)
    assert loops_to_swap(tour, days) == {leg for day in days for leg in day.own_order}
    assert loops_to_swap(tour, days[:1]) == frozenset()


def test_of_too_many_loops_those_worth_most_swap() -> None:
    tour, days = days_of(6)
    found = loops_to_swap(tour, days)
    assert len(found) == MOST_SHARED
    left = {leg for day in days for leg in day.own_order} - found
    assert max(tour.legs[leg].worth_minutes for leg in left) <= min(
        tour.legs[leg].worth_minutes for leg in found
    )
    assert set(loops_of_other_days(tour, days[0], days)) > found - set(days[0].own_order)


def test_legs_that_the_rider_lists_on_several_days_leave_less_room() -> None:
    tour, days = days_of(6)
    listed = days[0].own_order[:5]
    twice = (days[0], a_day(*days[1].own_order, date=days[1].date, optional=listed), days[2])
    found = loops_to_swap(tour, twice)
    assert len(found) == MOST_SHARED - len(listed)
