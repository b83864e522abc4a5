"""Legs allowed on several of the days left, each ridden once: which day gets which.

Every day is searched once; what it is worth with any part of the shared legs is looked up there.
The days are then joined one after another over all ways of dealing out the legs: exact.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import chain, combinations, product

from replanner.planning.build import BuiltDay
from replanner.planning.day_search import DaySearch
from replanner.planning.problem import DayProblem, DaySolution
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
        The shared legs each day may ride.
    moved : tuple of (LegId, date, date)
        Legs ridden on another day than the rider put them: from, to.
    gain : float
        What that is worth over leaving every leg on the rider's own day, the price of moving
        paid. inf: without it a day would have no plan. [min]
    """

    solutions: tuple[DaySolution | None, ...]
    dealt: tuple[Legs, ...]
    moved: tuple[tuple[LegId, date, date], ...]
    gain: float


@dataclass(frozen=True, slots=True)
class _Dealing:
    """The best of the first days with some shared legs used up: fewest days without a plan."""

    no_plan: int
    value: float
    plans: tuple[DaySolution | None, ...]
    dealt: tuple[Legs, ...]

    def beats(self, other: "_Dealing | None") -> bool:
        """Return whether it is better by more than rounding."""
        if other is None or self.no_plan != other.no_plan:
            return other is None or self.no_plan < other.no_plan
        return self.value > other.value + 1e-9


def shared_legs(days: Sequence[BuiltDay]) -> tuple[LegId, ...]:
    """Return the legs that are in the problems of more than one day, in the order met.

    A leg that is only there to stand in is not dealt out: it goes with the leg it stands in for.
    """
    seen: dict[LegId, int] = {}
    for built in days:
        for leg in _own_right(built):
            seen[leg] = seen.get(leg, 0) + 1
    return tuple(leg for leg, count in seen.items() if count > 1)


def share_legs(days: Sequence[BuiltDay], *, time_limit_s: float | None = None) -> Shared:
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
    time_limit_s : float, optional
        For each question to a day's search. [s]

    Raises
    ------
    ValueError
        If there are no days.
    """
    if not days:
        raise ValueError("there are no days to share legs between")
    shared = shared_legs(days)
    home = _homes(days, shared)
    lots = [_Lot(built, shared, home, time_limit_s) for built in days]
    musts = frozenset().union(*(lot.musts for lot in lots))
    pins = {leg: lot.date for lot in reversed(lots) for leg in lot.pinned}
    best = _deal(lots, musts, [lot.subsets_within(pins) for lot in lots])
    own = _deal(lots, musts, [lot.subsets_within(home | pins) for lot in lots])
    moved = tuple(
        (leg, home[leg], lot.date)
        for lot, plan in zip(lots, best.plans, strict=True)
        for leg in lot.ridden(plan)
        if home.get(leg, lot.date) != lot.date
    )
    return Shared(
        solutions=best.plans,
        dealt=best.dealt,
        moved=moved,
        gain=best.value - own.value if best.no_plan == own.no_plan else float("inf"),
    )


def _deal(lots: Sequence["_Lot"], musts: Legs, subsets: Sequence[Sequence[Legs]]) -> _Dealing:
    """Join the days over all ways of dealing out the legs; every must leg is dealt to somebody."""
    best: dict[Legs, _Dealing] = {frozenset(): _Dealing(0, 0.0, (), ())}
    for lot, choices in zip(lots, subsets, strict=True):
        joined: dict[Legs, _Dealing] = {}
        for (used, so_far), taken in product(best.items(), choices):
            if used & taken:
                continue
            plan = lot.plan(taken)
            dealing = _Dealing(
                so_far.no_plan + (plan is None),
                so_far.value + lot.worth(plan),
                (*so_far.plans, plan),
                (*so_far.dealt, taken),
            )
            if dealing.beats(joined.get(used | taken)):
                joined[used | taken] = dealing
        best = joined
    chosen: _Dealing | None = None
    for used, dealing in best.items():
        if musts <= used and dealing.beats(chosen):
            chosen = dealing
    if chosen is None:
        raise AssertionError("a must leg is dealt to no day although one lists it")
    return chosen


class _Lot:
    """One day with its search, asked what it is worth with some of the shared legs."""

    def __init__(
        self,
        built: BuiltDay,
        shared: Sequence[LegId],
        home: Mapping[LegId, date],
        time_limit_s: float | None,
    ) -> None:
        self.date = built.day.date
        self._built = built
        self._home = home
        here = _own_right(built)
        self._shared = {leg: built.index(leg) for leg in shared if leg in here}
        self._instead = {
            leg: other
            for leg, number in self._shared.items()
            for other in _stand_ins(built, number)
        }
        self.musts = frozenset(
            leg for leg, number in self._shared.items() if _is_must(built.problem, number)
        )
        self._search = DaySearch(
            _freed(built.problem, frozenset(self._shared.values())), time_limit_s=time_limit_s
        )
        self._plans: dict[Legs, DaySolution | None] = {}
        # Asked for on this day by the rider: no other day may have it.
        self.pinned = frozenset(
            leg
            for leg, number in self._shared.items()
            if built.problem.legs[number].must and not built.tour.legs[leg].must
        )
        # Whoever gets a must leg rides it, also a day that lists it as optional.
        self._needed = self.musts | {leg for leg in self._shared if built.tour.legs[leg].must}
        every = chain.from_iterable(
            combinations(self._shared, size) for size in range(len(self._shared) + 1)
        )
        at_home = frozenset(leg for leg in self._shared if home.get(leg, self.date) == self.date)
        # The rider's own dealing first, so that it stands where others are as good; then the
        # larger parts, whose answers hold for many of the smaller ones.
        self._subsets = sorted(
            map(frozenset, every), key=lambda taken: (taken != at_home, -len(taken))
        )

    def subsets_within(self, days: Mapping[LegId, date]) -> list[Legs]:
        """Return the parts that hold no leg whose day is another."""
        return [
            taken
            for taken in self._subsets
            if all(days.get(leg, self.date) == self.date for leg in taken)
        ]

    def plan(self, taken: Legs) -> DaySolution | None:
        """Return the best plan with those of the shared legs; musts among them are ridden."""
        if taken not in self._plans:
            same = self._same_as_with_more(taken)
            self._plans[taken] = self._best(taken) if same is None else self._plans[same]
        return self._plans[taken]

    def worth(self, plan: DaySolution | None) -> float:
        """Return a plan's value less the price of the legs moved here."""
        if plan is None:
            return 0.0
        rules = self._built.rules
        moved = [leg for leg in self.ridden(plan) if self._home.get(leg, self.date) != self.date]
        # its own day, which cannot know, has paid for it as left out; another day that has it in
        # its order too has not
        spared = sum(leg not in self._built.day.own_order for leg in moved)
        return plan.value - len(moved) * rules.other_day_cost + spared * rules.left_out_cost

    def ridden(self, plan: DaySolution | None) -> list[LegId]:
        """Return the shared legs a plan rides, itself or by a stand-in."""
        legs = () if plan is None else plan.legs
        return [
            leg
            for leg, number in self._shared.items()
            if number in legs or self._instead.get(leg, -1) in legs
        ]

    def _same_as_with_more(self, taken: Legs) -> Legs | None:
        """Return a larger part already answered whose answer holds for this one.

        It does where the leg more is not ridden, and where even with it there is no plan.
        """
        for leg in self._shared:
            more = taken | {leg}
            if leg in taken or leg in self._needed or more not in self._plans:
                continue
            plan = self._plans[more]
            if plan is None or leg not in self.ridden(plan):
                return more
        return None

    def _best(self, taken: Legs) -> DaySolution | None:
        given = [leg for leg in self._shared if leg not in taken]
        without = {self._shared[leg] for leg in given}
        without |= {self._instead[leg] for leg in given if leg in self._instead}
        kept = {self._instead.get(leg, -1) for leg in taken} | {self._shared[leg] for leg in taken}
        needed = [
            [number for number in (self._shared[leg], self._instead.get(leg)) if number is not None]
            for leg in sorted(taken & self._needed)
        ]
        best: DaySolution | None = None
        for forced in product(*needed):
            found = self._search.best(
                without=frozenset(without - kept), forced=frozenset(forced), blamed=False
            ).solution
            if found is not None and (best is None or found.value > best.value):
                best = found
        return best


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
