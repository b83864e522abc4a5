"""The day problem for OR-Tools CP-SAT: the yardstick of the benchmark.

A circuit over the ways and the base: a way's node is left out by a loop at itself. Each way has a
slot of starting; what depends on the slot (worth, riding, connectors, late price) is an element of
a table.
"""

import time

import numpy as np
from ortools.sat.python import cp_model

from replanner.planning.problem import NEVER, DayProblem

SCALE = 1000
"""Prices are whole thousandths of a minute here; those of the benchmark's days are exact so."""

Var = cp_model.IntVar
Expression = cp_model.LinearExpr


def solve_by_cp_sat(problem: DayProblem, limit_s: float) -> tuple[float, float | None, bool]:
    """Give seconds, value (None: no plan) and whether that is proven."""
    model = cp_model.CpModel()
    goal, _ = add_day(model, problem)
    model.maximize(goal)
    return solved(model, goal, limit_s)


def solved(model: cp_model.CpModel, goal: Var, limit_s: float) -> tuple[float, float | None, bool]:
    """Give seconds, value (None: no plan) and whether that is proven, of a model to maximise."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 2
    solver.parameters.max_time_in_seconds = limit_s
    began = time.perf_counter()
    status = solver.solve(model)
    seconds = time.perf_counter() - began
    proven = status in {cp_model.OPTIMAL, cp_model.INFEASIBLE}
    if status not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        return seconds, None, proven
    return seconds, solver.value(goal) / SCALE, proven


def add_day(model: cp_model.CpModel, problem: DayProblem) -> tuple[Var, list[Var]]:  # noqa: C901, PLR0912, PLR0915 - the model, key by key
    """Add a day; give its value in thousandths and by leg whether it is ridden."""
    if problem.no_wait:
        raise ValueError("the yardstick knows no places where nobody can wait")
    last = problem.slots - 1
    gains: list[Expression | Var | int] = []

    def element(index: Var, values: list[int]) -> Var:
        result = model.new_int_var(min(values), max(values), "")
        model.add_element(index, values, result)
        return result

    def whole(prices: np.ndarray) -> list[int]:
        return [round(float(price) * SCALE) if np.isfinite(price) else 0 for price in prices]

    ways = [(j, way) for j, leg in enumerate(problem.legs) for way in leg.ways]
    wait = round(problem.wait_cost_per_slot * SCALE)
    leave = model.new_int_var(problem.earliest, problem.latest, "leave")
    ok = [t for t in range(problem.by + 1) if np.isfinite(problem.late[t])]
    finish = model.new_int_var_from_domain(cp_model.Domain.from_values(ok), "finish")
    gains.append(-1 * element(finish, whole(problem.late)))
    ridden, starts, ends, arcs, takes = [], [], [], [], []
    for node, (_, way) in enumerate(ways, start=1):
        used = model.new_bool_var("")
        may = [
            t
            for t in range(last + 1)
            if np.isfinite(way.worth[t]) and t + way.ride_slots[t] <= last
        ]
        start = model.new_int_var_from_domain(cp_model.Domain.from_values(may or [0]), "")
        if not may:
            model.add(used == 0)
        length = element(start, way.ride_slots.tolist())
        worth = element(start, whole(way.worth))
        gain = model.new_int_var(min(0, *whole(way.worth)), max(0, *whole(way.worth)), "")
        model.add(gain == worth).only_enforce_if(used)
        model.add(gain == 0).only_enforce_if(~used)
        gains.append(gain)
        if wait:
            taken = model.new_int_var(0, last, "")
            model.add(taken == length).only_enforce_if(used)
            model.add(taken == 0).only_enforce_if(~used)
            takes.append(taken)
        ridden.append(used)
        starts.append(start)
        ends.append(start + length)
        arcs.append((node, node, ~used))
    places_from = [problem.start_place, *(way.end for _, way in ways)]
    places_to = [problem.end_place, *(way.start for _, way in ways)]
    for i, a in enumerate(places_from):
        for k, b in enumerate(places_to):
            if i == k and i:
                continue
            arc = model.new_bool_var("")
            arcs.append((i, k, arc))
            if i == k == 0:
                for used in ridden:
                    model.add_implication(arc, ~used)
            ready = ends[i - 1] if i else leave
            needed = starts[k - 1] if k else finish
            if a == b:
                model.add(needed >= ready).only_enforce_if(arc)
                continue
            road = [t for t in range(last + 1) if problem.travel_slots[a, b, t] != NEVER]
            if not road:
                model.add(arc == 0)
                continue
            left = model.new_int_var_from_domain(cp_model.Domain.from_values(road), "")
            slots = element(left, np.maximum(problem.travel_slots[a, b], 0).tolist())
            price = whole(problem.travel_cost[a, b])
            model.add(left >= ready).only_enforce_if(arc)
            model.add(needed >= left + slots).only_enforce_if(arc)
            paid = model.new_int_var(min(0, *price), max(0, *price), "")
            model.add(paid == element(left, price)).only_enforce_if(arc)
            model.add(paid == 0).only_enforce_if(~arc)
            gains.append(-1 * paid)
            if wait:
                taken = model.new_int_var(0, last, "")
                model.add(taken == slots).only_enforce_if(arc)
                model.add(taken == 0).only_enforce_if(~arc)
                takes.append(taken)
    model.add_circuit(arcs)
    if wait:
        gains.append(-wait * (finish - leave - sum(takes)))
    legs = _demands(model, problem, ways, ridden, starts, gains)
    most = int(SCALE * sum(max(0.0, float(way.worth.max())) for _, way in ways)) + 1
    goal = model.new_int_var(-most * 10, most, "value")
    model.add(goal == sum(gains))
    return goal, legs


def _demands(
    model: cp_model.CpModel,
    problem: DayProblem,
    ways: list[tuple[int, object]],
    ridden: list[Var],
    starts: list[Var],
    gains: list[Expression | Var | int],
) -> list[Var]:
    legs = []
    for j, leg in enumerate(problem.legs):
        used = model.new_bool_var("")
        mine = [i for i, (of, _) in enumerate(ways) if of == j]
        model.add(sum(ridden[i] for i in mine) == used)
        when = model.new_int_var(0, problem.slots, "")
        for i in mine:
            model.add(when == starts[i]).only_enforce_if(ridden[i])
        if leg.must:
            model.add(used == 1)
        legs.append((used, when))
    for group in problem.at_most_one:
        model.add(sum(legs[j][0] for j in group) <= 1)
    for group in problem.exactly_one:
        model.add(sum(legs[j][0] for j in group) == 1)
    for a, b in problem.before:
        model.add(legs[a][1] <= legs[b][1]).only_enforce_if(legs[a][0], legs[b][0])
    price = round(problem.order_cost * SCALE)
    if price:
        for k, later in enumerate(problem.own_order):
            for sooner in problem.own_order[:k]:
                against = model.new_bool_var("")
                both = [legs[sooner][0], legs[later][0], ~against]
                model.add(legs[sooner][1] <= legs[later][1]).only_enforce_if(both)
                gains.append(-price * against)
    return [used for used, _ in legs]
