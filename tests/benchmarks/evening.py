"""Time the demo's evenings, step by step; a script, not a test.

    python -m tests.benchmarks.evening [--members 50] [YYYY-MM-DD ...]

Starting is told first, as a shell sees it: whole fresh processes, the best of some runs, on the
clock on the wall and without a limit, for it hangs on the disk and on what else the machine does.

Then a line for each evening: the least processor seconds of each step of `plan_day`, of some whole
runs (the invented service runs in this process too). "Answer" is what the decision takes once the
tables of the days are built: the dealing between the days, the optimum, what it would cost to
force and to drop each leg, plan B, the reasons, and the replay in all members; it should be under
0.3 s. Machines differ: all is told in turns of a fixed piece of numpy work as well, timed in the
same run. A forecast becomes eleven members here; `--members` takes as many, of wider and wider
neighbourhoods.
"""

import os
import subprocess
import sys
import tempfile
from argparse import ArgumentParser
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import date
from functools import wraps
from pathlib import Path
from time import perf_counter, process_time
from typing import Any
from unittest import mock

import numpy as np

from replanner.service import evening, planner
from replanner.trip.edits import Demands
from replanner.weather.hourly import PointHours
from replanner.weather.members import neighbours
from replanner.wiring import demo_house
from tests.benchmarks.fixed_work import turn_seconds

RUNS = 3
ANSWER_SECONDS = 0.3
STEPS = {
    "fetch": ("weather_for", "hours_of"),
    "members": ("neighbours",),
    "assess": ("assess_day", "road_weather"),
    "build": ("build_day", "rested"),
    "deal": ("share_legs",),
    "explain": ("own_run", "search_day", "tell_day"),
}
ANSWER = ("deal", "explain")
DAYS = tuple(date(2027, 4, day) for day in range(1, 6))

# What a fresh process is given to do; the first two are what any program of this kind pays.
STARTS = {
    "nothing": "pass",
    "numpy": "import numpy",
    "replanner": "import replanner",
    "replanner.cli": "import replanner.cli",
    "--help": "from replanner.cli import main; main(['--help'])",
    "demo": "from replanner.cli import main; main(['demo'])",
}


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


def members_of(hours: PointHours, lead_hours: float, *, most: int) -> PointHours:
    """Return a forecast as so many members: neighbourhoods of days further and further ahead."""
    columns: dict[str, list[np.ndarray[Any, Any]]] = defaultdict(list)
    for day in range(-(-most // 10)):
        for name, column in neighbours(hours, lead_hours + 12.0 * day).columns.items():
            columns[name].append(column)
    return PointHours(
        hours.time, {name: np.concatenate(rows)[:most] for name, rows in columns.items()}
    )


@contextmanager
def steps_timed(spent: dict[str, float]) -> Iterator[None]:
    """Add up the processor seconds of each step."""

    def timed(step: str, work: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(work)
        def run(*args: object, **kwargs: object) -> object:
            begun = process_time()
            try:
                return work(*args, **kwargs)
            finally:
                spent[step] += process_time() - begun

        return run

    with ExitStack() as patches:
        for step, names in STEPS.items():
            for name in names:
                for room in (evening, planner):
                    if hasattr(room, name):
                        work = timed(step, getattr(room, name))
                        patches.enter_context(mock.patch.object(room, name, work))
        yield


def evening_before(day: date) -> dict[str, float]:
    """Plan a day of the demo the evening before; return the least seconds of each step."""
    least: dict[str, float] = dict.fromkeys((*STEPS, "answer", "all"), float("inf"))
    with (
        tempfile.TemporaryDirectory() as folder,
        demo_house(Path(folder) / "demo.sqlite", day) as house,
    ):
        for _ in range(RUNS):
            spent = dict.fromkeys(STEPS, 0.0)
            begun = process_time()
            with steps_timed(spent):
                evening.plan_day(
                    house.tour, house.tour.day(day), house.now(), Demands(), house.means
                )
            spent["all"] = process_time() - begun
            spent["answer"] = sum(spent[step] for step in ANSWER)
            least = {name: min(seconds, spent[name]) for name, seconds in least.items()}
    return least


def main() -> None:
    """Print the table."""
    parser = ArgumentParser()
    parser.add_argument("days", nargs="*", type=date.fromisoformat, default=DAYS)
    parser.add_argument("--members", type=int)
    asked = parser.parse_args()
    print_starts()
    with ExitStack() as patches:
        if asked.members is not None:

            def many(hours: PointHours, lead_hours: float) -> PointHours:
                return members_of(hours, lead_hours, most=asked.members)

            patches.enter_context(mock.patch.object(planner, "neighbours", many))
        found = {day: evening_before(day) for day in asked.days}
    unit = turn_seconds()
    sys.stdout.write(f"one turn of the fixed work: {1000 * unit:.1f} ms\n")
    names = (*STEPS, "answer", "all")
    sys.stdout.write("day        " + "".join(f"{name:>9}" for name in names) + "  all, turns\n")
    for day, spent in found.items():
        told = "".join(f"{spent[name]:9.3f}" for name in names)
        over = " over" if spent["answer"] > ANSWER_SECONDS else ""
        sys.stdout.write(f"{day} {told} {spent['all'] / unit:11.1f}{over}\n")


if __name__ == "__main__":
    main()
