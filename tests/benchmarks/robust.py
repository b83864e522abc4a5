"""One robust order of legs beside the plan for the mean member; a script, not a test.

    python tests/benchmarks/robust.py [--days N] [--members N] [--limit S] [legs ...]

The days are invented (`day_problems`), with members that differ in when, how long and whether a
front of rain passes in the hours of riding: in it legs are slower and worth less, and some are
no-go. The plan for the mean member is found as the product does: worths are means over the members,
a start that is no-go in more than a tenth of them is not available, riding times are the cautious
quantile. The robust order (`robust_order`) is the best, with its proof, of half the mean over the
members and half the mean over the worst fifth. Both are then ridden in every member as well as its
weather allows; a leg left out there costs 30 minutes. All these figures are assumptions.

Between them stands what needs no search of its own: the best 60 plans for the mean member, weighed
like the robust order, of which the best is taken.

For each size and over the days: mean, mean of the worst fifth and share of members ridden whole;
processor seconds, median and most; what is gained by the robust aim over the plan for the mean, on
the average day and at most; what is gained (or given up) in the mean and in the worst fifth; how
many days have another order than the plan for the mean. Last, how many days were not proven, and on
how many the best near plan is the best of all.
"""

import statistics
import sys
import time
from argparse import ArgumentParser
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf
from random import Random

import numpy as np

from replanner.planning import fast, warm_up
from replanner.planning.day_search import DaySearch
from replanner.planning.problem import DayProblem, DaySolution, LegWay, Minutes
from replanner.planning.rules import Rules
from tests.benchmarks.day_problems import MINUTES, SLOTS, benchmark_day
from tests.benchmarks.robust_order import Aim, InMembers, RobustSearch, Told

SIZES = (6, 8, 10)
NEAR_PLANS = 60
WET_COSTS = 30.0  # minutes, as in the days themselves
WET_SLOWS = 1.2
NO_GO_SHARE = 0.1
AIM = Aim()


@dataclass(frozen=True, slots=True)
class Front:
    """Rain in one member: the slots it lies over the base, None: it stays away."""

    since: int | None
    slots: int


def members_of(seed: int, legs: int, count: int) -> list[DayProblem]:
    """Make up a day and its weather in each member."""
    day, random = benchmark_day(seed, legs), Random(f"members {seed} of {legs}")
    middle, lasting = random.randrange(SLOTS // 6, SLOTS // 2), random.choice([12, 24, 36])
    sure = random.choice([0.5, 0.8, 1.0])
    apart = random.choice([60, 120, 180]) / MINUTES
    reached_after = [random.randint(-18, 18) for _ in day.legs]
    exposed = [random.random() < 0.4 for _ in day.legs]
    fronts = [
        Front(
            round(random.gauss(middle, apart)) if random.random() < sure else None,
            round(lasting * random.uniform(0.6, 1.4)),
        )
        for _ in range(count)
    ]

    def in_member(front: Front) -> DayProblem:
        legs = tuple(
            replace(leg, must=False, ways=tuple(_wetted(way, front, *where) for way in leg.ways))
            for leg, where in zip(day.legs, zip(reached_after, exposed, strict=True), strict=True)
        )
        return replace(day, legs=legs)

    return [in_member(front) for front in fronts]


def _wetted(way: LegWay, front: Front, reached_after: int, exposed: bool) -> LegWay:
    if front.since is None:
        return way
    slots, since = np.arange(SLOTS), front.since + reached_after
    wet = (slots >= since) & (slots < since + front.slots)
    core = wet & (slots < since + front.slots // 2) & exposed
    slower = np.ceil(way.ride_slots * WET_SLOWS - 1e-9).astype(np.int64)
    return replace(
        way,
        worth=np.where(core, -inf, way.worth - WET_COSTS * wet),
        ride_slots=np.where(wet, slower, way.ride_slots),
    )


def mean_member(members: Sequence[DayProblem]) -> DayProblem:
    """Return the day the product would search: means, a share of no-go, cautious riding."""

    def way(ways: Sequence[LegWay]) -> LegWay:
        worths: Minutes = np.stack([one.worth for one in ways])
        no_go = np.isneginf(worths)
        mean = np.where(no_go, -AIM.left_out_minutes, worths).mean(axis=0)
        riding = np.quantile([one.ride_slots for one in ways], Rules().riding_quantile, axis=0)
        return replace(
            ways[0],
            worth=np.where(no_go.mean(axis=0) > NO_GO_SHARE, -inf, mean),
            ride_slots=np.ceil(np.round(riding, 6)).astype(np.int64),
        )

    legs = tuple(
        replace(same[0], ways=tuple(map(way, zip(*(leg.ways for leg in same), strict=True))))
        for same in zip(*(member.legs for member in members), strict=True)
    )
    return replace(members[0], legs=legs)


@dataclass(frozen=True, slots=True)
class Compared:
    """One day: each way of choosing, ridden in every member, and its processor seconds."""

    ridden: dict[str, InMembers]
    seconds: dict[str, float]
    proven: bool
    gap: float
    looked_at: int


def told(plan: DaySolution) -> list[Told]:
    """Return the order of a plan."""
    return [Told(visit.leg, visit.way) for visit in plan.visits]


def compare(members: list[DayProblem], limit_s: float) -> Compared:
    """Choose for the mean, among its near plans, and the robust order."""
    begun = time.process_time()
    search = DaySearch(mean_member(members))
    plan = search.best().solution
    if plan is None:
        raise AssertionError("a day without musts has a plan")
    mean_s = time.process_time() - begun
    robust = RobustSearch(members, AIM)
    mean = robust.weigh(told(plan))

    begun = time.process_time()
    near = [robust.weigh(told(each)) for each in search.ranked(NEAR_PLANS)]
    nearest = max((mean, *near), key=lambda each: each.weighed)
    near_s = time.process_time() - begun

    begun = time.process_time()
    own = [DaySearch(member).best().solution for member in members]
    known = [nearest.order, *(told(each) for each in own if each is not None)]
    end = time.process_time() + limit_s
    found = robust.best(known, lambda: time.process_time() > end)
    robust_s = time.process_time() - begun
    if found.best is None or found.best.weighed < nearest.weighed:
        raise AssertionError("the robust order is worse than one it was told")
    return Compared(
        {"mean": mean, "near": nearest, "robust": found.best},
        {"mean": mean_s, "near": near_s, "robust": robust_s},
        found.proven,
        found.bound - found.best.weighed,
        found.looked_at,
    )


def print_size(legs: int, days: Sequence[Compared]) -> None:
    """Print the lines of one size."""

    def over_days(name: str) -> tuple[float, float, float]:
        ridden = [day.ridden[name] for day in days]
        return (
            statistics.mean(float(each.values.mean()) for each in ridden),
            statistics.mean(float(AIM.worst(each.values)) for each in ridden),
            statistics.mean(float(each.whole.mean()) for each in ridden),
        )

    mean, worst, _ = over_days("mean")
    for name in ("mean", "near", "robust"):
        here_mean, here_worst, whole = over_days(name)
        seconds = [day.seconds[name] for day in days]
        other = sum(day.ridden[name].order != day.ridden["mean"].order for day in days)
        gains = [day.ridden[name].weighed - day.ridden["mean"].weighed for day in days]
        sys.stdout.write(
            f"{legs:4} {name:7} {here_mean:7.1f} {here_worst:7.1f} {100 * whole:6.0f} "
            f"{statistics.median(seconds):8.2f} {max(seconds):7.2f} "
            f"{statistics.mean(gains):6.1f} {max(gains):6.1f} "
            f"{here_mean - mean:+6.1f} {here_worst - worst:+6.1f} {other:4}/{len(days)}\n"
        )
    open_ = [day.gap for day in days if not day.proven]
    looked_at = statistics.median(day.looked_at for day in days)
    gap = f", at most {max(open_):.1f} min from it" if open_ else ""
    same = sum(day.ridden["near"].weighed == day.ridden["robust"].weighed for day in days)
    sys.stdout.write(
        f"     not proven: {len(open_)}{gap}; beginnings looked at: {looked_at:.0f}; "
        f"the best near plan is as good on {same}/{len(days)}\n"
    )
    sys.stdout.flush()


def main() -> None:
    """Print the table."""
    parser = ArgumentParser()
    parser.add_argument("legs", nargs="*", type=int)
    parser.add_argument("--days", type=int, default=8)
    parser.add_argument("--members", type=int, default=11)
    parser.add_argument("--limit", type=float, default=10.0, help="processor seconds a day")
    asked = parser.parse_args()
    if fast.installed():
        warm_up.begin(most_wait_s=300)
    sys.stdout.write(
        f"{asked.days} days each, {asked.members} members, {SLOTS} slots of {MINUTES} min; minutes "
        "of plain riding\n"
        "legs order      mean   worst  whole  cpu: s    most  gains   most   mean  worst other\n"
    )
    for legs in asked.legs or SIZES:
        print_size(
            legs,
            [
                compare(members_of(seed, legs, asked.members), asked.limit)
                for seed in range(asked.days)
            ],
        )


if __name__ == "__main__":
    main()
