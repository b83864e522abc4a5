"""The day search: the best plan of a day with its proof, and the answers around it.

A day whose table fits in memory (about 12 legs at 5-minute slots) is swept once and answers
everything from it; with the most legs that fit, its first question is answered in two passes, which
is quicker (`day_solver.FEW_LEGS`). A larger day is searched in two passes, anew for each question.

The same problem gives the same plan on every machine: prices are whole numbers (`exact_prices`)
and ties are broken by rule. Of plans of equal value the one that ends first is told; of those from
the table the one of fewest legs, then of the earliest legs in the file, then with the earlier legs
first (two passes tell the one they come upon first, always the same). Timings equal in all this are
told as `order_timing` says. A search stopped by its time limit tells what it has by then.
"""

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np

from replanner.planning import warm_up
from replanner.planning.blame import blame
from replanner.planning.day_arrays import IMPOSSIBLE, DayArrays, Flags, day_arrays, mask_of
from replanner.planning.day_solver import DaySolver, Question
from replanner.planning.days_begun import Begun, ride_next
from replanner.planning.demand import Clash, Demand
from replanner.planning.order_timing import TimedOrder, time_order
from replanner.planning.problem import DayProblem, DaySolution
from replanner.planning.sweep import Known
from replanner.planning.two_pass import Found

NONE: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class SearchResult:
    """The answer to one question about a day.

    Parameters
    ----------
    solution : DaySolution or None
        The best plan found; None: there is none, or none was found before the time ran out.
    bound : float
        Proven upper bound on the value of any plan; -inf: there is no plan. [min]
    proven : bool
        Whether the solution is proven best, or proven not to exist.
    seconds : float
        Time of the search alone. [s]
    blame : tuple of Demand
        Where there is no plan: demands that cannot hold together, none of them to spare.
    blame_fewest : bool
        Whether any fewer demands can hold together; False: not known, or nothing is blamed.
    """

    solution: DaySolution | None
    bound: float
    proven: bool
    seconds: float
    blame: tuple[Demand, ...] = ()
    blame_fewest: bool = False


def solve(problem: DayProblem, *, time_limit_s: float | None = None) -> SearchResult:
    """Find the best plan of a day.

    Parameters
    ----------
    problem : DayProblem
    time_limit_s : float, optional
        Stop after this time with the best plan and the bound so far; none: search to the proof. [s]
    """
    warm_up.begin()
    begun = time.perf_counter()
    search = DaySearch(problem, time_limit_s=time_limit_s)
    built = time.perf_counter() - begun
    result = search.best()
    return replace(result, seconds=built + result.seconds)


class DaySearch:
    """A day searched once and asked many things.

    Parameters
    ----------
    problem : DayProblem
    time_limit_s : float, optional
        For building, and anew for each question that has to search: stop after this time with the
        best plan and the bound so far. [s]
    arrays : DayArrays, optional
        The problem made ready, where somebody has it.
    known : Known, optional
        The table of a day that differs in one leg.
    """

    def __init__(
        self,
        problem: DayProblem,
        *,
        time_limit_s: float | None = None,
        arrays: DayArrays | None = None,
        known: Known | None = None,
    ) -> None:
        self.problem = problem
        self._clock = _Clock(time_limit_s)
        self._clock.start()
        self._arrays = day_arrays(problem) if arrays is None else arrays
        self._solver = DaySolver(self._arrays, self._clock.over, known)
        self._proven: dict[Question, tuple[Found, TimedOrder | None]] = {}

    def best(
        self,
        *,
        without: frozenset[int] = NONE,
        forced: frozenset[int] = NONE,
        leave: int | None = None,
        blamed: bool = True,
    ) -> SearchResult:
        """Find the best plan that rides none of `without` and all of `forced`.

        Demands of the day hold as ever: without one of its musts it has no plan. `leave` is the
        one slot of the problem in which it may leave; None: as the day allows. `blamed` False
        spares working out why there is none: that takes many searches more.
        """
        begun = time.perf_counter()
        self._clock.start(again=self._solver.table is None)
        question = self._question(without, forced, leave)
        found, timed = self._proven.get(question) or self._asked(question)
        seconds = time.perf_counter() - begun
        if timed is None:
            proven = found.bound == IMPOSSIBLE
            none = SearchResult(None, self._arrays.units.minutes(found.bound), proven, seconds)
            if not (proven and blamed):
                return none
            clash = self._blame(without, forced, leave)
            return replace(none, blame=clash.demands, blame_fewest=clash.fewest)
        solution = self._solution(timed, found.bound)
        return SearchResult(solution, solution.bound, solution.proven, seconds)

    def best_without(self, legs: frozenset[int]) -> SearchResult:
        """Find the best plan that rides none of these legs; nothing is blamed if there is none."""
        return self.best(without=legs, blamed=False)

    def best_with(self, legs: frozenset[int]) -> SearchResult:
        """Find the best plan that rides all of these legs, whatever it costs; likewise."""
        return self.best(forced=legs, blamed=False)

    def ranked(
        self,
        limit: int,
        *,
        without: frozenset[int] = NONE,
        forced: frozenset[int] = NONE,
    ) -> tuple[DaySolution, ...]:
        """Give the best plans in exact falling order of value, no two with the same order of legs.

        A day too large for the table gives plans that differ in their sets of legs, of equal value
        that of fewer legs first, then of earlier ones. With a time limit the order is that of the
        plans found.
        """
        self._clock.start(again=self._solver.table is None)
        orders = islice(self._solver.ranked(self._question(without, forced), limit), limit)
        plans = (self._timed(order) for order in orders)
        return tuple(self._solution(timed, timed.value) for timed in plans)

    def value_of_order(
        self, order: Sequence[int], *, leave: int | None = None
    ) -> DaySolution | None:
        """Time these legs in this order as well as can be; None if they can't be ridden so.

        Whether they hold all musts is not asked: an own order may leave one out. `leave` as in
        `best`; `bound` is that of this order.
        """
        timed = self._order_timed(order, leave)
        return None if timed is None else self._solution(timed, timed.value)

    def kept_away(self, leg: int, slots: Flags) -> "DaySearch":
        """Return the search of the day in which a leg may not start in some slots, shape (T,)."""
        legs = list(self.problem.legs)
        ways = tuple(way.without(slots) for way in legs[leg].ways)
        legs[leg] = replace(legs[leg], ways=ways)
        problem = replace(self.problem, legs=tuple(legs))
        arrays, table = self._arrays, self._solver.table
        if table is None:
            return DaySearch(problem)
        here = slots[arrays.offset : arrays.offset + arrays.slots]
        away = (arrays.way_leg == leg)[:, np.newaxis] & here
        rides = replace(
            arrays,
            ride_arrival=np.where(away, arrays.slots, arrays.ride_arrival),
            ride_worth=np.where(away, IMPOSSIBLE, arrays.ride_worth),
        )
        return DaySearch(problem, arrays=rides, known=Known(table, leg))

    def value_begun(self, leg: int, starts: Sequence[int | None], leave: int) -> float | None:
        """Return the value of the best plan that begins with a leg, begun so. [min].

        Parameters
        ----------
        leg : int
        starts : sequence of int or None
            By its ways the one slot in which it is begun; None: it is not.
        leave : int
            The slot in which the day is left.

        Returns
        -------
        float or None
            None: there is no such plan.
        """
        arrays = self._arrays.leaving(leave)
        slots = np.arange(arrays.offset, arrays.offset + arrays.slots)
        away = np.ones((len(arrays.way_leg), arrays.slots), dtype=np.bool_)
        for way in np.flatnonzero(arrays.way_leg == leg).tolist():
            away[way] = slots != starts[int(arrays.way_way[way])]
        worth = np.where(away, IMPOSSIBLE, arrays.ride_worth)
        begun = ride_next(replace(arrays, ride_worth=worth), Begun.at_start(arrays), leg)
        value = self._solver.value_begun(self._question(NONE, NONE), begun)
        if value is not None:
            return None if value == IMPOSSIBLE else arrays.units.minutes(value)
        found = DaySearch(_begun(self.problem, leg, starts, leave)).best_with(frozenset({leg}))
        return None if found.solution is None else found.solution.value

    def _asked(self, question: Question) -> tuple[Found, TimedOrder | None]:
        found = self._solver.ask(question)
        none = found.value == IMPOSSIBLE
        answer = found, None if none else self._timed(found.order, question.leave)
        if found.bound == found.value:  # whoever tells of a day asks for the same plans again
            self._proven[question] = answer
        return answer

    def _question(
        self, without: frozenset[int], forced: frozenset[int], leave: int | None = None
    ) -> Question:
        return Question(
            without=mask_of(without),
            musts=self._arrays.musts | mask_of(forced),
            exactly=self._arrays.exactly,
            leave=leave,
        )

    def _blame(
        self, without: frozenset[int], forced: frozenset[int], leave: int | None
    ) -> Clash[Demand]:
        problem = self.problem
        if leave is not None:
            problem = replace(problem, earliest=leave, latest=leave)
        legs = tuple(
            replace(leg, must=leg.must or j in forced, ways=() if j in without else leg.ways)
            for j, leg in enumerate(problem.legs)
        )
        return blame(replace(problem, legs=legs), stopped=self._clock.over)

    def _order_timed(self, order: Sequence[int], leave: int | None) -> TimedOrder | None:
        days = self._solver.begun(leave)
        return time_order(days.arrays, order, days)

    def _timed(self, order: tuple[int, ...], leave: int | None = None) -> TimedOrder:
        timed = self._order_timed(order, leave)
        if timed is None:
            raise AssertionError("an order found cannot be timed")
        return timed

    def _solution(self, timed: TimedOrder, bound: float) -> DaySolution:
        minutes = self._arrays.units.minutes
        return timed.plan(minutes(timed.value), minutes(bound))


def _begun(problem: DayProblem, leg: int, starts: Sequence[int | None], leave: int) -> DayProblem:
    """Return a day that is left in a slot and begins with a leg, its ways in one slot each."""
    legs, slots = list(problem.legs), np.arange(problem.slots)
    ways = zip(legs[leg].ways, starts, strict=True)
    legs[leg] = replace(legs[leg], ways=tuple(way.without(slots != start) for way, start in ways))
    first = tuple((leg, other) for other in range(len(legs)) if other != leg)
    return replace(
        problem,
        earliest=leave,
        latest=leave,
        legs=tuple(legs),
        before=tuple(dict.fromkeys((*problem.before, *first))),
    )


class _Clock:
    """Tells when the time is over."""

    def __init__(self, limit_s: float | None) -> None:
        self._limit_s = limit_s
        self._end = float("inf")

    def start(self, *, again: bool = True) -> None:
        if again and self._limit_s is not None:
            self._end = time.perf_counter() + self._limit_s

    def over(self) -> bool:
        return time.perf_counter() > self._end


def result_as_json(result: SearchResult) -> dict[str, object]:
    """Give a result as the answer of `replanner solve`.

    In `visits` a leg and a way are told by their index in the problem, as everywhere in its file;
    slots are those of the problem. Without a plan `value`, `leave_slot` and `finish_slot` are
    null, `blame` lists the demands that cannot hold together, and `blame_fewest` tells whether
    any fewer can (false: not known).
    """
    solution = result.solution
    answer: dict[str, object] = {
        "value": None if solution is None else solution.value,
        "bound": None if result.bound == IMPOSSIBLE else result.bound,
        "proven": result.proven,
        "seconds": round(result.seconds, 6),
        "leave_slot": None if solution is None else solution.leave_slot,
        "visits": []
        if solution is None
        else [
            {"leg": visit.leg, "way": visit.way, "start_slot": visit.start_slot}
            for visit in solution.visits
        ],
        "finish_slot": None if solution is None else solution.finish_slot,
    }
    if solution is None:
        answer["blame"] = [str(demand) for demand in result.blame]
        answer["blame_fewest"] = result.blame_fewest
    return answer
