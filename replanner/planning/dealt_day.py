"""One day of a tour: what it is worth, at most and at least, with each part of the shared legs.

A part is a set of shared legs, ridden all of them and no other shared leg. A small day's table
tells every part at once. A larger day is searched when it is asked, with the shared legs priced:
if its best plan is then worth v, no part is worth more than v and its own prices. One answer so
bounds many parts, and a part is known for good once a plan is worth its bound. Without a tank the
same search tells the other parts too that come near the best (`dealing_parts`).

Where the tank may run dry, a part counts as known by a plan that lasts; the bounds hold as ever,
since what lasts could be ridden anyway.

Values are whole millionths of a minute, parts bit masks over the shared legs of the day.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from replanner.planning.day_search import DaySearch, SearchResult
from replanner.planning.day_table import FEW_LEGS, DayTable, day_table
from replanner.planning.dealing_parts import Aim, Asked, SearchedParts, prices_of_parts
from replanner.planning.dealing_problem import DayToDeal
from replanner.planning.exact_prices import MICRO
from replanner.planning.problem import DayProblem, DaySolution, LegWay
from replanner.planning.tank import (
    NO_LEVELS,
    Levels,
    Split,
    Tank,
    finer,
    first_dry,
    until_none_runs_dry,
)

Micros = NDArray[np.int64]
"""Whole millionths of a minute."""

Parts = NDArray[np.int64]
"""Parts of the shared legs as bit masks."""

UNKNOWN = np.int64(1 << 60)
"""Bound of a part that nothing is known of. [millionths]"""

NO_RIDE = 10**14
"""What each must that a day was dealt costs where the day has no plan: more than any plan is worth.

[millionths]
"""


PROOF = Aim()
QUICK = Aim(proof=False)


@dataclass(frozen=True, slots=True)
class Scope:
    """Which parts are meant: those within `may` that hold all of `must`."""

    may: int
    must: int = 0


class DealtDay:
    """A day, searched as far as it had to be.

    Parameters
    ----------
    day : DayToDeal
    musts : frozenset of int
        Of the shared legs of the tour.
    time_left_s : callable
        For each search; None: as long as it takes. [s]
    """

    def __init__(
        self, day: DayToDeal, musts: frozenset[int], time_left_s: Callable[[], float | None]
    ) -> None:
        self.day = day
        self.shared = tuple(leg for leg, numbers in enumerate(day.rides) if numbers)
        self.parts: Parts = np.arange(1 << len(self.shared))
        self.searches = 0
        self._time_left_s = time_left_s
        self._rides = tuple(day.rides[leg] for leg in self.shared)
        self._extra = as_micros(day.extra[leg] for leg in self.shared)
        dealt = np.bitwise_count(self.parts & self.mask(musts)).astype(np.int64)
        # Without a plan: worse than any number of musts left out on days that have one.
        self._without_plan: Micros = np.asarray(-NO_RIDE * (len(day.rides) + 1 + dealt))
        self._at_most: Micros = np.full(len(self.parts), UNKNOWN)
        self._at_least = self._without_plan.copy()
        self._plans: dict[int, DaySolution] = {}
        self._searched = SearchedParts(day.problem, self._rides) if day.tank is None else None
        self._fits: dict[Scope, Parts] = {}
        self._levels: Levels = NO_LEVELS
        self._table: DayTable | None = None
        self._begun = False

    @property
    def at_most(self) -> Micros:
        """Bound of each part, shape (parts,)."""
        return self._at_most

    @property
    def at_least(self) -> Micros:
        """Value of the best plan known for each part, or of having none; shape (parts,)."""
        return self._at_least

    @property
    def has_plan(self) -> NDArray[np.bool_]:
        """Whether a plan is known for each part, shape (parts,)."""
        return np.asarray(self._at_least > self._without_plan)

    @property
    def all_known(self) -> bool:
        """Whether every part is known for good."""
        return bool((self._at_most == self._at_least).all())

    def known(self, part: int) -> bool:
        """Return whether a part is known for good."""
        return bool(self._at_most[part] == self._at_least[part])

    def plan(self, part: int) -> DaySolution | None:
        """Return the plan of a part that is worth `at_least` from then on; None: without a plan."""
        if part not in self._plans and self._searched is not None:
            plan = (self._table or self._searched).plan(part)
            if plan is not None:
                self._plans[part] = plan
                # A search without proof may have known a worse order of the same legs.
                value = round(plan.value * MICRO) + int(prices_of_parts(self._extra)[part])
                self._at_least[part] = max(int(self._at_least[part]), value)
        return self._plans.get(part)

    def mask(self, legs: Iterable[int]) -> int:
        """Return shared legs of the tour as a part."""
        held = frozenset(legs)
        return sum(1 << bit for bit, leg in enumerate(self.shared) if leg in held)

    def legs(self, part: int) -> frozenset[int]:
        """Return a part as shared legs of the tour."""
        return frozenset(leg for bit, leg in enumerate(self.shared) if part >> bit & 1)

    def fitting(self, scope: Scope) -> Parts:
        """Return the parts that are meant."""
        if scope not in self._fits:
            fits = (self.parts & ~scope.may == 0) & (self.parts & scope.must == scope.must)
            self._fits[scope] = self.parts[fits]
        return self._fits[scope]

    def best(self, scope: Scope, prices: Micros) -> tuple[int, int]:
        """Return what any of the parts is worth at most, less its prices, and that part.

        Of equal ones a part that is known, then the one of the first shared legs.
        """
        parts = self.fitting(scope)
        worth = self._at_most[parts] - prices_of_parts(prices)[parts]
        known = self._at_most[parts] == self._at_least[parts]
        top = int(np.argmax(2 * worth + known))
        return int(worth[top]), int(parts[top])

    def survey(self, scope: Scope, prices: Micros) -> None:
        """Bound the parts: by the table of a small day, else by a quick search at these prices."""
        self._begin()
        if self._table is None:
            self.ask(scope, prices, QUICK)

    def ask(self, scope: Scope, prices: Micros, aim: Aim = PROOF) -> None:
        """Search for the best of these parts at these prices, as far as it is not known."""
        self._begin()
        _, part = self.best(scope, prices)
        if self.known(part):
            return
        plan = None if self._table is None else self._table.plan(part)
        if plan is None:
            self._search(scope, prices, aim)
            return
        levels = self._finer_for(plan)
        if levels is None:
            self._plans[part] = plan
            self._at_least[part] = self._at_most[part]
        else:
            self._levels = levels
            self._search(Scope(part, part), np.zeros_like(prices), PROOF)

    def _begin(self) -> None:
        """Bound every part by the table of the day, where it is small enough to have one."""
        if self._begun:
            return
        self._begun = True
        if len(self.day.problem.legs) > FEW_LEGS:
            return
        self._table = day_table(self.day.problem, self._rides, self._time_left_s)
        if self._table is None:
            return
        self.searches += 1
        worth = self._table.worth + prices_of_parts(self._extra)
        possible = self._table.possible
        self._at_most = np.where(possible, worth, self._without_plan)
        if self.day.tank is None:
            self._at_least = self._at_most.copy()

    def _finer_for(self, plan: DaySolution) -> Levels | None:
        """Return the levels with those at which a plan runs dry; None: it lasts."""
        tank = self.day.tank
        dry = None if tank is None else first_dry(self.day.problem, tank, plan)
        return None if tank is None or dry is None else finer(tank, self._levels, dry.reached)

    def _search(self, scope: Scope, prices: Micros, aim: Aim) -> None:
        self.searches += 1
        if self.day.tank is not None:
            self._search_lasting(scope, prices, self.day.tank)
        elif self._searched is not None:
            self._search_parts(scope, prices, aim, self._searched)

    def _search_parts(
        self, scope: Scope, prices: Micros, aim: Aim, searched: SearchedParts
    ) -> None:
        parts = self.fitting(scope)
        of_parts = prices_of_parts(prices)[parts]
        known = int((self._at_least[parts] - of_parts)[self.has_plan[parts]].max(initial=-NO_RIDE))
        asked = Asked(
            self._priced(scope, prices),
            (self._extra - prices).tolist(),
            None if known == -NO_RIDE else known,
            aim,
        )
        left_s = self._time_left_s()
        end = np.inf if left_s is None else perf_counter() + left_s
        bound = searched.search(asked, lambda: perf_counter() > end)
        found = np.flatnonzero(searched.worth > -np.inf)
        worth = searched.worth[found].astype(np.int64) + prices_of_parts(self._extra)[found]
        self._at_least[found] = np.maximum(self._at_least[found], worth)
        most = self._at_least[parts]
        if np.isfinite(bound):
            most = np.maximum(most, round(bound) + of_parts)
        elif bound > 0:
            most = np.full(len(parts), UNKNOWN)
        self._at_most[parts] = np.minimum(self._at_most[parts], most)

    def _search_lasting(self, scope: Scope, prices: Micros, tank: Tank) -> None:
        found = self._lasting(self._priced(scope, prices), tank)
        parts = self.fitting(scope)
        of_parts = prices_of_parts(prices)
        most = self._without_plan[parts]
        if np.isfinite(found.bound):
            most = np.maximum(most, round(found.bound * MICRO) + of_parts[parts])
        elif found.bound > 0:
            most = np.full(len(parts), UNKNOWN)
        self._at_most[parts] = np.minimum(self._at_most[parts], most)
        if found.solution is not None:
            part = self._part_of(found.solution)
            value = round(found.solution.value * MICRO) + int(of_parts[part])
            if value > self._at_least[part]:
                self._at_least[part] = value
                own = (value - int(prices_of_parts(self._extra)[part])) / MICRO
                self._plans[part] = replace(found.solution, value=own, bound=own)

    def _lasting(self, problem: DayProblem, tank: Tank) -> SearchResult:
        def answer(split: Split) -> tuple[SearchResult, tuple[DaySolution | None]]:
            search = DaySearch(split.problem, time_limit_s=self._time_left_s())
            found = search.best(blamed=False)
            plan = found.solution
            whole = None if plan is None else split.whole(plan)
            return replace(found, solution=whole), (plan,)

        found, self._levels = until_none_runs_dry(problem, tank, answer, self._levels)
        if found is None:
            raise AssertionError("any number of places was allowed")
        return found

    def _priced(self, scope: Scope, prices: Micros) -> DayProblem:
        """Return the day with its shared legs priced; those that no part holds have no way."""
        legs = list(self.day.problem.legs)
        for bit, numbers in enumerate(self._rides):
            more = int(self._extra[bit]) - int(prices[bit])
            for number in numbers:
                ways = tuple(_worth_more(way, more) for way in legs[number].ways)
                legs[number] = replace(legs[number], ways=ways if scope.may >> bit & 1 else ())
        ridden = tuple(numbers for bit, numbers in enumerate(self._rides) if scope.must >> bit & 1)
        return replace(
            self.day.problem,
            legs=tuple(legs),
            exactly_one=(*self.day.problem.exactly_one, *ridden),
        )

    def _part_of(self, plan: DaySolution) -> int:
        ridden = frozenset(plan.legs)
        return sum(1 << bit for bit, legs in enumerate(self._rides) if ridden & frozenset(legs))


def as_micros(minutes: Iterable[float]) -> Micros:
    """Return minutes in whole millionths."""
    return np.rint(np.array(list(minutes), dtype=np.float64) * MICRO).astype(np.int64)


def _worth_more(way: LegWay, micros: int) -> LegWay:
    return replace(way, worth=(np.rint(way.worth * MICRO) + micros) / MICRO)
