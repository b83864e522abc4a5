"""Published routing problems as day problems: the adapter of `test_routing_optima`.

A customer is a leg from a place to itself that must be ridden; its window is the slots it may
start in, its service the slots it takes. Values are -cost.
"""

import json
from datetime import UTC, datetime
from itertools import permutations
from math import ceil, floor, hypot
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from replanner.planning.problem import NEVER, DayProblem, LegWay, ProblemLeg

Window = tuple[int, int]
Table = NDArray[np.int64]

NO_ROAD = 9_999_999
"""Of `ascheuer`, besides -1."""

ROUTING = Path(__file__).parents[1] / "data" / "routing"

SLOTS_THAT_FIND_IT = {"15_70_A_A2": 5.0, "15_70_A_A3": 3.0, "15_80_B_A1": 5.0}
SLOTS_THAT_FIND_IT |= {"15_90_B_B1": 1.7, "15_98_B_B1": 1.7}
"""Slots, by instance and else 2, in which the best tour is the best of the rounded day of
`TimeDependent` as well; found by trying."""

NOON = datetime(2027, 1, 14, 12, tzinfo=UTC)


def _day(
    travel: Table,
    costs: Table,
    customers: list[tuple[int, Window, int]],
    *,
    latest: int,
    end: int,
    late: NDArray[np.float64],
) -> DayProblem:
    """Made directly: a problem file holds 2000 slots at most, some of these need 4741."""
    slots = len(late)
    now = np.arange(slots)
    shape = (*costs.shape[:2], slots)
    return DayProblem(
        slot_minutes=1,
        first_slot=NOON,
        slots=slots,
        travel_slots=np.broadcast_to(travel if travel.ndim == 3 else travel[..., None], shape),
        travel_cost=np.broadcast_to(costs[..., None], shape).astype(np.float64),
        start_place=0,
        earliest=0,
        latest=latest,
        end_place=end,
        by=slots - 1,
        late=late,
        legs=tuple(
            ProblemLeg(
                id=f"customer {c}",
                must=True,
                ways=(
                    LegWay(
                        start=c,
                        end=c,
                        ride_slots=np.full(slots, service),
                        worth=np.where((first <= now) & (now <= last), 0.0, -np.inf),
                    ),
                ),
            )
            for c, (first, last), service in customers
        ),
    )


def gendreau(path: Path) -> DayProblem:
    """A travelling salesman with time windows, least travel; distances cut to whole numbers."""
    lines = [line.split() for line in path.read_text(encoding="ascii").split("\n")]
    rows = [[int(float(x)) for x in line] for line in lines if len(line) == 7 and line[0].isdigit()]
    rows = [row for row in rows if row[0] != 999]  # the file's end mark
    count = len(rows)
    travel = np.array([[int(hypot(a[1] - b[1], a[2] - b[2])) for b in rows] for a in rows])
    for via in range(count):
        travel = np.minimum(travel, travel[:, [via]] + travel[[via]])
    customers = [(c, (rows[c][4], rows[c][5]), 0) for c in range(1, count)]
    last = rows[0][5]
    return _day(travel, travel, customers, latest=last, end=0, late=np.zeros(last + 1))


def ascheuer(path: Path) -> tuple[DayProblem, int]:
    """A stacker crane's path with time windows, and its processing times together.

    Published values are travel and processing together. The last node is where the path ends, at
    no cost and at any time.
    """
    lines = [line.split() for line in path.read_text(encoding="ascii").splitlines()]
    begin = lines.index(["TIME_WINDOW_SECTION"]) + 1
    middle = lines.index(["EDGE_WEIGHT_SECTION"])
    nodes = [
        [int(x) for x in " ".join(line).translate(str.maketrans(":[],", "    ")).split()]
        for line in lines[begin:middle]
    ]
    count = len(nodes)
    body = [x for line in lines[middle + 1 :] for x in line]
    weights = np.array(body[: count * count], dtype=np.int64).reshape(count, count)
    weights[weights >= NO_ROAD] = NEVER
    customers = [(c, (nodes[c][2], nodes[c][3]), nodes[c][1]) for c in range(1, count - 1)]
    finish = max(last + service for _, (_, last), service in customers)
    whole = _day(weights, weights, customers, latest=0, end=count - 1, late=np.zeros(finish + 1))
    return whole, sum(service for _, _, service in customers)


class TimeDependent:
    """A tour that leaves at time 0, whose speeds change with the hour; the end is the depot.

    Cordeau, Ghiani and Guerriero 2014: a road keeps its distance, its speed changes at given times
    also under way, so who leaves later arrives later.
    """

    def __init__(self, path: Path) -> None:
        file = json.loads(path.read_text(encoding="utf-8"))
        self.distances: NDArray[np.float64] = np.array(file["distances"])
        self.clusters = file["clusters"]
        self.speeds = file["cluster_speeds"]
        self.zones = file["speed_zones"]

    def arrival(self, a: int, b: int, leaving: float) -> float:
        """When somebody who leaves a at this time is at b."""
        left, now = float(self.distances[a, b]), leaving
        for zone, (_, until) in enumerate(self.zones):
            speed = self.speeds[self.clusters[a][b]][zone]
            if now < until:
                if left <= (until - now) * speed:
                    return now + left / speed
                left -= (until - now) * speed
                now = until
        return now + left / speed

    def makespan(self, order: tuple[int, ...]) -> float:
        """When a tour in this order is back."""
        here, now = 0, 0.0
        for there in (*order, len(self.distances) - 1):
            now = self.arrival(here, there, now)
            here = there
        return now

    def day(self, slot: float, last: float, *, up: bool) -> DayProblem:
        """Arrivals rounded up to slots (all tours can be ridden) or down (a bound on all)."""
        count, slots = len(self.distances), ceil(last / slot) + 1
        cut = ceil if up else floor
        travel = np.zeros((count, count, slots), dtype=np.int64)
        for a, b in permutations(range(count), 2):
            arrivals = [cut(self.arrival(a, b, t * slot) / slot) for t in range(slots)]
            travel[a, b] = np.array(arrivals) - np.arange(slots)
        customers = [(c, (0, slots - 1), 0) for c in range(1, count - 1)]
        free = np.zeros((count, count), dtype=np.int64)
        late = np.arange(slots, dtype=np.float64)
        return _day(travel, free, customers, latest=0, end=count - 1, late=late)
