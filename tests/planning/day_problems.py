"""Invented day problems for the search's tests, and two judges that share no code with the search.

`any_problem` draws files with every key of the format. `best_by_enumeration` tries every order of
legs and every way with plain dictionaries of slots; `worth_of` prices a plan as told, slot by slot.
"""

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import permutations, product
from random import Random
from typing import Any

import numpy as np
from hypothesis import strategies as st

from replanner.planning.demand import Demand, DemandKind
from replanner.planning.problem import NEVER, DayProblem, DaySolution

Reached = dict[int, float]
"""Best value by slot of being there."""


def any_problem(most_legs: int = 4, slots: int = 14) -> st.SearchStrategy[dict[str, Any]]:
    """Problems in `replanner-problem-1` with every key."""
    return st.builds(
        invented_problem, st.integers(0, 2**32 - 1), st.integers(0, most_legs), st.just(slots)
    )


def invented_problem(seed: int, legs: int, slots: int) -> dict[str, Any]:
    """Make a problem up; whole prices, so that sums are exact."""
    random = Random(seed)
    places = random.randint(1, 4)

    def each_slot(low: int, high: int, gaps: float) -> list[int | None]:
        return [None if random.random() < gaps else random.randint(low, high) for _ in range(slots)]

    def maybe_each_slot(low: int, high: int, gaps: float) -> int | list[int | None]:
        return random.randint(low, high) if random.random() < 0.6 else each_slot(low, high, gaps)

    def road() -> int | list[int | None] | None:
        return None if random.random() < 0.15 else maybe_each_slot(0, 4, 0.1)

    def way() -> dict[str, Any]:
        return {
            "from": random.randrange(places),
            "to": random.randrange(places),
            "ride_slots": maybe_each_slot(0, 4, 0.0),
            "worth": each_slot(-5, 40, random.choice([0.0, 0.3, 0.9])),
        }

    def groups() -> list[list[int]]:
        if legs == 0 or random.random() < 0.5:
            return []
        return [random.sample(range(legs), random.randint(1, min(3, legs)))]

    def square(cell: Callable[[], Any]) -> list[list[Any]]:
        return [[0 if a == b else cell() for b in range(places)] for a in range(places)]

    earliest = random.randint(0, 4)
    order = random.sample(range(legs), legs)
    return {
        "format": "replanner-problem-1",
        "slot_minutes": 15,
        "first_slot": "2027-01-14T06:00:00Z",
        "slots": slots,
        "travel_slots": square(road),
        "travel_cost": square(lambda: maybe_each_slot(-2, 8, 0.0)),
        "wait_cost_per_slot": random.choice([0, 0, 1, 3]),
        "no_wait": [place for place in range(places) if random.random() < 0.25],
        "start": {
            "place": random.randrange(places),
            "earliest": earliest,
            "latest": random.randint(earliest, slots - 1),
        },
        "end": {
            "place": random.randrange(places),
            "by": random.randint(max(earliest, slots - 6), slots - 1),
            "late": each_slot(0, 9, random.choice([0.0, 0.0, 0.3])),
        },
        "legs": [
            {
                "id": f"leg{j}",
                "must": random.random() < 0.2,
                "ways": [way() for _ in range(random.randint(1, 2))],
            }
            for j in range(legs)
        ],
        "at_most_one": groups(),
        "exactly_one": groups(),
        "before": [[order[0], order[-1]]] if legs > 1 and random.random() < 0.5 else [],
        "own_order": random.sample(range(legs), random.randint(0, legs)),
        "order_cost": random.choice([0, 5]),
    }


def best_by_enumeration(problem: DayProblem) -> float | None:
    """Try every order of legs in every way; None if no plan keeps the demands."""
    values = [value for _, value in every_plan(problem)]
    return max(values, default=None)


def every_plan(problem: DayProblem) -> Iterator[tuple[tuple[int, ...], float]]:
    """Every order of legs that keeps the demands, with its best value."""
    for count in range(len(problem.legs) + 1):
        for order in permutations(range(len(problem.legs)), count):
            if keeps_demands(problem, order):
                value = best_of_order(problem, order)
                if value is not None:
                    yield order, value


def keeps_demands(problem: DayProblem, order: tuple[int, ...]) -> bool:
    musts = all(j in order for j, leg in enumerate(problem.legs) if leg.must)
    at_most = all(sum(j in order for j in group) <= 1 for group in problem.at_most_one)
    exactly = all(sum(j in order for j in group) == 1 for group in problem.exactly_one)
    before = all(
        order.index(a) < order.index(b) for a, b in problem.before if a in order and b in order
    )
    return musts and at_most and exactly and before


def best_of_order(problem: DayProblem, order: tuple[int, ...]) -> float | None:
    """Best value of an order of legs, over all ways and timings."""
    best = None
    for choice in product(*(problem.legs[j].ways for j in order)):
        place = problem.start_place
        here: Reached = dict.fromkeys(range(problem.earliest, problem.latest + 1), 0.0)
        for way in choice:
            entry = _wait(problem, way.start, _travel(problem, place, way.start, here))
            after: Reached = {}
            for t, value in entry.items():
                if way.worth[t] != float("-inf"):
                    _better(problem, after, t + int(way.ride_slots[t]), value + way.worth[t])
            here, place = after, way.end
        for t, value in _travel(problem, place, problem.end_place, here).items():
            if t <= problem.by and problem.late[t] != float("inf"):
                total = value - problem.late[t] - _order_price(problem, order)
                best = total if best is None else max(best, total)
    return best


def best_by_subsets(problem: DayProblem) -> float | None:
    """Try every set of legs at every place in every slot, without any bound; None: no plan.

    To nine or ten legs where enumeration of orders takes too long.
    """
    none: frozenset[int] = frozenset()
    leaving = dict.fromkeys(range(problem.earliest, problem.latest + 1), 0.0)
    layer: dict[tuple[frozenset[int], int], Reached] = {(none, problem.start_place): leaving}
    best = None
    while layer:
        longer: dict[tuple[frozenset[int], int], Reached] = {}
        for (ridden, place), here in layer.items():
            if keeps_demands(replace(problem, before=()), tuple(ridden)):
                for t, value in _travel(problem, place, problem.end_place, here).items():
                    if t <= problem.by and problem.late[t] != float("inf"):
                        total = value - problem.late[t]
                        best = total if best is None else max(best, total)
            for j, way_end, after in _rides(problem, ridden, place, here):
                into = longer.setdefault((ridden | {j}, way_end), {})
                for t, value in after.items():
                    _better(problem, into, t, value)
        layer = {state: reached for state, reached in longer.items() if reached}
    return best


def _rides(
    problem: DayProblem, ridden: frozenset[int], place: int, here: Reached
) -> Iterator[tuple[int, int, Reached]]:
    """Every leg that may be ridden next, where it ends, and the values there."""
    own = {leg: position for position, leg in enumerate(problem.own_order)}
    for j, leg in enumerate(problem.legs):
        if j in ridden or any(a == j and b in ridden for a, b in problem.before):
            continue
        against = sum(own[j] < own[i] for i in ridden if i in own) if j in own else 0
        for way in leg.ways:
            entry = _wait(problem, way.start, _travel(problem, place, way.start, here))
            after: Reached = {}
            for t, value in entry.items():
                if way.worth[t] != float("-inf"):
                    worth = value + way.worth[t] - problem.order_cost * against
                    _better(problem, after, t + int(way.ride_slots[t]), worth)
            yield j, way.end, after


def _order_price(problem: DayProblem, order: tuple[int, ...]) -> float:
    own = {leg: position for position, leg in enumerate(problem.own_order)}
    known = [own[leg] for leg in order if leg in own]
    against = sum(a > b for i, a in enumerate(known) for b in known[i + 1 :])
    return problem.order_cost * against


def _better(problem: DayProblem, reached: Reached, t: int, value: float) -> None:
    if t < problem.slots:
        reached[t] = max(reached.get(t, float("-inf")), value)


def _wait(problem: DayProblem, place: int, here: Reached) -> Reached:
    if place in problem.no_wait:
        return here
    waited: Reached = {}
    for t, value in here.items():
        for later in range(t, problem.slots):
            _better(problem, waited, later, value - problem.wait_cost_per_slot * (later - t))
    return waited


def _travel(problem: DayProblem, a: int, b: int, here: Reached) -> Reached:
    """Wait at a, then take the connector to b; staying is no connector."""
    ready = _wait(problem, a, here)
    if a == b:
        return ready
    there: Reached = {}
    for t, value in ready.items():
        takes = problem.travel_slots[a, b, t]
        if takes != NEVER:
            _better(problem, there, t + int(takes), value - problem.travel_cost[a, b, t])
    return there


def worth_of(problem: DayProblem, solution: DaySolution) -> float | None:
    """Price the plan told, its slots as told, connectors and waits between as good as can be."""
    here: Reached = {solution.leave_slot: 0.0}
    if not problem.earliest <= solution.leave_slot <= problem.latest:
        return None
    place = problem.start_place
    for visit in solution.visits:
        way = problem.legs[visit.leg].ways[visit.way]
        entry = _wait(problem, way.start, _travel(problem, place, way.start, here))
        t = visit.start_slot
        if t not in entry or way.worth[t] == float("-inf"):
            return None
        here = {t + int(way.ride_slots[t]): entry[t] + way.worth[t]}
        place = way.end
    closed = _travel(problem, place, problem.end_place, here)
    finish = solution.finish_slot
    if finish not in closed or finish > problem.by or not keeps_demands(problem, solution.legs):
        return None
    return closed[finish] - problem.late[finish] - _order_price(problem, solution.legs)


def every_demand(problem: DayProblem) -> tuple[Demand, ...]:
    """All demands of a problem."""
    names = [leg.id for leg in problem.legs]
    groups = [
        *((DemandKind.RIDE, (j,)) for j, leg in enumerate(problem.legs) if leg.must),
        *((DemandKind.RIDE, group) for group in problem.exactly_one),
        *((DemandKind.AT_MOST_ONE, group) for group in problem.at_most_one + problem.exactly_one),
        *((DemandKind.BEFORE, pair) for pair in problem.before),
        (DemandKind.START_BY, ()),
        (DemandKind.END_BY, ()),
    ]
    told = (Demand(kind=kind, legs=tuple(names[j] for j in legs)) for kind, legs in groups)
    return tuple(dict.fromkeys(told))


def with_demands(problem: DayProblem, kept: tuple[Demand, ...]) -> DayProblem:
    """The problem with only these demands."""
    names = [leg.id for leg in problem.legs]

    def told(kind: DemandKind, group: tuple[int, ...]) -> Demand:
        return Demand(kind=kind, legs=tuple(names[j] for j in group))

    exactly = tuple(group for group in problem.exactly_one if told(DemandKind.RIDE, group) in kept)
    loose = tuple(group for group in problem.exactly_one if group not in exactly)
    last = problem.slots - 1
    changed = replace(
        problem,
        legs=tuple(
            replace(leg, must=told(DemandKind.RIDE, (j,)) in kept)
            for j, leg in enumerate(problem.legs)
        ),
        exactly_one=exactly,
        at_most_one=tuple(
            group
            for group in problem.at_most_one + loose
            if told(DemandKind.AT_MOST_ONE, group) in kept
        ),
        before=tuple(pair for pair in problem.before if told(DemandKind.BEFORE, pair) in kept),
    )
    if not any(demand.kind is DemandKind.START_BY for demand in kept):
        changed = replace(changed, latest=last)
    if not any(demand.kind is DemandKind.END_BY for demand in kept):
        changed = replace(changed, by=last, late=np.zeros(problem.slots))
    return changed
