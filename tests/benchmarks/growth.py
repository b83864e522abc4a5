"""How time and memory grow with legs, slots and members, as a table and a picture.

    python -m tests.benchmarks.growth [--days N] [--picture FILE.png]

A script, not a test. Seeded days (`day_problems`), each row in a fresh process of its own:

- legs: the proven day search at 5-minute slots (`benchmark_day`);
- slots: the proven day search of 12 and 16 legs at slots of 10, 5 and 2 minutes (`invented_day`);
- asked: the search, then six legs one by one forced and, but for musts, left out: from the second
  question on the table of a day is kept if it fits (`day_solver`); a third of the days;
- members: assessing and building a day of the demo with 1, 11 and 50 members (the neighbours of one
  forecast at one to five days ahead, so that they differ); there are five days.

Told are the median and the most of the processor milliseconds of a day, how many times that of the
row before the median is, and the most memory a process had, all it loads included (`ru_maxrss`).
Searches run by the vectorised loops and, where numba is installed, by the compiled ones, made ready
before. The row "load" solves nothing. Memory above 300 MB is marked, and the exit status is 1 then.

The picture has time above and memory below, both axes in powers; it is drawn in black on white.
"""

import json
import statistics
import subprocess
import sys
import tempfile
import time
from argparse import ArgumentParser
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from datetime import date
from functools import partial
from pathlib import Path
from unittest import mock

import numpy as np

from replanner.planning import fast, warm_up
from replanner.planning.day_search import DaySearch, solve
from replanner.planning.problem import DayProblem
from replanner.weather.hourly import PointHours
from replanner.weather.members import neighbours
from tests.benchmarks.day_problems import HOURS, benchmark_day, invented_day

MOST_MB = 300.0
LEGS = (8, 12, 16, 20, 24)
ASKED_LEGS = (8, 12, 14, 16)
ASKED_ABOUT = 6
SLOT_MINUTES = (10, 5, 2)
SLOTS_WITH_LEGS = (12, 16)
MEMBERS = (1, 11, 50)
DEMO_DAY = date(2027, 4, 2)


@dataclass(frozen=True, slots=True)
class Series:
    """What is varied: its name, how it is said, and the values it takes."""

    axis: str
    name: str
    at: tuple[int, ...]
    of: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Measured:
    """Processor milliseconds of each day, and the most memory of the process. [ms] [MB]"""

    milliseconds: list[float]
    megabytes: float


def series() -> Iterator[Series]:
    """Give all rows: the words of each tell its process what to do."""
    loops = ("vectorised", "compiled") if fast.installed() else ("vectorised",)
    for loop in loops:
        yield Series("load", loop, (0,), (("load", loop),))
        yield Series("legs", loop, LEGS, tuple(("legs", loop, str(legs)) for legs in LEGS))
        asked = tuple(("asked", loop, str(legs)) for legs in ASKED_LEGS)
        yield Series("asked", loop, ASKED_LEGS, asked)
        for legs in SLOTS_WITH_LEGS:
            yield Series(
                "slots",
                f"{loop}, {legs} legs",
                tuple(HOURS * 60 // minutes for minutes in SLOT_MINUTES),
                tuple(("slots", loop, str(legs), str(minutes)) for minutes in SLOT_MINUTES),
            )
    members = tuple(("members", str(count)) for count in MEMBERS)
    yield Series("members", "assessing, building", MEMBERS, members)


def measured(words: tuple[str, ...], days: int) -> Measured:
    """Measure a row in a fresh process.

    A process begun counts the memory of the one that began it: this one loads no more than it does.
    """
    done = subprocess.run(  # noqa: S603 - our own words
        [sys.executable, "-m", "tests.benchmarks.growth", "--days", str(days), "--one", *words],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        cwd=Path(__file__).parents[2],
        check=True,
    )
    return Measured(**json.loads(done.stdout))


def in_this_process(words: list[str], days: int) -> Measured:
    """Do what a row's words say, for so many days."""
    what, *rest = words
    if what == "members":
        steps = list(days_of_members(int(rest[0]), days))
        return Measured([milliseconds(step) for step in steps], most_megabytes())
    compiled = rest[0] == "compiled"
    if compiled:
        warm_up.begin(most_wait_s=300)
    with (
        mock.patch.object(fast, "available", return_value=compiled),
        mock.patch.object(warm_up, "begin"),
    ):
        figures = list(map(int, rest[1:]))
        took = []
        if what == "legs":
            took = [search_of(benchmark_day(seed, figures[0])) for seed in range(days)]
        elif what == "asked":
            few = range(max(1, days // 3))
            took = [questions_of(benchmark_day(seed, figures[0])) for seed in few]
        elif what == "slots":
            took = [search_of(invented_day(seed, *figures)) for seed in range(days)]
    return Measured(took, most_megabytes())


def search_of(problem: DayProblem) -> float:
    """Time one search to its proof. [ms]"""

    def search() -> None:
        if not solve(problem).proven:
            raise AssertionError("a search without time limit should be proven")

    return milliseconds(search)


def questions_of(problem: DayProblem) -> float:
    """Time a search and the questions after it. [ms]"""

    def ask() -> None:
        search = DaySearch(problem)
        search.best()
        for leg in range(ASKED_ABOUT):
            search.best_with(frozenset({leg}))
            if not problem.legs[leg].must:
                search.best_without(frozenset({leg}))

    return milliseconds(ask)


def milliseconds(step: Callable[[], object]) -> float:
    """Return the processor milliseconds a step takes."""
    begun = time.process_time()
    step()
    return 1e3 * (time.process_time() - begun)


def most_megabytes() -> float:
    """Return the most memory this process had."""
    import resource  # noqa: PLC0415 - not on every system

    unit = 1.0 if sys.platform == "darwin" else 1024.0  # getrusage(2): bytes there, KB elsewhere
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e6


def some_members(hours: PointHours, count: int) -> PointHours:
    """Return one forecast as so many members."""
    ahead = [neighbours(hours, 24.0 * days) for days in range(1, 6)]
    columns = {
        name: np.concatenate([each.columns[name] for each in ahead])[:count]
        for name in hours.columns
    }
    return PointHours(hours.time, columns)


def days_of_members(count: int, days: int) -> Iterator[Callable[[], object]]:
    """Give the assessing and building of some days of the demo, its weather fetched before."""
    # Only these rows need the demo: a search's memory is told without it.
    from replanner.hazards.assess import assess_day  # noqa: PLC0415
    from replanner.hazards.party import party_of  # noqa: PLC0415
    from replanner.planning.build import build_day  # noqa: PLC0415
    from replanner.planning.day_clock import day_clock  # noqa: PLC0415
    from replanner.service.evening import window_of  # noqa: PLC0415
    from replanner.trip.connectors import connect, day_places  # noqa: PLC0415
    from replanner.trip.edits import Demands  # noqa: PLC0415
    from replanner.trip.stretches import sample_points  # noqa: PLC0415
    from replanner.weather.daylight import daylight  # noqa: PLC0415
    from replanner.weather.hourly import hours_of  # noqa: PLC0415
    from replanner.wiring import demo_house  # noqa: PLC0415

    with (
        tempfile.TemporaryDirectory() as folder,
        demo_house(Path(folder) / "demo.sqlite", DEMO_DAY) as house,
    ):
        tour, means, now = house.tour, house.means, house.now()
        chosen = [day for day in tour.days if day.date >= DEMO_DAY][:days]
        forecast = means.forecasts.hourly(sample_points(tour, chosen), window_of(tour, chosen))
    members = {
        point: some_members(hours_of(table), count) for point, table in forecast.tables.items()
    }
    party = party_of(tour.riders, means.limits)
    for day in chosen:
        lights = (
            daylight(tour.places[day.start].point, day.date, tour.zone),
            daylight(tour.places[day.end].point, day.date, tour.zone),
        )
        clock = day_clock(tour, day, *lights, means.rules, Demands(), now)
        roads = connect(tour, day_places(tour, day), means.speeds, means.detour_factor)
        assess = partial(assess_day, tour, day, clock.instants, members, party, means.limits)

        build = partial(build_day, tour, day, earliest_now=now)
        given = *lights, means.rules, Demands(), roads
        yield partial(_assess_and_build, assess, build, given)


def _assess_and_build(
    assess: Callable[[], object], build: Callable[..., object], given: tuple[object, ...]
) -> object:
    return build(assess(), *given)


def measured_rows(each: Series, days: int) -> list[Measured]:
    """Measure and print the rows of one series."""
    rows: list[Measured] = []
    for at, words in zip(each.at, each.of, strict=True):
        row = measured(words, days)
        line = f"{each.axis:8} {each.name:20} {at:5} "
        if row.milliseconds:
            median = statistics.median(row.milliseconds)
            line += f"{median:8.1f} {max(row.milliseconds):8.1f} "
            line += f"{median / statistics.median(rows[-1].milliseconds):6.1f}" if rows else " " * 6
        else:
            line += " " * 24
        marked = "  above the limit" if row.megabytes > MOST_MB else ""
        sys.stdout.write(f"{line} {row.megabytes:6.0f}{marked}\n")
        sys.stdout.flush()
        rows.append(row)
    return rows


def main() -> None:
    """Print the table and draw the picture; with `--one`, measure one row for another process."""
    parser = ArgumentParser()
    parser.add_argument("--days", type=int, default=9)
    parser.add_argument("--picture", type=Path)
    parser.add_argument("--one", nargs="+")
    asked = parser.parse_args()
    if asked.one:
        sys.stdout.write(json.dumps(asdict(in_this_process(asked.one, asked.days))))
        return
    sys.stdout.write(
        f"{asked.days} days a row (members: {min(asked.days, 5)}); processor ms of a day; "
        "MB of a process\n"
        "varied   how                     at       ms     most  times     MB\n"
    )
    table = [(each, measured_rows(each, asked.days)) for each in series()]
    if asked.picture:
        from tests.benchmarks.growth_picture import Curve, picture  # noqa: PLC0415 - loads Pillow

        curves = [
            Curve(
                axis=each.axis,
                name=each.name,
                at=each.at,
                milliseconds=tuple(statistics.median(row.milliseconds) for row in rows),
                megabytes=tuple(row.megabytes for row in rows),
            )
            for each, rows in table
            if each.axis != "load"
        ]
        asked.picture.write_bytes(picture(curves, MOST_MB))
    sys.exit(1 if any(row.megabytes > MOST_MB for _, rows in table for row in rows) else 0)


if __name__ == "__main__":
    main()
