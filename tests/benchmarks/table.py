"""Time the building of leg tables: severity and minutes of each leg, start and member.

    python -m tests.benchmarks.table [--members 50] [--runs 5]

By the processor, the best of some runs; the first of them, for which nothing is known yet of the
sun at any place, is told beside it. Reading the tables is not counted, all else is.

- "both ways" (`table_tours`): 20 legs, two of them stops, every 5 minutes from 06:00 to 22:00 of 5
  days (965 starts), 50 members, hourly tables with gaps; each leg in each way it may be ridden,
  38 in all. "One way" is the same with every leg ridden forward only.
- "evening": the first whole day of the demo tour as it is planned the evening before, with the
  neighbours of its forecast for members; making these is counted.

The peer is the same question asked of one start of one member at a time (`assess_leg`), timed on a
sample and reckoned up; it has to give the same answers. Over a limit the exit status is 1.
"""

import sys
import tempfile
from argparse import ArgumentParser
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, time, timedelta
from pathlib import Path
from time import process_time

import numpy as np

from replanner.clock import local_instant
from replanner.files.limits_toml import read_limits
from replanner.files.resources import config_file
from replanner.hazards.assess import LegAssessment, assess_day, assess_leg
from replanner.hazards.limits import Limits
from replanner.hazards.model import Instants, Party
from replanner.hazards.party import party_of
from replanner.planning.day_clock import day_clock
from replanner.service.evening import window_of
from replanner.trip.edits import Demands
from replanner.trip.model import LegId, Tour, Way
from replanner.trip.stretches import sample_points
from replanner.weather.daylight import daylight
from replanner.weather.hourly import PointHours, PointId, hours_of
from replanner.weather.members import neighbours
from replanner.wiring import House, demo_house
from tests.benchmarks import table_tours

SEED = 1
LIMIT_MS = {"both ways": 300.0, "one way": 300.0, "evening": 60.0}
SAMPLE = 6  # starts and members of each leg asked one at a time
DEMO_DAY = date(2027, 4, 2)

Tables = Mapping[PointId, PointHours]
Assessed = Mapping[tuple[LegId, Way], LegAssessment]


@dataclass(frozen=True, kw_only=True)
class Case:
    """What is asked: the legs of a tour's first day at some starts."""

    tour: Tour
    starts: Instants
    tables: Callable[[], Tables]
    party: Party
    limits: Limits

    def build(self) -> Assessed:
        """Build the table."""
        day = self.tour.days[0]
        return assess_day(self.tour, day, self.starts, self.tables(), self.party, self.limits)


def large(members: int, *, one_way: bool) -> Case:
    """Return the large case."""
    tour = table_tours.tour_of(SEED)
    tables = table_tours.hours_of(tour, SEED, members)
    if one_way:
        legs = {name: replace(leg, one_way=True) for name, leg in tour.legs.items()}
        tour = replace(tour, legs=legs)
    limits = read_limits(config_file("limits.toml"))
    return Case(
        tour=tour,
        starts=table_tours.starts_of(),
        tables=lambda: tables,
        party=party_of(tour.riders, limits),
        limits=limits,
    )


def evening(house: House) -> Case:
    """Return a day of the demo as it is planned the evening before."""
    tour, means = house.tour, house.means
    day = tour.day(DEMO_DAY)
    now = local_instant(DEMO_DAY - timedelta(days=1), time(19, 30), tour.zone)
    forecast = means.forecasts.hourly(sample_points(tour, [day]), window_of(tour, [day]))
    hours = {point: hours_of(table) for point, table in forecast.tables.items()}
    begin, end = (
        daylight(tour.places[at].point, day.date, tour.zone) for at in (day.start, day.end)
    )
    clock = day_clock(tour, day, begin, end, means.rules, Demands(), now)
    lead = (clock.first_slot - now).total_seconds() / 3600.0
    return Case(
        tour=replace(tour, days=(day,)),
        starts=clock.instants,
        tables=lambda: {point: neighbours(one, lead) for point, one in hours.items()},
        party=party_of(tour.riders, means.limits),
        limits=means.limits,
    )


def milliseconds(case: Case, runs: int) -> tuple[float, float, Assessed]:
    """Return the least and the first of some runs, and what they gave."""
    taken: list[float] = []
    found: Assessed = {}
    for _ in range(runs):
        begin = process_time()
        found = case.build()
        taken.append(1e3 * (process_time() - begin))
    return min(taken), taken[0], found


def peer_milliseconds(case: Case, found: Assessed) -> float:
    """Return what asking for each start of each member alone would take, by a sample.

    Legs with a stand-in are left out of the sample, which would have to be asked about first.
    """
    rng = np.random.default_rng(SEED)
    tables = case.tables()
    members = max(table.columns["wind_speed"].shape[0] for table in tables.values())
    taken: list[float] = []
    for (leg_id, way), together in found.items():
        leg = case.tour.legs[leg_id]
        if leg.stand_in is not None:
            continue
        for _ in range(SAMPLE):
            member, start = int(rng.integers(members)), int(rng.integers(case.starts.size))
            alone = {
                point: PointHours(
                    table.time, {name: values[member] for name, values in table.columns.items()}
                )
                for point, table in tables.items()
            }
            begin = process_time()
            apart = assess_leg(
                case.tour, leg, way, case.starts[start : start + 1], alone, case.party, case.limits
            )
            taken.append(1e3 * (process_time() - begin))
            for name in ("piece_minutes", "piece_severity"):
                alone_found, found_together = getattr(apart, name), getattr(together, name)
                np.testing.assert_allclose(
                    alone_found[:, 0], found_together[:, member, start], atol=1e-9
                )
    return float(sum(taken) / len(taken) * len(found) * members * case.starts.size)


def row(name: str, case: Case, runs: int) -> tuple[str, float]:
    """Return the line of a case, and its ratio to the limit."""
    best, first, found = milliseconds(case, runs)
    severity = next(iter(found.values())).severity
    ratio = best / LIMIT_MS[name]
    peer = peer_milliseconds(case, found)
    cells = len(found) * severity.size
    return (
        f"{name:10} {len(found):4} {severity.shape[0]:8} {severity.shape[-1]:7} {cells:9} "
        f"{best:7.1f} {first:7.1f} {LIMIT_MS[name]:7.0f} {ratio:6.2f} {peer / best:8.0f}x\n",
        ratio,
    )


def main() -> None:
    """Print the table."""
    parser = ArgumentParser()
    parser.add_argument("--members", type=int, default=table_tours.MEMBERS)
    parser.add_argument("--runs", type=int, default=7)
    asked = parser.parse_args()
    sys.stdout.write(
        "case       ways  members  starts     cells      ms   first   limit  ratio  the peer\n"
    )
    ratios = []
    with (
        tempfile.TemporaryDirectory() as folder,
        demo_house(Path(folder) / "demo.sqlite", DEMO_DAY) as house,
    ):
        cases = {
            "both ways": large(asked.members, one_way=False),
            "one way": large(asked.members, one_way=True),
            "evening": evening(house),
        }
        for name, case in cases.items():
            line, ratio = row(name, case, asked.runs)
            ratios.append(ratio)
            sys.stdout.write(line)
            sys.stdout.flush()
    sys.exit(1 if max(ratios) > 1.0 else 0)


if __name__ == "__main__":
    main()
