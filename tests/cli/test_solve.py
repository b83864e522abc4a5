"""`replanner solve` as typed: the answer, the infeasible, the broken file."""

import json
from pathlib import Path
from typing import Any

import pytest

from tests.stories.house import DATA, Machine, one_line, strict_json

PROBLEMS = sorted((DATA / "problems").glob("n06-*.json"))


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    return Machine(tmp_path / "rider", "http://127.0.0.1:9")


def small() -> dict[str, Any]:
    """Return an INVENTED problem small enough to be solved by hand.

    From place 0 one slot to the pass (worth 10 from slot 1 on, gone at slot 4), back home at once
    (0 slots, price 0). Leaving at once and riding at slot 1 is worth 10 less 1 for the connector.
    """
    return {
        "format": "replanner-problem-1",
        "slot_minutes": 30,
        "first_slot": "2027-01-14T06:00:00Z",
        "slots": 8,
        "travel_slots": [[0, 1], [1, 0]],
        "travel_cost": [[0, 1], [1, 0]],
        "start": {"place": 0, "earliest": 0, "latest": 7},
        "end": {"place": 0, "by": 7, "dusk": 7, "late_cost_per_slot": 2.0},
        "legs": [
            {
                "id": "pass",
                "must": False,
                "ride_slots": 2,
                "worth": [None, 10, 9, 8, None, None, None, None],
                "ways": [{"from": 1, "to": 0}],
            },
        ],
    }


def written(folder: Path, problem: object) -> Path:
    path = folder / "day.json"
    path.write_text(problem if isinstance(problem, str) else json.dumps(problem), encoding="utf-8")
    return path


def test_a_day_solved_by_hand(machine: Machine, tmp_path: Path) -> None:
    """Leave in slot 0, ride from slot 1 to slot 3, in at once: 10 - 1 = 9."""
    path = written(tmp_path, small())
    answer = machine.run("solve", str(path), "--format", "json")
    assert (answer.exit_code, answer.stderr) == (0, "")
    found = strict_json(answer.stdout)
    assert found.pop("seconds") >= 0
    assert found == {
        "value": 9.0,
        "bound": 9.0,
        "proven": True,
        "leave_slot": 0,
        "visits": [{"leg": 0, "way": 0, "start_slot": 1}],
        "finish_slot": 3,
        **{key: found[key] for key in found if key in ("blame",)},
    }
    text = machine.run("solve", str(path))
    assert (text.exit_code, text.stderr) == (0, "")
    assert "value 9, proven best" in text.stdout
    assert "slot 1: pass" in text.stdout


@pytest.mark.parametrize("path", PROBLEMS, ids=lambda path: path.stem)
def test_optima_proven_elsewhere(machine: Machine, path: Path) -> None:
    """Optimum in the file: CP-SAT and a label search of other make agreed on it."""
    answer = machine.run("solve", str(path), "--format", "json")
    assert answer.exit_code == 0
    found = strict_json(answer.stdout)
    optimum = json.loads(path.read_text(encoding="utf-8"))["optimum"]
    assert found["proven"] is True
    assert found["value"] == pytest.approx(optimum, abs=1e-6)
    assert found["bound"] == pytest.approx(optimum, abs=1e-6)


def test_there_are_problems_to_solve() -> None:
    assert PROBLEMS


def test_what_cannot_be_is_status_1_with_who_is_to_blame(machine: Machine, tmp_path: Path) -> None:
    problem = small()
    problem["legs"][0]["must"] = True
    problem["legs"][0]["worth"] = [None] * 8
    path = written(tmp_path, problem)
    answer = machine.run("solve", str(path), "--format", "json")
    assert (answer.exit_code, answer.stderr) == (1, "")
    found = strict_json(answer.stdout)
    assert found["value"] is None
    assert found["proven"] is True
    assert any("pass" in line for line in found["blame"])
    text = machine.run("solve", str(path))
    assert (text.exit_code, text.stderr) == (1, "")
    assert "pass" in text.stdout


def changed(**changes: object) -> dict[str, Any]:
    return {**small(), **changes}


def leg(**changes: object) -> list[dict[str, Any]]:
    return [{**small()["legs"][0], **changes}]


TWO = [
    {"id": name, "must": False, "ride_slots": 1, "worth": [1] * 8, "ways": [{"from": 0, "to": 0}]}
    for name in ("one", "two")
]


@pytest.mark.parametrize(
    ("problem", "where"),
    [
        (changed(legs=leg(worth=[1, 2, 3])), "legs[0].worth"),
        (changed(legs=leg(ride_slots=[1, 2])), "legs[0].ride_slots"),
        (changed(travel_slots=[[0, 1]]), "travel_slots"),
        (changed(travel_slots=[[0, 1, 2], [1, 0, 2]]), "travel_slots"),
        (changed(slots="eight"), "slots"),
        (changed(legs=leg(ways=[{"from": 0, "to": 7}])), "legs[0].ways[0].to"),
        (changed(end={"place": 0, "by": 99, "dusk": 7, "late_cost_per_slot": 2.0}), "end.by"),
        (changed(legs=TWO, before=[[0, 1], [1, 0]]), "before"),
        (changed(legs=TWO, before=[[0, 5]]), "before"),
        (changed(legs=TWO, own_order=[0, 0]), "own_order"),
        (changed(format="another-problem-9"), "format"),
        (changed(colour="red"), "colour"),
        ({key: value for key, value in small().items() if key != "legs"}, "legs"),
        ([], ""),
    ],
    ids=[
        "worth too short", "rides too short", "one row", "not square", "slots a word",
        "no such place", "by too late", "cyclic before", "no such leg", "own order twice",
        "other format", "unknown key", "no legs", "a list",
    ],
)  # fmt: skip
def test_a_wrong_file_names_the_key(
    machine: Machine, tmp_path: Path, problem: object, where: str
) -> None:
    path = written(tmp_path, problem)
    for form in ("json", "text"):
        result = machine.run("solve", str(path), "--format", form)
        assert (result.exit_code, result.stdout) == (2, "")
        assert where in result.stderr
        assert "Traceback" not in result.stderr
        assert all(": " in line for line in result.stderr.splitlines())


@pytest.mark.parametrize(
    "text",
    [
        json.dumps(small()).replace("10, 9", "NaN, 9"),
        json.dumps(small()).replace("10, 9", "Infinity, 9"),
        json.dumps(small()).replace("10, 9", "1e999, 9"),
        json.dumps(small())[:200],
        "",
        "not json at all",
        "[" * 100_000,
    ],
    ids=["NaN", "Infinity", "beyond float", "cut off", "empty", "words", "deep"],
)
def test_what_is_no_sound_json_is_one_line(machine: Machine, tmp_path: Path, text: str) -> None:
    path = written(tmp_path, text)
    result = machine.run("solve", str(path))
    assert (result.exit_code, result.stdout) == (2, "")
    one_line(result.stderr)


def test_a_binary_file_is_one_line(machine: Machine, tmp_path: Path) -> None:
    path = tmp_path / "photo.json"
    path.write_bytes(b"\xff\xd8\xff\xe0" + bytes(range(256)) * 4)
    result = machine.run("solve", str(path))
    assert (result.exit_code, result.stdout) == (2, "")
    one_line(result.stderr)


@pytest.mark.parametrize("seconds", ["0", "-1", "soon"])
def test_a_time_limit_must_be_one(machine: Machine, tmp_path: Path, seconds: str) -> None:
    path = written(tmp_path, small())
    result = machine.run("solve", str(path), "--seconds", seconds)
    assert result.exit_code == 2
    assert "--seconds" in result.stderr
