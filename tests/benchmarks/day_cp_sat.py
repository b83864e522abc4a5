"""The day problem for OR-Tools CP-SAT: the yardstick of the benchmark.

A circuit from the start over the ways to the end; a way that is not ridden has a loop at itself.
What depends on the slot is cut into runs of equal slots and price, each with a literal: the starts
of a way, the connectors (several arcs between the same two nodes). Waiting is paid as the time from
leaving to the end less the slots ridden. Beside what the rules ask for it is told what helps it to
prove: the starts that can be reached and left in time, the order of all pairs of legs with its
transitivity and the shortest way from one to the other, and that legs do not overlap.

Tried without clear gain: a flow of time along the arcs (a better bound, slower proofs), a network
of places by slots, a second solver beside the default (`max_lp`, `reduced_costs`, `core`, `no_lp`,
`lb_tree_search`, `objective_lb_search`), more linearisation, cuts of any kind, those by the times
along a path among them, strong precedences in what may not overlap.
"""

import time
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache, partial
from itertools import permutations
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model

from replanner.planning.problem import NEVER, DayProblem, LegWay
from tests.benchmarks.peer_answer import Answer

SCALE = 1000
"""Prices are whole thousandths of a minute here; those of the benchmark's days are exact so."""

WORKERS = 2

NO_ROAD = 10**6
"""Slots between places without a road: more than any day has."""

Var = cp_model.IntVar
Expression = cp_model.LinearExprT
Whole = NDArray[np.int64]
Slots = NDArray[np.bool_]


class Run(NamedTuple):
    """Slots in a row in which something takes as many slots and costs as much."""

    first: int
    last: int
    slots: int
    price: int


@dataclass
class Node:
    """A way as a node of the circuit, and the slots in which it may be begun."""

    leg: int
    way: LegWay
    starts: Slots
    used: Var

    @property
    def first_and_last_start(self) -> tuple[int, int]:
        """The first and the last slot it may be begun in."""
        slots = np.flatnonzero(self.starts)
        return int(slots[0]), int(slots[-1])

    @property
    def first_and_last_end(self) -> tuple[int, int]:
        """The first and the last slot it may be over in."""
        ends = np.flatnonzero(self.starts) + self.way.ride_slots[self.starts]
        return int(ends.min()), int(ends.max())


def solve_by_cp_sat(problem: DayProblem, limit_s: float) -> Answer:
    """Solve a day."""
    model = cp_model.CpModel()
    goal, _ = add_day(model, problem)
    model.maximize(goal)
    return solved(model, limit_s)


def solved(model: cp_model.CpModel, limit_s: float) -> Answer:
    """Solve a model whose goal is in thousandths."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = WORKERS
    # Quicker so on the days of the benchmark: cuts cost more than the better bound saves.
    solver.parameters.cut_level = 0
    solver.parameters.max_time_in_seconds = limit_s
    wall, processor = time.perf_counter(), time.process_time()
    status = solver.solve(model)
    found = status in {cp_model.OPTIMAL, cp_model.FEASIBLE}
    return Answer(
        wall_s=time.perf_counter() - wall,
        processor_s=time.process_time() - processor,
        value=solver.objective_value / SCALE if found else None,
        bound=solver.best_objective_bound / SCALE if found else float("inf"),
        proven=status in {cp_model.OPTIMAL, cp_model.INFEASIBLE},
    )


def add_day(model: cp_model.CpModel, problem: DayProblem) -> tuple[Expression, list[Var]]:
    """Add a day; give its value in thousandths and by leg whether it is ridden."""
    day = _Day(model, problem)
    if not day.finishes.size:
        model.add_bool_or([])
        return 0, day.ridden
    day.add_rides()
    day.add_circuit()
    day.add_waiting_and_end()
    day.add_groups()
    day.add_order()
    return cp_model.LinearExpr.sum(day.gains), day.ridden


def runs(slots: Whole, prices: Whole, allowed: Slots) -> list[Run]:
    """Cut the slots allowed into runs."""
    found: list[Run] = []
    for t in np.flatnonzero(allowed):
        now = Run(int(t), int(t), int(slots[t]), int(prices[t]))
        if found and found[-1].last == t - 1 and found[-1][2:] == now[2:]:
            now = now._replace(first=found.pop().first)
        found.append(now)
    return found


def _whole(prices: NDArray[np.float64]) -> Whole:
    whole: Whole = np.rint(np.where(np.isfinite(prices), prices, 0) * SCALE).astype(np.int64)
    return whole


@dataclass
class _Day:
    """A day being added: each step adds what its name says, with its price."""

    model: cp_model.CpModel
    problem: DayProblem
    gains: list[Expression] = field(default_factory=list)
    busy: list[Expression] = field(default_factory=list)
    between: dict[tuple[int, int], list[Var]] = field(default_factory=lambda: defaultdict(list))
    """Arcs from a way of one leg to a way of another."""

    def __post_init__(self) -> None:
        problem, model = self.problem, self.model
        self.wait = round(problem.wait_cost_per_slot * SCALE)
        self.finishes = np.flatnonzero(np.isfinite(problem.late[: problem.by + 1]))
        self.ridden = [model.new_bool_var(leg.id) for leg in problem.legs]
        self.nodes = [
            Node(j, way, starts_in_time, model.new_bool_var(""))
            for (j, way), starts_in_time in zip(
                ((j, way) for j, leg in enumerate(problem.legs) for way in leg.ways),
                _starts_in_time(problem),
                strict=True,
            )
        ]
        self.of_leg = [
            [node for node in self.nodes if node.leg == j] for j in range(len(problem.legs))
        ]
        self.start: list[Var] = []
        self.end: list[Var] = []
        self.leave = model.new_int_var(problem.earliest, problem.latest, "leave")
        domain = cp_model.Domain.from_values(self.finishes.tolist() or [0])
        self.finish = model.new_int_var_from_domain(domain, "finish")

    def add_rides(self) -> None:
        """Start every leg ridden in one run of one of its ways; none overlaps another."""
        intervals = []
        for j, nodes in enumerate(self.of_leg):
            starts = np.flatnonzero(np.any([node.starts for node in nodes], axis=0))
            domain = cp_model.Domain.from_values(starts.tolist() or [0])
            start = self.model.new_int_var_from_domain(domain, "")
            end = self.model.new_int_var(0, self.problem.slots - 1, "")
            taken: list[tuple[int, Var]] = []
            for node in nodes:
                taken += self._starts(node, start)
            lengths = cp_model.Domain.from_values(sorted({0, *(slots for slots, _ in taken)}))
            size = self.model.new_int_var_from_domain(lengths, "")
            self.model.add(size == sum(slots * run for slots, run in taken))
            self.model.add(end == start + size)
            self.model.add(sum(node.used for node in nodes) == self.ridden[j])
            if self.problem.legs[j].must:
                self.model.add(self.ridden[j] == 1)
            if starts.size:
                ridden = self.ridden[j]
                intervals.append(self.model.new_optional_interval_var(start, size, end, ridden, ""))
            self.start.append(start)
            self.end.append(end)
        self.model.add_no_overlap(intervals)

    def _starts(self, node: Node, start: Var) -> list[tuple[int, Var]]:
        """Give the slots ridden and the literal of each run of starts."""
        taken = []
        for run in runs(node.way.ride_slots, _whole(node.way.worth), node.starts):
            chosen = self.model.new_bool_var("")
            self.model.add_linear_constraint(start, run.first, run.last).only_enforce_if(chosen)
            taken.append((run.slots, chosen))
            self.gains.append((run.price + self.wait * run.slots) * chosen)
            self.busy.append(run.slots * chosen)
        self.model.add(sum(chosen for _, chosen in taken) == node.used)
        return taken

    def add_circuit(self) -> None:
        """Go from the start over the ways ridden to the end."""
        end = len(self.nodes) + 1
        arcs = [(n, n, ~node.used) for n, node in enumerate(self.nodes, start=1)]
        arcs.append((end, 0, self.model.new_constant(1)))
        rideable = [(n, node) for n, node in enumerate(self.nodes, start=1) if node.starts.any()]
        direct = self._arcs(None, None)
        arcs += [(0, end, arc) for arc in direct]
        for arc in direct:
            for ridden in self.ridden:
                self.model.add_implication(arc, ~ridden)
        for n, node in rideable:
            arcs += [(0, n, arc) for arc in self._arcs(None, node)]
            arcs += [(n, end, arc) for arc in self._arcs(node, None)]
            for m, other in rideable:
                if node.leg != other.leg:
                    mine = self._arcs(node, other)
                    arcs += [(n, m, arc) for arc in mine]
                    self.between[node.leg, other.leg] += mine
        self.model.add_circuit(arcs)

    def _arcs(self, before: Node | None, after: Node | None) -> list[Var]:
        """Give the connectors from a way (None: the start) to a way (None: the end)."""
        problem = self.problem
        a = before.way.end if before else problem.start_place
        b = after.way.start if after else problem.end_place
        ready = self.end[before.leg] if before else self.leave
        needed = self.start[after.leg] if after else self.finish
        ready_in = before.first_and_last_end if before else (problem.earliest, problem.latest)
        needed_in = (
            after.first_and_last_start if after else (int(self.finishes[0]), int(self.finishes[-1]))
        )
        waits_before = a not in problem.no_wait
        waits_after = after is not None and b not in problem.no_wait
        arcs = []
        for run in connectors(problem, a, b):
            if not _may_link(run, ready_in, needed_in, waits_before, waits_after):
                continue
            arc = self.model.new_bool_var("")
            rules = [
                (needed >= ready + run.slots, True),
                (ready <= run.last, run.last < ready_in[1]),
                (needed >= run.first + run.slots, run.first > ready_in[0]),
                (needed <= run.last + run.slots, not waits_after),
                (ready >= run.first, not waits_before),
                (needed <= ready + run.slots, not waits_before and not waits_after),
            ]
            for rule in (rule for rule, binds in rules if binds):
                self.model.add(rule).only_enforce_if(arc)
            self.gains.append((self.wait * run.slots - run.price) * arc)
            self.busy.append(run.slots * arc)
            arcs.append(arc)
        return arcs

    def add_waiting_and_end(self) -> None:
        """Pay for the time from leaving to the end less what is ridden, and for being late."""
        self.model.add(sum(self.busy) <= self.finish - self.leave)
        self.gains.append(-self.wait * (self.finish - self.leave))
        late = _whole(self.problem.late)
        prices = late[self.finishes]
        unit = int(np.gcd.reduce(prices))
        if not unit:
            return
        steps = np.diff(prices)
        if (np.diff(self.finishes) == 1).all() and (np.diff(steps) >= 0).all():
            # In its own unit: with a coefficient of one CP-SAT would step by thousandths.
            cost = self.model.new_int_var(int(prices.min()) // unit, int(prices.max()) // unit, "")
            for step in np.unique(steps):
                n = int(np.flatnonzero(steps == step)[0])
                since = self.finish - int(self.finishes[n])
                self.model.add(cost >= int(prices[n]) // unit + int(step) // unit * since)
            self.gains.append(-unit * cost)
            return
        ends = []
        allowed = np.isin(np.arange(self.problem.slots), self.finishes)
        for run in runs(np.zeros_like(late), late, allowed):
            within = self.model.new_bool_var("")
            self.model.add_linear_constraint(self.finish, run.first, run.last).only_enforce_if(
                within
            )
            self.gains.append(-run.price * within)
            ends.append(within)
        self.model.add_exactly_one(ends)

    def add_groups(self) -> None:
        """Keep to what may and what has to be ridden of each group."""
        for group in self.problem.at_most_one:
            self.model.add_at_most_one(self.ridden[j] for j in group)
        for group in self.problem.exactly_one:
            self.model.add_exactly_one(self.ridden[j] for j in group)

    def add_order(self) -> None:
        """Say of each pair of legs ridden which comes first; pay for those against the order."""
        legs = range(len(self.ridden))
        gap = _shortest_gaps(self.problem, self.nodes)
        sooner: dict[tuple[int, int], Var] = {}
        for a, b in permutations(legs, 2):
            first = sooner[a, b] = self.model.new_bool_var("")
            self.model.add_implication(first, self.ridden[a])
            self.model.add_implication(first, self.ridden[b])
            least = min(
                int(gap[one.way.end, other.way.start])
                for one in self.of_leg[a]
                for other in self.of_leg[b]
            )
            self.model.add(self.start[b] >= self.end[a] + least).only_enforce_if(first)
            if self.between[a, b]:
                self.model.add(sum(self.between[a, b]) <= first)
        for a, b in permutations(legs, 2):
            if a < b:
                either = sooner[a, b] + sooner[b, a]
                neither = [sooner[a, b], sooner[b, a], ~self.ridden[a], ~self.ridden[b]]
                self.model.add_bool_or(neither)
                self.model.add(either <= 1)
                self.model.add(either >= self.ridden[a] + self.ridden[b] - 1)
        for a, b, c in permutations(legs, 3):
            self.model.add(sooner[a, b] + sooner[b, c] - sooner[a, c] <= 1)
        for a, b in self.problem.before:
            self.model.add(sooner[b, a] == 0)
        price = round(self.problem.order_cost * SCALE)
        for k, b in enumerate(self.problem.own_order):
            self.gains += [-price * sooner[b, a] for a in self.problem.own_order[:k]]


def _may_link(
    run: Run,
    ready: tuple[int, int],
    needed: tuple[int, int],
    waits_before: bool,
    waits_after: bool,
) -> bool:
    """Tell whether a run of a connector lies between the first and last slots at its ends."""
    return (
        run.last >= ready[0]
        and max(run.first, ready[0]) + run.slots <= needed[1]
        and (waits_after or run.last + run.slots >= needed[0])
        and (waits_before or run.first <= ready[1])
    )


def connectors(problem: DayProblem, a: int, b: int) -> list[Run]:
    """Give the runs of the connector between two places; staying is one that takes nothing."""
    if a == b:
        return [Run(0, problem.slots - 1, 0, 0)]
    slots = problem.travel_slots[a, b]
    there = (slots != NEVER) & (np.arange(problem.slots) + slots < problem.slots)
    return runs(slots, _whole(problem.travel_cost[a, b]), there)


def _starts_in_time(problem: DayProblem) -> list[Slots]:
    """Of each way the starts that can be reached and after which the end can be.

    By the quickest way there over any legs, each as often as one likes, and likewise back.
    """
    slots = np.arange(problem.slots)
    ways = [(j, way) for j, leg in enumerate(problem.legs) for way in leg.ways]
    over = [slots + way.ride_slots for _, way in ways]
    allowed = [
        np.isfinite(way.worth) & (end < problem.slots)
        for (_, way), end in zip(ways, over, strict=True)
    ]
    last_finish = np.flatnonzero(np.isfinite(problem.late[: problem.by + 1]))
    if not last_finish.size:
        return [np.zeros(problem.slots, dtype=np.bool_) for _ in ways]

    roads = cache(partial(connectors, problem))
    start, end = problem.start_place, problem.end_place
    finish = int(last_finish[-1])
    reached = [_soonest_there(roads(start, way.start), problem.earliest) for _, way in ways]
    left = [_latest_leaving(roads(way.end, end), finish) for _, way in ways]

    def ended(k: int) -> int:
        ends = over[k][allowed[k] & (slots >= reached[k])]
        return int(ends.min(initial=problem.slots))

    def begun(k: int) -> int:
        return int(slots[allowed[k] & (over[k] <= left[k])].max(initial=-1))

    changed = True
    while changed:
        changed = False
        for i, k in _of_two_legs([j for j, _ in ways]):
            road = roads(ways[i][1].end, ways[k][1].start)
            sooner = _soonest_there(road, ended(i))
            later = _latest_leaving(road, begun(k))
            if sooner < reached[k]:
                reached[k], changed = sooner, True
            if later > left[i]:
                left[i], changed = later, True
    return [allowed[k] & (slots >= reached[k]) & (over[k] <= left[k]) for k in range(len(ways))]


def _soonest_there(road: list[Run], ready: int) -> int:
    """Slot of being there; `NO_ROAD` if it can no longer be left."""
    times = (max(run.first, ready) + run.slots for run in road if run.last >= ready)
    return min(times, default=NO_ROAD)


def _latest_leaving(road: list[Run], due: int) -> int:
    """Last slot of leaving so as to be there when due; -1 if there is none."""
    times = (min(run.last, due - run.slots) for run in road if due - run.slots >= run.first)
    return max(times, default=-1)


def _of_two_legs(leg_of: list[int]) -> Iterator[tuple[int, int]]:
    return ((i, k) for i, k in permutations(range(len(leg_of)), 2) if leg_of[i] != leg_of[k])


def _shortest_gaps(problem: DayProblem, nodes: list[Node]) -> Whole:
    """Least slots from each place to each other, by connectors and legs in any slot."""
    roads = np.where(problem.travel_slots == NEVER, NO_ROAD, problem.travel_slots)
    gap: Whole = roads.min(axis=2).astype(np.int64)
    np.fill_diagonal(gap, 0)
    for node in nodes:
        if node.starts.any():
            a, b = node.way.start, node.way.end
            gap[a, b] = min(gap[a, b], int(node.way.ride_slots[node.starts].min()))
    for via in range(len(gap)):
        gap = np.minimum(gap, gap[:, [via]] + gap[[via], :])
    return gap
