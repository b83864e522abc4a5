"""A plan that holds in enough members: starts at which too many break are cut, and solved again.

The search weighs the mean of the members, each leg at its own start. Ridden through, a slow member
comes to a gate or a boat too late, or to a pass at a worse hour: of that the search knows nothing.

Where the smallest tank could run dry, the day is split by what has been ridden on it (`tank`)
until no plan that is told runs dry.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from replanner.planning.build import BuiltDay
from replanner.planning.day_search import DaySearch, SearchResult
from replanner.planning.demand import Demand, DemandKind
from replanner.planning.fuelled_day import split_day
from replanner.planning.own_run import best_plan, own_plan
from replanner.planning.problem import DayProblem, DaySolution
from replanner.planning.replay import replay
from replanner.planning.tank import (
    NO_LEVELS,
    Levels,
    Split,
    Tank,
    finer_where_dry,
    first_dry,
    joined,
    longest_stretch,
    ridden_levels,
    split,
    until_none_runs_dry,
)

# Each round is a whole search. A plan that still breaks then is told with its odds. Assumption.
MOST_ROUNDS = 6
# Up to how many places times sets of legs a split day is searched for the plans beside the best.
# A fair Friday of the demo is within it: planned in 0.9 s, without numba in 2.7. Assumption.
MOST_PLACES_TIMES_SETS = 1 << 15

Start = tuple[int, int, int]  # leg, way, slot: as numbered in the problem before any split

Plans = Iterable[DaySolution | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A day as it is planned in the end.

    Parameters
    ----------
    built : BuiltDay
        Without the starts that were cut; split by levels of the tank where one was given.
    search : DaySearch
        Of it.
    found : SearchResult
        The best plan of what is left. It is proven among plans without the starts cut, one of
        which might have held after other legs.
    cut : tuple of Start
    day : Split or None
        How the day was split; None: no tank was given.
    levels : mapping
        By what levels.
    told : tuple of DaySolution or None, optional
        What `also` gave for this search; None: it was not asked.
    """

    built: BuiltDay
    search: DaySearch
    found: SearchResult
    cut: tuple[Start, ...] = ()
    day: Split | None = None
    levels: Levels = field(default_factory=dict)
    told: tuple[DaySolution | None, ...] | None = None

    def start(self, leg: int, way: int, slot: int) -> Start:
        """Return a start of the split day as that of the day before."""
        return leg, way if self.day is None else self.day.ways[leg][way], slot


def _no_more(_: Held) -> Plans:
    return ()


def best_that_holds(
    built: BuiltDay, tank: Tank | None = None, also: Callable[[Held], Plans] = _no_more
) -> Held:
    """Search a day; while the plan breaks at a start in more members than allowed, cut it.

    `Rules.no_go_share` is what is allowed, as for a start by itself. Where nothing that holds is
    left, or not within `MOST_ROUNDS`, the best plan stands: its odds tell the rest. `tank` and
    `also` as in `as_found`.
    """
    whole = built
    first = held = as_found(built, tank, also)
    for _ in range(MOST_ROUNDS):
        plan = held.found.solution
        if plan is None:
            return first
        shares = replay(held.built, plan).breaks
        starts = tuple(
            held.start(visit.leg, visit.way, visit.start_slot)
            for visit, share in zip(plan.visits, shares, strict=True)
            if share > built.rules.no_go_share
        )
        if not starts:
            return held
        whole = without(whole, starts)
        again = as_found(whole, tank, also, held.levels)
        held = replace(again, cut=(*held.cut, *starts))
    return first


def as_found(
    built: BuiltDay,
    tank: Tank | None = None,
    also: Callable[[Held], Plans] = _no_more,
    levels: Levels = NO_LEVELS,
) -> Held:
    """Search a day and take the best plan, whatever the members make of it.

    The best plan is proven among all that last. Those beside it are, too, on a day that is split
    into few places; else they last for sure, and their price is at most what is told.

    Parameters
    ----------
    tank : Tank or None
        Of the day as it is built; None: nothing runs dry.
    also : callable
        From a searched day to further plans that will be told: with the own order and the best
        days with and without each leg, they last from fuel to fuel too.
    levels : mapping
        Known from an earlier search of the same day.
    """
    if tank is None:
        return _searched(built)

    def best(day: Split) -> tuple[Held, Plans]:
        held = replace(_searched(split_day(built, day)), day=day)
        return held, (held.found.solution,)

    exact, levels = until_none_runs_dry(built.problem, tank, best, levels)
    if exact is None or exact.day is None:
        raise AssertionError("any number of places was allowed")
    most = max(MOST_PLACES_TIMES_SETS >> len(built.legs), exact.built.problem.places)
    plan, exact_levels = exact.found.solution, levels
    if plan is not None:
        levels = joined(levels, ridden_levels(built.problem, tank, exact.day.whole(plan)))
    while exact is not None and exact.day is not None:
        beside = _told_beside(exact)
        drier = finer_where_dry(built.problem, tank, exact.day, beside, exact_levels)
        if drier is None:
            told = tuple(also(exact))
            drier = finer_where_dry(built.problem, tank, exact.day, told, exact_levels)
            if drier is None:
                return replace(exact, levels=exact_levels, told=told)
        exact = None  # what it keeps goes before the next day is searched: some 20 MB
        exact, exact_levels = until_none_runs_dry(built.problem, tank, best, drier, most)
    return replace(best(split(built.problem, tank, levels, safe=True))[0], levels=levels)


def _searched(built: BuiltDay) -> Held:
    search = DaySearch(built.problem)
    return Held(built=built, search=search, found=best_plan(built, search))


def _told_beside(held: Held) -> Plans:
    """Return the plans that a rider is told of beside the best: what is kept and what is left."""
    plan = held.found.solution
    yield own_plan(held.built, held.search)
    ridden = frozenset() if plan is None else frozenset(plan.legs)
    for leg in range(len(held.built.legs)):
        one = frozenset({leg})
        found = (
            held.search.best(without=one, blamed=False)
            if leg in ridden
            else held.search.best(forced=one, blamed=False)
        )
        yield found.solution


def tank_lacks(built: BuiltDay, tank: Tank) -> Demand | None:
    """Return what a tank lacks of lasting through a day that has no plan on it.

    Returns
    -------
    Demand or None
        The leg on which the least larger tank that allows a plan would be empty, and what this
        one lacks there, to the whole kilometre. None: the day has no plan on any tank.
    """
    plan = best_plan(built, DaySearch(built.problem)).solution
    if plan is None:
        return None
    short, enough = tank.usable_km, longest_stretch(built.problem, tank, plan)
    while enough - short > 1.0:
        tried = (short + enough) / 2.0
        found = best_on(built.problem, replace(tank, usable_km=tried))
        if found is None:
            short = tried
        else:
            plan, enough = found, longest_stretch(built.problem, tank, found)
    dry = first_dry(built.problem, replace(tank, usable_km=short), plan)
    leg = None if dry is None else dry.leg
    return Demand(
        kind=DemandKind.TANK,
        legs=() if leg is None else (built.legs[leg].leg.id,),
        lacking_km=enough - tank.usable_km,
    )


def best_on(problem: DayProblem, tank: Tank) -> DaySolution | None:
    """Return the best plan of a day on a tank, numbered as in the problem; None: there is none."""

    def best(day: Split) -> tuple[DaySolution | None, Plans]:
        found = DaySearch(day.problem).best(blamed=False).solution
        return None if found is None else day.whole(found), (found,)

    return until_none_runs_dry(problem, tank, best, NO_LEVELS)[0]


def without(built: BuiltDay, starts: Iterable[Start]) -> BuiltDay:
    """Return a day in which legs may not start then."""
    by_leg: defaultdict[int, list[Start]] = defaultdict(list)
    for start in starts:
        by_leg[start[0]].append(start)
    legs, told = list(built.problem.legs), list(built.legs)
    for leg, cuts in by_leg.items():
        ways, ways_told = list(legs[leg].ways), list(told[leg].ways)
        for _, way, slot in cuts:
            ways[way] = ways[way].without(np.arange(built.problem.slots) == slot)
            ways_told[way] = replace(ways_told[way], worth=ways[way].worth)
        legs[leg] = replace(legs[leg], ways=tuple(ways))
        told[leg] = replace(told[leg], ways=tuple(ways_told))
    return replace(built, problem=replace(built.problem, legs=tuple(legs)), legs=tuple(told))
