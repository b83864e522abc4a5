"""Optima of whole days proven elsewhere.

Sources: `tests/data/problems/*.json` are ours; the optimum each states was proven by OR-Tools
CP-SAT, those of `full-*` by a second, independent solver too (and by enumeration to 7 legs).
`tests/data/routing/gendreau_n20/*.txt` is a published travelling salesman problem with time windows
(Gendreau, Hertz, Laporte and Stan 1998, as kept in gleraromero/tdtsptw at 9c3856c, MIT), distances
cut to whole numbers and then made to keep the triangle inequality; its least travel cost is the
best known solution stated there, recomputed by an exact dynamic programme of ours.
"""

from itertools import product
from math import hypot
from pathlib import Path

import numpy as np
import pytest

from replanner.planning.day_search import solve
from replanner.planning.problem_file import read_problem, write_problem
from tests.planning.day_problems import worth_of
from tests.planning.test_search import by_two_passes

DATA = Path(__file__).parents[1] / "data"
FILES = sorted((DATA / "problems").glob("*.json"))
SMALLER = [path for path in FILES if path.name[:3] not in {"n14", "n16"}]
LEAST_TRAVEL = {"n20w120.001": 267}
GENDREAU = sorted((DATA / "routing" / "gendreau_n20").glob("*.txt"))


def test_the_files_are_there() -> None:
    assert len(FILES) == 23
    assert len(GENDREAU) == len(LEAST_TRAVEL)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_optimum_is_found_and_proven(path: Path) -> None:
    problem = read_problem(path.read_bytes())
    result = solve(problem)
    assert result.proven
    assert result.solution is not None
    assert result.solution.value == result.bound == problem.optimum
    assert worth_of(problem, result.solution) == problem.optimum


@pytest.mark.parametrize("path", SMALLER, ids=lambda path: path.stem)
def test_two_passes_find_it_too(path: Path) -> None:
    problem = read_problem(path.read_bytes())
    result = by_two_passes(problem).best()
    assert result.proven
    assert result.solution is not None
    assert result.solution.value == result.bound == problem.optimum


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_file_is_written_as_read(path: Path) -> None:
    text = write_problem(read_problem(path.read_bytes()))
    assert write_problem(read_problem(text)) == text


@pytest.mark.parametrize("path", GENDREAU, ids=lambda path: path.stem)
def test_published_time_window_tours_are_solved(path: Path) -> None:
    """Every customer a must of no minutes, its window the slots it may start in."""
    lines = [line.split() for line in path.read_text(encoding="ascii").split("\n")]
    rows = [list(map(int, line)) for line in lines if len(line) == 7 and line[0].isdigit()]
    rows = [row for row in rows if row[0] != 999]  # the file's end mark
    count = len(rows)
    travel = [[int(hypot(a[1] - b[1], a[2] - b[2])) for b in rows] for a in rows]
    for via, a, b in product(range(count), repeat=3):
        travel[a][b] = min(travel[a][b], travel[a][via] + travel[via][b])
    windows = [(row[4], row[5]) for row in rows]
    slots = windows[0][1] + 1
    result = solve(
        read_problem(
            {
                "format": "replanner-problem-1",
                "slot_minutes": 1,
                "first_slot": "2027-01-14T00:00:00Z",
                "slots": slots,
                "travel_slots": travel,
                "travel_cost_per_slot": 1,
                "start": {"place": 0, "earliest": 0, "latest": slots - 1},
                "end": {"place": 0, "by": slots - 1, "late": [0] * slots},
                "legs": [
                    {
                        "id": f"customer {c}",
                        "must": True,
                        "ride_slots": 0,
                        "worth": [
                            0 if windows[c][0] <= t <= windows[c][1] else None for t in range(slots)
                        ],
                        "ways": [{"from": c, "to": c}],
                    }
                    for c in range(1, count)
                ],
            }
        )
    )
    assert result.proven
    assert result.solution is not None
    assert -result.solution.value == LEAST_TRAVEL[path.stem]
    starts = np.array([visit.start_slot for visit in result.solution.visits])
    opens, shuts = np.array([windows[leg + 1] for leg in result.solution.legs]).T
    assert np.all((opens <= starts) & (starts <= shuts))
