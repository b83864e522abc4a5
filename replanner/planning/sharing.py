"""Legs allowed on several of the days left, each ridden once: the tour they make, dealt out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from replanner.planning.build import BuiltDay
from replanner.planning.dealing import Dealing
from replanner.planning.dealing_problem import DayToDeal, TourProblem
from replanner.planning.demand import Clash, Demand
from replanner.planning.problem import DayProblem, DaySolution
from replanner.planning.tank import Tank
from replanner.planning.tour_blame import blame_tour
from replanner.trip.model import LegId

Legs = frozenset[LegId]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shared:
    """The days left with each shared leg on one of them at most.

    Parameters
    ----------
    solutions : tuple of DaySolution or None
        One a day, in the order given; None: that day has no plan. Legs and ways are numbered as
        in that day's problem.
    dealt : tuple of frozenset of LegId
        The shared legs each day rides, itself or by a stand-in; of a day without a plan those that
        it must.
    moved : tuple of (LegId, date, date)
        Legs ridden on another day than the rider put them: from, to.
    gain : float
        What that is worth over leaving every leg on the rider's own day, the price of moving
        paid. inf: without it a day would have no plan. [min]
    gap : float
        By how much another dealing could be better at most: 0 unless the time ran out. [min]
    """

    solutions: tuple[DaySolution | None, ...]
    dealt: tuple[Legs, ...]
    moved: tuple[tuple[LegId, date, date], ...]
    gain: float
    gap: float = 0.0


def shared_legs(days: Sequence[BuiltDay]) -> tuple[LegId, ...]:
    """Return the legs that are in the problems of more than one day, in the order met.

    A leg that is only there to stand in is not dealt out: it goes with the leg it stands in for.
    """
    seen: dict[LegId, int] = {}
    for built in days:
        for leg in _own_right(built):
            seen[leg] = seen.get(leg, 0) + 1
    return tuple(leg for leg, count in seen.items() if count > 1)


def share_legs(
    days: Sequence[BuiltDay],
    tanks: Sequence[Tank | None] | None = None,
    *,
    time_limit_s: float | None = None,
) -> Shared:
    """Deal the shared legs out over the days for the greatest sum of values.

    A leg ridden on another day than the one whose own order has it costs
    `Rules.other_day_cost`; it is not left out, so that price is not paid. A shared must leg is
    ridden on the day that gets it, it or its stand-in; one the rider asked for on a day is ridden
    on that day (the first, if on several). As few days as can be are left without a plan,
    whatever the value of the others.

    Parameters
    ----------
    days : sequence of BuiltDay
        The days left, in order.
    tanks : sequence of Tank or None, optional
        That of each day; None: nothing runs dry.
    time_limit_s : float, optional
        For each of two dealings, the rider's own and the best: stop after this time with the best
        one known. [s]

    Raises
    ------
    ValueError
        If there are no days.
    """
    if not days:
        raise ValueError("there are no days to share legs between")
    shared = shared_legs(days)
    home = _homes(days, shared)
    tour = tour_to_deal(days, shared, home, tanks or [None] * len(days))
    dealing = Dealing(tour, time_limit_s=time_limit_s)
    own = dealing.best(only=_at_home(tour, shared, days, home))
    best = dealing.best(standing=own)
    dealt = tuple(frozenset(shared[leg] for leg in legs) for legs in best.ridden)
    moved = tuple(
        (leg, home[leg], built.day.date)
        for built, plan, legs in zip(days, best.plans, dealt, strict=True)
        if plan is not None
        for leg in shared
        if leg in legs and home.get(leg, built.day.date) != built.day.date
    )
    return Shared(
        solutions=best.plans,
        dealt=dealt,
        moved=moved,
        gain=best.value - own.value if best.no_plan == own.no_plan else float("inf"),
        gap=best.bound - best.value,
    )


def clash_of(days: Sequence[BuiltDay]) -> Clash[tuple[date | None, Demand]]:
    """Tell why not every day can have a plan, whoever rides the shared legs.

    Returns
    -------
    Clash of (date or None, Demand)
        Of a day, or for any of the days (None). Empty: every day can have a plan.
    """
    shared = shared_legs(days)
    tour = tour_to_deal(days, shared, _homes(days, shared), [None] * len(days))
    found = blame_tour(tour)
    told = tuple(
        (None if one.day is None else days[one.day].day.date, one.demand) for one in found.demands
    )
    return Clash(told, found.fewest)


def tour_to_deal(
    days: Sequence[BuiltDay],
    shared: Sequence[LegId],
    home: Mapping[LegId, date],
    tanks: Sequence[Tank | None],
) -> TourProblem:
    """Return the tour that some shared legs make, numbered in their order."""
    pins: dict[LegId, date] = {}
    musts: set[int] = set()
    for built in days:
        here = _own_right(built)
        for number, leg in enumerate(shared):
            if leg in here and _is_must(built.problem, built.index(leg)):
                musts.add(number)
                if not built.tour.legs[leg].must:
                    pins.setdefault(leg, built.day.date)  # asked for on this day by the rider
    return TourProblem(
        days=tuple(
            _day_to_deal(built, shared, home, pins, tank)
            for built, tank in zip(days, tanks, strict=True)
        ),
        musts=frozenset(musts),
    )


def _day_to_deal(
    built: BuiltDay,
    shared: Sequence[LegId],
    home: Mapping[LegId, date],
    pins: Mapping[LegId, date],
    tank: Tank | None,
) -> DayToDeal:
    here, today = _own_right(built), built.day.date
    rides: list[tuple[int, ...]] = []
    extra: list[float] = []
    freed: set[int] = set()
    for leg in shared:
        numbers: tuple[int, ...] = ()
        if leg in here:
            number = built.index(leg)
            freed.add(number)
            numbers = (number, *_stand_ins(built, number))
        rides.append(numbers)
        extra.append(_worth_here(built, leg) if home.get(leg, today) != today else 0.0)
    barred = {
        number
        for leg, numbers in zip(shared, rides, strict=True)
        if pins.get(leg, today) != today
        for number in numbers
    }
    problem = _freed(built.problem, frozenset(freed))
    return DayToDeal(
        problem=replace(
            problem,
            legs=tuple(
                replace(leg, ways=()) if number in barred else leg
                for number, leg in enumerate(problem.legs)
            ),
        ),
        rides=tuple(
            numbers if pins.get(leg, today) == today else ()
            for leg, numbers in zip(shared, rides, strict=True)
        ),
        extra=tuple(extra),
        tank=tank,
    )


def _worth_here(built: BuiltDay, leg: LegId) -> float:
    """Return what riding a leg away from its own day is worth beyond its worth. [min].

    Its own day, which cannot know, has paid for it as left out; another day that has it in its
    order too has not.
    """
    rules = built.rules
    spared = 0.0 if leg in built.day.own_order else rules.left_out_cost
    return spared - rules.other_day_cost


def _at_home(
    tour: TourProblem, shared: Sequence[LegId], days: Sequence[BuiltDay], home: Mapping[LegId, date]
) -> list[int | None]:
    """Return by shared leg the rider's own day for it; None: it has none, or is not for it now."""
    return [
        next(
            (
                number
                for number, (built, day) in enumerate(zip(days, tour.days, strict=True))
                if home.get(leg) == built.day.date and day.rides[position]
            ),
            None,
        )
        for position, leg in enumerate(shared)
    ]


def _own_right(built: BuiltDay) -> list[LegId]:
    """Return the legs of a day's problem that are not only there to stand in."""
    standing_in = {b for _, b in (*built.problem.exactly_one, *built.problem.at_most_one)}
    return [
        leg.leg.id
        for number, leg in enumerate(built.legs)
        if leg.leg.id in built.day.legs or number not in standing_in
    ]


def _stand_ins(built: BuiltDay, number: int) -> list[int]:
    """Return the leg that stands in for another and is there for nothing else."""
    pairs = (*built.problem.exactly_one, *built.problem.at_most_one)
    return [b for a, b in pairs if a == number and built.legs[b].leg.id not in built.day.legs]


def _is_must(problem: DayProblem, number: int) -> bool:
    return problem.legs[number].must or any(number in pair for pair in problem.exactly_one)


def _freed(problem: DayProblem, shared: frozenset[int]) -> DayProblem:
    """Return the problem with the shared legs free to be ridden elsewhere."""
    freed = tuple(pair for pair in problem.exactly_one if shared & set(pair))
    return replace(
        problem,
        legs=tuple(
            replace(leg, must=leg.must and number not in shared)
            for number, leg in enumerate(problem.legs)
        ),
        exactly_one=tuple(pair for pair in problem.exactly_one if pair not in freed),
        at_most_one=(*problem.at_most_one, *freed),
    )


def _homes(days: Sequence[BuiltDay], shared: Sequence[LegId]) -> dict[LegId, date]:
    """Return the day whose own order has each leg; legs no order has are at home anywhere."""
    homes: dict[LegId, date] = {}
    for built in days:
        for leg in shared:
            if leg in built.day.own_order:
                homes.setdefault(leg, built.day.date)
    return homes
