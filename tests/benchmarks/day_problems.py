"""Invented days of any size for the benchmark of the day search.

A day has a base, places about it, loops and one-way legs between them; some legs have a parallel
road (at most one of the two), some are musts, some open only at hours (a ferry, a gate). Rain
passes over: riding and connectors take longer in it and legs are worth less or are no-go. The
rider's own order is a sensible one (always the nearest leg next) with some legs told out of it;
with `rough` it is any order at all, the hardest case for the search.
"""

import json
from math import hypot
from random import Random
from typing import Any

from replanner.planning.problem import DayProblem
from replanner.planning.problem_file import read_problem

HOURS = 15
MINUTES = 5
SLOTS = HOURS * 60 // MINUTES

Spot = tuple[float, float]


def benchmark_day(seed: int, legs: int, *, rough: bool = False) -> DayProblem:
    """Make up a day."""
    return read_problem(benchmark_file(seed, legs, rough=rough))


def benchmark_file(seed: int, legs: int, *, rough: bool = False) -> dict[str, Any]:
    """Make up a day as a file."""
    random = Random(f"day {seed} of {legs}")
    spots = [(random.gauss(0, 22), random.gauss(0, 22)) for _ in range(3 + legs // 2)]
    ways = [_way(random, spots) for _ in range(legs)]
    # The second of each pair is another road between the same places.
    parallel = [[i, i + 1] for i in range(1, legs - 1, 5)]
    for first, second in parallel:
        ways[second] |= {"from": ways[first]["from"], "to": ways[first]["to"]}
    order = list(range(legs)) if rough else _nearest_next(ways, spots)
    if rough:
        random.shuffle(order)
    for _ in range(legs // 6):
        order.insert(random.randrange(legs), order.pop(random.randrange(legs)))
    shower = random.randrange(SLOTS)
    return {
        "format": "replanner-problem-1",
        "slot_minutes": MINUTES,
        "first_slot": "2027-06-14T04:00:00Z",
        "slots": SLOTS,
        "travel_slots": [[_road(a, b, shower) for b in spots] for a in spots],
        "travel_cost_per_slot": MINUTES,
        "wait_cost_per_slot": MINUTES / 10,
        "start": {"place": 0, "earliest": 0, "latest": SLOTS // 4},
        "end": {
            "place": 0,
            "by": SLOTS - 1,
            "dusk": SLOTS * 4 // 5,
            "late_cost_per_slot": 3 * MINUTES,
        },
        "legs": [
            {"id": f"leg{j}", "must": j % 11 == 3, "ways": _both(random, way)}
            for j, way in enumerate(ways)
        ],
        "at_most_one": parallel,
        "before": [[order[0], order[legs // 2]]],
        "own_order": order,
        "order_cost": 4,
    }


def _slots(minutes: float) -> int:
    return max(1, -int(-minutes // MINUTES))


def _road(a: Spot, b: Spot, shower: int) -> int | list[int]:
    if a == b:
        return 0
    minutes = 1.2 * hypot(a[0] - b[0], a[1] - b[1]) + 3
    wet = range(shower, shower + 36)
    return [_slots(minutes * (1.15 if t in wet else 1)) for t in range(SLOTS)]


def _way(random: Random, spots: list[Spot]) -> dict[str, Any]:
    """Make up a leg in one direction: rain in some hours, best at ten o'clock, closed at times."""
    minutes = random.uniform(25, 80)
    worth = random.randint(20, 60) + round(0.7 * minutes)
    rain = random.randrange(SLOTS)
    wet = range(rain, rain + random.choice([0, 12, 24, 48]))
    no_go = wet[: len(wet) // 2] if random.random() < 0.4 else range(0)
    open_ = range(SLOTS)
    if random.random() < 0.2:
        opens = random.randrange(SLOTS // 2)
        open_ = range(opens, opens + random.choice([36, 60, 96]))
    start = random.randrange(len(spots))
    nearest = sorted(
        range(len(spots)),
        key=lambda i: hypot(spots[i][0] - spots[start][0], spots[i][1] - spots[start][1]),
    )
    return {
        "from": start,
        "to": random.choice(nearest[:4]),
        "ride_slots": [_slots(minutes * (1.2 if t in wet else 1)) for t in range(SLOTS)],
        "worth": [
            None if t in no_go or t not in open_ else worth - 30 * (t in wet) - abs(t - 72) // 24
            for t in range(SLOTS)
        ],
    }


def _both(random: Random, way: dict[str, Any]) -> list[dict[str, Any]]:
    """Let most one-way legs be ridden the other way round too."""
    if way["from"] == way["to"] or random.random() < 0.4:
        return [way]
    return [way, way | {"from": way["to"], "to": way["from"]}]


def _nearest_next(ways: list[dict[str, Any]], spots: list[Spot]) -> list[int]:
    here, left, order = spots[0], set(range(len(ways))), []
    while left:
        x, y = here
        away = {
            j: hypot(x - spots[ways[j]["from"]][0], y - spots[ways[j]["from"]][1]) for j in left
        }
        near = min(left, key=lambda j: (away[j], j))
        order.append(near)
        left.remove(near)
        here = spots[ways[near]["to"]]
    return order


def invented_day(seed: int, legs: int, minutes: int) -> DayProblem:
    """Make up a day of loops and one-way legs about a few places, with rain, order and dusk."""
    random = Random(1000 * legs + seed)
    slots = HOURS * 60 // minutes
    spots = [(random.uniform(0, 60), random.uniform(0, 60)) for _ in range(2 + legs // 2)]

    def slots_for(minutes_taken: float) -> int:
        return -int(-minutes_taken // minutes)

    def road(a: int, b: int) -> int:
        (ax, ay), (bx, by) = spots[a], spots[b]
        return 0 if a == b else max(1, slots_for(abs(ax - bx) + abs(ay - by)))

    def way() -> dict[str, Any]:
        worth, rain = random.randint(20, 120), random.randrange(slots)
        hours_wet = random.choice([0, 2, 4]) * 60 // minutes
        wet = range(rain, rain + hours_wet)
        no_go = set(random.choice([[], list(wet)[: len(wet) // 2]]))
        return {
            "from": random.randrange(len(spots)),
            "to": random.randrange(len(spots)),
            "ride_slots": [slots_for(25 + worth / 3) + (t in wet) for t in range(slots)],
            "worth": [None if t in no_go else worth - 25 * (t in wet) for t in range(slots)],
        }

    indices = list(range(legs))
    file = {
        "format": "replanner-problem-1",
        "slot_minutes": minutes,
        "first_slot": "2027-01-14T06:00:00Z",
        "slots": slots,
        "travel_slots": [[road(a, b) for b in range(len(spots))] for a in range(len(spots))],
        "travel_cost_per_slot": minutes,
        "wait_cost_per_slot": minutes / 10,
        "start": {"place": 0, "earliest": 0, "latest": slots // 4},
        "end": {
            "place": 0,
            "by": slots - 1,
            "dusk": slots * 3 // 4,
            "late_cost_per_slot": 3 * minutes,
        },
        "legs": [
            {"id": f"leg{j}", "must": j == 0, "ways": [way() for _ in range(1 + j % 2)]}
            for j in indices
        ],
        "at_most_one": [indices[1:3]],
        "before": [[3, 4]],
        "own_order": random.sample(indices, legs),
        "order_cost": 4,
    }
    return read_problem(json.dumps(file))
