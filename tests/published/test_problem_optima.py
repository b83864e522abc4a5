"""Optima of whole days proven elsewhere.

Source: `tests/data/problems/*.json` are ours; the optimum each states was proven by OR-Tools
CP-SAT, those of `full-*` by a second, independent solver too (and by enumeration to 7 legs).
"""

from pathlib import Path

import pytest

from replanner.planning.day_search import solve
from replanner.planning.problem_file import read_problem, write_problem
from tests.planning.day_problems import worth_of
from tests.planning.test_search import by_two_passes

DATA = Path(__file__).parents[1] / "data"
FILES = sorted((DATA / "problems").glob("*.json"))
SMALLER = [path for path in FILES if path.name[:3] not in {"n14", "n16"}]


def test_the_files_are_there() -> None:
    assert len(FILES) == 23


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
