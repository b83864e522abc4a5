"""Which day of a tour rides which of the legs they share: the best dealing, with its proof.

Shared legs are priced and the days searched apart (`dealing_prices`, `dealt_day`); what they are
worth together bounds every dealing. Where two days want a leg, or none one that must be ridden, the
tour is dealt on in two: the leg for the day that would give most for it, and for the others. The
part with the highest bound is looked at first, and when that bound is no more than the best dealing
known, the proof is done (Land, A. H. and Doig, A. G. (1960), "An automatic method of solving
discrete programming problems", Econometrica 28, 497-520).

Everything counts in whole millionths of a minute and nothing hangs on the clock unless a time limit
is given: the same tour is dealt alike on every machine.
"""

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import count
from time import perf_counter

import numpy as np

from replanner.planning.dealing_parts import SLACK, Aim
from replanner.planning.dealing_prices import Allowed, Auction, Bound
from replanner.planning.dealing_problem import TourProblem
from replanner.planning.dealt_day import NO_RIDE, DealtDay, Micros, Scope
from replanner.planning.exact_prices import MICRO
from replanner.planning.problem import DaySolution

ROUNDS_AT_FIRST = 1
"""How often all days are asked anew before the tour is dealt on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dealt:
    """A dealing.

    Parameters
    ----------
    plans : tuple of DaySolution or None
        One a day, numbered and valued as in its problem; None: that day has no plan.
    ridden : tuple of frozenset of int
        The shared legs each day rides. A day without a plan has those that it must.
    value : float
        Of the days that have a plan, `DayToDeal.extra` included. [min]
    bound : float
        No dealing with as few days without a plan is worth more; inf: not known. [min]
    proven : bool
        Whether this is the best dealing.
    nodes, searches : int
        Parts of the tour looked at, and searches of a day, until then.
    """

    plans: tuple[DaySolution | None, ...]
    ridden: tuple[frozenset[int], ...]
    value: float
    bound: float
    proven: bool
    nodes: int
    searches: int

    @property
    def no_plan(self) -> int:
        """How many days have no plan."""
        return sum(plan is None for plan in self.plans)


@dataclass(slots=True)
class _Best:
    """The best dealing known."""

    value: int
    parts: tuple[int, ...]


@dataclass(order=True, slots=True)
class _Node:
    """Part of all dealings, the one with the highest bound first."""

    minus_bound: int
    number: int
    allowed: Allowed = field(compare=False)
    prices: Micros = field(compare=False)


class Dealing:
    """A tour whose shared legs are dealt out, one time or several; its days remember answers.

    Parameters
    ----------
    tour : TourProblem
    time_limit_s : float, optional
        After this time each question is answered with the best dealing known; the days have been
        searched once, if only in haste. [s]
    """

    def __init__(self, tour: TourProblem, *, time_limit_s: float | None = None) -> None:
        self._tour = tour
        self._limit_s = time_limit_s
        self._end = np.inf
        self._days = [DealtDay(day, tour.musts, self._time_left_s) for day in tour.days]
        self._auction = Auction(self._days, tour.musts)
        self._everywhere: Allowed = tuple(
            sum(1 << number for number, day in enumerate(tour.days) if day.rides[leg])
            for leg in range(len(tour.days[0].rides))
        )

    def best(
        self, only: Sequence[int | None] | None = None, standing: Dealt | None = None
    ) -> Dealt:
        """Return the best dealing: fewest days without a plan, then the most value.

        Parameters
        ----------
        only : sequence of int or None, optional
            By shared leg the one day that may ride it; None: any that it is for.
        standing : Dealt, optional
            What stands unless another is better.
        """
        self._end = np.inf if self._limit_s is None else perf_counter() + self._limit_s
        allowed = self._everywhere
        if only is not None:
            allowed = tuple(
                days if day is None else days & 1 << day
                for days, day in zip(allowed, only, strict=True)
            )
        if any(allowed[leg] == 0 for leg in self._tour.musts):
            raise ValueError("a leg must be ridden that is for no day")
        return _Search(self._days, self._auction, self._tour.musts, self._over).run(
            allowed, None if standing is None else self._parts_of(standing)
        )

    def _parts_of(self, dealt: Dealt) -> tuple[int, ...]:
        pairs = zip(self._days, dealt.ridden, strict=True)
        return tuple(day.mask(legs) for day, legs in pairs)

    def _time_left_s(self) -> float | None:
        return None if self._limit_s is None else max(0.0, self._end - perf_counter())

    def _over(self) -> bool:
        return perf_counter() > self._end


class _Search:
    """One question about a tour."""

    def __init__(
        self,
        days: Sequence[DealtDay],
        auction: Auction,
        musts: frozenset[int],
        over: Callable[[], bool],
    ) -> None:
        self._days, self._auction, self._musts, self._over = days, auction, musts, over
        self._numbers = count()
        self._open: list[_Node] = []
        self._nodes = 0
        self._best = _Best(-(1 << 62), ())

    def run(self, allowed: Allowed, standing: tuple[int, ...] | None) -> Dealt:
        """Deal a tour out."""
        if standing is not None:
            self._best = _Best(self._worth(standing), standing)
        prices = self._auction.opening(allowed)
        self._each(DealtDay.survey, allowed, prices)
        if _contested(allowed):
            prices = self._priced_at_first(allowed, prices)
        self._add(allowed, prices, self._auction.bound(allowed, prices).value)
        bound = self._best.value
        while self._open:
            node = heapq.heappop(self._open)
            if -node.minus_bound <= self._best.value:
                break
            if self._over():
                bound = -node.minus_bound
                break
            self._nodes += 1
            self._look_at(node)
        return self._told(max(bound, self._best.value))

    def _priced_at_first(self, allowed: Allowed, prices: Micros) -> Micros:
        """Set prices by quick searches, and note how the tour is dealt by them."""
        for _ in range(ROUNDS_AT_FIRST):
            if self._over():
                break
            prices = self._auction.priced(allowed, prices)
            self._each(DealtDay.survey, allowed, prices)
        dealt = self._dealt_by_bids(allowed, prices)
        self._each(DealtDay.survey, dealt, np.zeros_like(prices))
        self._note(dealt)
        return prices

    def _look_at(self, node: _Node) -> None:
        """Search the days as the node needs it, and deal it on."""
        allowed, prices = node.allowed, node.prices
        contested = _contested(allowed)
        asked: set[int] = set()
        while True:
            prices = self._auction.priced(allowed, prices)
            bound = self._auction.bound(allowed, prices)
            if bound.value <= self._best.value:
                return
            if self._over() or (self._open and bound.value < -self._open[0].minus_bound):
                self._add(allowed, prices, bound.value)
                return
            vague = [
                number
                for number, part in enumerate(bound.parts)
                if not self._days[number].known(part) and not (contested and number in asked)
            ]
            if not vague:
                break
            number = max(vague, key=lambda number: (self._doubt(number, bound), -number))
            asked.add(number)
            self._ask(number, allowed, prices, bound)
        self._note(self._dealt_by_bids(allowed, prices))
        wrong = self._wrong(contested, prices, bound)
        if not wrong:
            self._take(bound.parts)
        if bound.value > self._best.value and contested:
            leg = max(wrong or contested, key=lambda leg: (abs(int(prices[leg])), -leg))
            day = self._auction.highest_bidder(allowed, prices, leg)
            for days in (1 << day, allowed[leg] & ~(1 << day)):
                part = (*allowed[:leg], days, *allowed[leg + 1 :])
                self._add(part, prices, bound.value)

    def _add(self, allowed: Allowed, prices: Micros, bound: int) -> None:
        heapq.heappush(self._open, _Node(-bound, next(self._numbers), allowed, prices))

    def _doubt(self, number: int, bound: Bound) -> int:
        day, part = self._days[number], bound.parts[number]
        return int(day.at_most[part] - day.at_least[part])

    def _each(
        self, search: Callable[[DealtDay, Scope, Micros], None], allowed: Allowed, prices: Micros
    ) -> None:
        for day, scope in zip(self._days, self._auction.scopes(allowed), strict=True):
            search(day, scope, prices[list(day.shared)])

    def _ask(self, number: int, allowed: Allowed, prices: Micros, bound: Bound) -> None:
        """Search a day, as far as it could make the tour better than the best known."""
        day, scope = self._days[number], self._auction.scopes(allowed)[number]
        here = prices[list(day.shared)]
        others = bound.value - day.best(scope, here)[0]
        slack = SLACK if _contested(allowed) else 0
        day.ask(scope, here, Aim(slack=slack, more_than=self._best.value - others))

    def _wrong(self, contested: Sequence[int], prices: Micros, bound: Bound) -> list[int]:
        """Return the legs two days want, or none wants that has to be ridden or has a price."""
        wanted = list(map(DealtDay.legs, self._days, bound.parts))
        times = {leg: sum(leg in legs for legs in wanted) for leg in contested}
        return [
            leg
            for leg in contested
            if times[leg] > 1 or (times[leg] == 0 and (leg in self._musts or prices[leg] != 0))
        ]

    def _dealt_by_bids(self, allowed: Allowed, prices: Micros) -> Allowed:
        """Deal every leg to the day that would give most for it, the dearest first."""
        for leg in sorted(_contested(allowed), key=lambda leg: (-int(prices[leg]), leg)):
            day = self._auction.highest_bidder(allowed, prices, leg)
            allowed = (*allowed[:leg], 1 << day, *allowed[leg + 1 :])
        return allowed

    def _note(self, allowed: Allowed) -> None:
        """Take the best plans known of a tour that is dealt out, if they are better."""
        parts = []
        for day, scope in zip(self._days, self._auction.scopes(allowed), strict=True):
            fitting = day.fitting(scope)
            parts.append(int(fitting[np.argmax(day.at_least[fitting])]))
        self._take(tuple(parts))

    def _take(self, parts: tuple[int, ...]) -> None:
        value = self._worth(parts)
        if value > self._best.value:
            self._best = _Best(value, parts)

    def _worth(self, parts: Sequence[int]) -> int:
        return sum(int(day.at_least[part]) for day, part in zip(self._days, parts, strict=True))

    def _told(self, bound: int) -> Dealt:
        parts = self._best.parts
        plans = tuple(map(DealtDay.plan, self._days, parts))
        value = sum(
            int(day.at_least[part])
            for day, part, plan in zip(self._days, parts, plans, strict=True)
            if plan is not None
        )
        gap = bound - self._best.value
        return Dealt(
            plans=plans,
            ridden=tuple(map(DealtDay.legs, self._days, parts)),
            value=value / MICRO,
            bound=np.inf if gap >= NO_RIDE else (value + gap) / MICRO,
            proven=gap == 0,
            nodes=self._nodes,
            searches=sum(day.searches for day in self._days),
        )


def _contested(allowed: Allowed) -> list[int]:
    """Return the shared legs that several days may ride."""
    return [leg for leg, days in enumerate(allowed) if days.bit_count() > 1]
