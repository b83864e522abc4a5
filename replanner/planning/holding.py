"""A plan that holds in enough members: starts at which too many break are cut, and solved again.

The search weighs the mean of the members, each leg at its own start. Ridden through, a slow member
comes to a gate or a boat too late, or to a pass at a worse hour: of that the search knows nothing.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from replanner.planning.build import BuiltDay
from replanner.planning.day_search import DaySearch, SearchResult
from replanner.planning.own_run import best_plan
from replanner.planning.problem import LegWay
from replanner.planning.replay import replay

# Each round is a whole search. A plan that still breaks then is told with its odds. Assumption.
MOST_ROUNDS = 6

Start = tuple[int, int, int]  # leg, way, slot: as numbered in the problem


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A day as it is planned in the end.

    Parameters
    ----------
    built : BuiltDay
        Without the starts that were cut.
    search : DaySearch
        Of it.
    found : SearchResult
        The best plan of what is left. It is proven among plans without the starts cut, one of
        which might have held after other legs.
    cut : tuple of Start
    """

    built: BuiltDay
    search: DaySearch
    found: SearchResult
    cut: tuple[Start, ...] = ()


def best_that_holds(built: BuiltDay) -> Held:
    """Search a day; while the plan breaks at a start in more members than allowed, cut it.

    `Rules.no_go_share` is what is allowed, as for a start by itself. Where nothing that holds is
    left, or not within `MOST_ROUNDS`, the best plan stands: its odds tell the rest.
    """
    first = held = as_found(built)
    for _ in range(MOST_ROUNDS):
        plan = held.found.solution
        if plan is None:
            return first
        shares = replay(held.built, plan).breaks
        starts = tuple(
            (visit.leg, visit.way, visit.start_slot)
            for visit, share in zip(plan.visits, shares, strict=True)
            if share > built.rules.no_go_share
        )
        if not starts:
            return held
        held = replace(as_found(without(held.built, starts)), cut=(*held.cut, *starts))
    return first


def as_found(built: BuiltDay) -> Held:
    """Search a day and take the best plan, whatever the members make of it."""
    search = DaySearch(built.problem)
    return Held(built=built, search=search, found=best_plan(built, search))


def without(built: BuiltDay, starts: Iterable[Start]) -> BuiltDay:
    """Return a day in which legs may not start then."""
    by_leg: defaultdict[int, list[Start]] = defaultdict(list)
    for start in starts:
        by_leg[start[0]].append(start)
    legs, told = list(built.problem.legs), list(built.legs)
    for leg, cuts in by_leg.items():
        ways, ways_told = list(legs[leg].ways), list(told[leg].ways)
        for _, way, slot in cuts:
            ways[way] = _not_at(ways[way], slot)
            ways_told[way] = replace(ways_told[way], worth=ways[way].worth)
        legs[leg] = replace(legs[leg], ways=tuple(ways))
        told[leg] = replace(told[leg], ways=tuple(ways_told))
    return replace(built, problem=replace(built.problem, legs=tuple(legs)), legs=tuple(told))


def _not_at(way: LegWay, slot: int) -> LegWay:
    worth = way.worth.copy()
    worth[slot] = -np.inf
    return replace(way, worth=worth)
