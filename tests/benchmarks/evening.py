"""Time one evening of the demo, step by step; a script, not a test.

    python tests/benchmarks/evening.py [YYYY-MM-DD]

Each step is the best of some runs, in processor seconds of this process (the invented service runs
in it too). Machines differ: the limits are told in turns of a fixed piece of numpy work that is
timed in the same run, and a ratio above 1 is over its limit; the exit status is 1 then.

Starting is told first, as a shell sees it: whole fresh processes, the best of some runs, on the
clock on the wall and without a limit, for it hangs on the disk and on what else the machine does.
"""

import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path
from time import perf_counter, process_time
from typing import TypeVar

import numpy as np

from replanner.advice.assemble import Setting
from replanner.hazards.assess import assess_day
from replanner.hazards.party import party_of
from replanner.planning.build import build_day
from replanner.planning.day_clock import day_clock
from replanner.planning.day_search import DaySearch
from replanner.planning.own_run import best_plan, own_run
from replanner.planning.sharing import share_legs
from replanner.service.evening import SharedDay, days_to_weigh, explain, window_of
from replanner.trip.connectors import connect, day_places
from replanner.trip.edits import Demands
from replanner.trip.stretches import sample_points
from replanner.weather.daylight import daylight
from replanner.weather.hourly import hours_of
from replanner.weather.members import neighbours
from replanner.wiring import House, demo_house

RUNS = 3
# In turns of the fixed work: twice and more of what was measured when this was written.
LIMITS = {
    "fetch": 20.0,
    "members": 1.5,
    "assess": 20.0,
    "build": 4.0,
    "search": 1.5,
    "share": 10.0,
    "explain": 7.0,
}

# What a fresh process is given to do; the first two are what any program of this kind pays.
STARTS = {
    "nothing": "pass",
    "numpy": "import numpy",
    "replanner": "import replanner",
    "replanner.cli": "import replanner.cli",
    "--help": "from replanner.cli import main; main(['--help'])",
    "demo": "from replanner.cli import main; main(['demo'])",
}

T = TypeVar("T")


def timed(step: Callable[[], T]) -> tuple[float, T]:
    """Return the least processor seconds a step takes, and what it gives."""
    best, found = float("inf"), None
    for _ in range(RUNS):
        begin = process_time()
        found = step()
        best = min(best, process_time() - begin)
    if found is None:
        raise AssertionError("a step of the corridor gave nothing")
    return best, found


def start_seconds(code: str, bytecode: Path) -> float:
    """Return the least wall seconds a fresh process takes, from its start to its end.

    Bytecode is kept in a folder, as an installed copy keeps it; a first run, not timed, makes it.
    """
    environment = {**os.environ, "PYTHONPYCACHEPREFIX": str(bytecode)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    seconds = []
    for _ in range(RUNS + 1):
        begin = perf_counter()
        subprocess.run(  # noqa: S603 - our own words
            [sys.executable, "-c", code],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            env=environment,
            check=True,
        )
        seconds.append(perf_counter() - begin)
    return min(seconds[1:])


def print_starts() -> None:
    """Print what starting costs beside a bare Python and one with numpy."""
    sys.stdout.write("fresh process  seconds\n")
    with tempfile.TemporaryDirectory() as bytecode:
        for name, code in STARTS.items():
            sys.stdout.write(f"{name:14} {start_seconds(code, Path(bytecode)):7.2f}\n")


def fixed_work() -> float:
    """Do many small numpy calls and some large ones, as an evening does."""
    small, large = np.linspace(0.0, 1.0, 200), np.linspace(0.0, 1.0, 20_000)
    total = 0.0
    for _ in range(1000):
        total += float(np.interp(np.where(small > 0.5, small, 0.5), [0, 1], [0, 2]).max())
    for _ in range(20):
        total += float(np.arctan2(np.sin(large), np.cos(large)).max())
    return total


def steps_of(house: House, when: date) -> dict[str, float]:
    """Walk the corridor of `service.evening` and return the seconds of each step."""
    tour, means, now, demands = house.tour, house.means, house.now(), Demands()
    day = tour.day(when)
    days = days_to_weigh(tour, day, demands)
    party = party_of(tour.riders, means.limits)
    seconds: dict[str, float] = {}

    points, window = sample_points(tour, days), window_of(tour, days)
    seconds["fetch"], forecast = timed(partial(means.forecasts.hourly, points, window))
    hours = {point: hours_of(table) for point, table in forecast.tables.items()}

    built = []
    for each in days:
        lights = [daylight(tour.places[at].point, each.date, tour.zone)
                  for at in (each.start, each.end)]  # fmt: skip
        clock = day_clock(tour, each, *lights, means.rules, demands, now)
        lead = max((clock.first_slot - now).total_seconds() / 3600.0, 0.0)
        spent, members = timed(lambda lead=lead: {p: neighbours(h, lead) for p, h in hours.items()})
        seconds["members"] = seconds.get("members", 0.0) + spent
        spent, assessed = timed(
            partial(assess_day, tour, each, clock.instants, members, party, means.limits)
        )
        seconds["assess"] = seconds.get("assess", 0.0) + spent
        roads = connect(tour, day_places(tour, each), means.speeds, means.detour_factor)
        spent, one = timed(
            partial(
                build_day,
                tour,
                each,
                assessed,
                *lights,
                means.rules,
                demands,
                roads,
                earliest_now=now,
            )
        )
        seconds["build"] = seconds.get("build", 0.0) + spent
        built.append(one)

    seconds["search"], _ = timed(lambda: best_plan(built[0], DaySearch(built[0].problem)))
    seconds["share"], _ = timed(lambda: share_legs(built))
    setting = Setting(made_at=now, language=means.language, origin=forecast.origin)
    shared = SharedDay(built=built[0], demands=demands, own=own_run(built[0]))
    seconds["explain"], _ = timed(lambda: explain(shared, setting))
    return seconds


def main() -> None:
    """Print the seconds of each step, in turns of the fixed work, against its limit."""
    when = date.fromisoformat(sys.argv[1]) if len(sys.argv) > 1 else date(2027, 4, 2)
    print_starts()
    unit, _ = timed(fixed_work)
    with (
        tempfile.TemporaryDirectory() as folder,
        demo_house(Path(folder) / "demo.sqlite", when) as house,
    ):
        seconds = steps_of(house, when)
    sys.stdout.write(f"one turn of the fixed work: {1000 * unit:.1f} ms\n")
    sys.stdout.write("step         seconds   turns   limit   ratio\n")
    ratios = []
    for step, spent in seconds.items():
        ratios.append(spent / unit / LIMITS[step])
        sys.stdout.write(
            f"{step:10} {spent:9.3f} {spent / unit:7.1f} {LIMITS[step]:7.1f} {ratios[-1]:7.2f}\n"
        )
    sys.stdout.write(f"all        {sum(seconds.values()):9.3f}\n")
    sys.exit(1 if max(ratios) > 1.0 else 0)


if __name__ == "__main__":
    main()
