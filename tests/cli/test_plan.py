"""`replanner plan` and `chat` as typed, on recorded weather: what is printed, what is kept."""

import json
import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.stories.house import DATA, Machine, Recorded, strict_json

TOUR = DATA / "tour_recorded_coast.toml"
FILE = "coast_windy_rain_168h.json"
DAY, NOW = "2025-10-31", "2025-10-30T19:30+11:00"

# The keys a program may rely on, as README promises them.
KEYS = {
    "date", "base_from", "base_to", "departure", "arrival", "sunrise", "sunset", "civil_dusk",
    "spare_minutes", "value_minutes", "proven", "bound_minutes", "legs", "left_out", "changes",
    "own_order", "plan_b", "decision_points", "odds", "warnings", "cautions", "forecast",
    "message", "spoken",
}  # fmt: skip
INNER = {
    "legs": {"id", "name", "kind", "start", "end", "severity", "hazard", "turn_back"},
    "left_out": {"id", "reason", "price_minutes"},
    "changes": {"kind", "leg", "worth_minutes", "reason"},
    "decision_points": {"leg", "place", "latest", "rule", "instead"},
}
HAZARD = {"name", "value", "limit", "unit", "hour"}
FORECAST = {"service", "issued", "fetched", "stale", "credit"}
MOMENTS = {
    "departure", "arrival", "sunrise", "sunset", "civil_dusk", "start", "end", "turn_back",
    "latest", "hour", "fetched", "issued",
}  # fmt: skip


@pytest.fixture
def service() -> Iterator[Recorded]:
    with Recorded(FILE) as running:
        yield running


@pytest.fixture
def machine(tmp_path: Path, service: Recorded) -> Machine:
    return Machine(tmp_path / "rider", service.url)


def chat(machine: Machine, typed: str) -> str:
    result = machine.run("chat", str(TOUR), "--date", DAY, "--now", NOW, typed=typed)
    assert (result.exit_code, result.stderr) == (0, ""), result.stderr
    return result.stdout


def every_table(value: object) -> Iterator[dict[str, Any]]:
    if isinstance(value, dict):
        yield value
        for inner in value.values():
            yield from every_table(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from every_table(inner)


@pytest.mark.parametrize("day", ["2025-10-26", DAY])
def test_json_holds_every_key_with_null_for_what_is_missing(machine: Machine, day: str) -> None:
    """Read strictly: no NaN. Times are ISO 8601 with offset."""
    result = machine.plan(TOUR, day, f"2025-10-{int(day[-2:]) - 1}T19:30+11:00", "--format", "json")
    assert (result.exit_code, result.stderr) == (0, "")
    answer = strict_json(result.stdout)
    assert set(answer) >= KEYS
    assert set(answer["forecast"]) >= FORECAST
    assert set(answer["own_order"]) >= {"value_minutes", "severity"}
    for key, inner in INNER.items():
        for row in answer[key]:
            assert set(row) >= inner, key
    hazards = [
        table[key]
        for table in every_table(answer)
        for key in ("hazard", "reason")
        if table.get(key) is not None
    ]
    assert hazards
    assert all(set(hazard) >= HAZARD for hazard in hazards)
    for table in every_table(answer):
        for key in MOMENTS & set(table):
            if table[key] is not None:
                moment = table[key]
                assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?\+11:00", moment)
    assert answer["date"] == day
    assert answer["warnings"] is None  # no service for official warnings was asked
    assert all(0 <= leg["severity"] <= 4 for leg in answer["legs"])


def test_the_same_evening_gives_the_same_plan_and_asks_once(
    machine: Machine, service: Recorded
) -> None:
    """Text is the message of the JSON; within the hour nobody is asked again."""
    first, second = (machine.plan_json(TOUR, DAY, NOW) for _ in range(2))
    fetched = [datetime.fromisoformat(one["forecast"].pop("fetched")) for one in (first, second)]
    assert abs(fetched[1] - fetched[0]) < timedelta(seconds=1)
    assert first == second
    assert machine.plan(TOUR, DAY, NOW).stdout.rstrip("\n") == first["message"]
    assert len(service.asked) == 1


def test_an_accepted_plan_stays_accepted_between_runs(machine: Machine) -> None:
    before = machine.plan_json(TOUR, DAY, NOW)
    assert any(leg["id"] == "ford_spur" for leg in before["legs"])
    assert "Accepted" in chat(machine, "skip ford spur\nok\n")
    # a wish once accepted holds in the next run, and in plan as well as in chat
    after = machine.plan_json(TOUR, DAY, NOW)
    assert not any(leg["id"] == "ford_spur" for leg in after["legs"])
    again = chat(machine, "start over\n")
    accepted, dropped = again.split("Your wishes for the day are dropped.")
    assert "The same as you accepted" in accepted
    assert "Ford spur:" not in accepted
    assert "Ford spur:" in dropped
    assert "The plan you accepted stands until you say ok" in dropped


def test_a_problem_written_is_solved_to_the_same_value(machine: Machine, tmp_path: Path) -> None:
    path = tmp_path / "day.json"
    result = machine.plan(TOUR, DAY, NOW, "--format", "json", "--problem", str(path))
    assert (result.exit_code, result.stderr) == (0, "")
    planned = strict_json(result.stdout)
    solved = strict_json(machine.run("solve", str(path), "--format", "json").stdout)
    assert solved["proven"] is True
    assert solved["value"] == pytest.approx(planned["value_minutes"], abs=1e-3)
    problem = json.loads(path.read_text(encoding="utf-8"))
    ridden = [problem["legs"][visit["leg"]]["id"] for visit in solved["visits"]]
    assert ridden == [leg["id"] for leg in planned["legs"]]


def test_a_problem_cannot_be_written_into_a_missing_folder(
    machine: Machine, tmp_path: Path
) -> None:
    path = tmp_path / "none" / "day.json"
    result = machine.plan(TOUR, DAY, NOW, "--problem", str(path))
    assert result.exit_code == 2
    assert str(path) in result.stderr
    assert len(result.stderr.splitlines()) == 1


def test_chat_answers_words_and_nonsense(machine: Machine) -> None:
    said = chat(machine, "why\nasdf qwer\n\nplan b\nno\nok\n")
    assert "no-go\n  at 16:00 gusts" in said  # why
    assert "did not get that" in said  # nonsense: one line with the nearest words
    assert "Plan B" in said
    assert "Accepted" in said


def test_chat_takes_bytes_that_are_no_text(machine: Machine) -> None:
    first = chat(machine, "\x00\x1b[2J\nok\n")
    assert "no text" in first
    assert "Accepted" in first
    assert "You decide" in first  # the standing cautions, whole, the first time only
    assert "You decide" not in chat(machine, "")


def test_two_tours_share_a_state_without_mixing(machine: Machine, tmp_path: Path) -> None:
    chat(machine, "skip ford spur\nok\n")
    other = tmp_path / "other.toml"
    text = TOUR.read_text(encoding="utf-8").replace('"Windy bay"', '"Another bay"')
    other.write_text(text, encoding="utf-8")
    answer = machine.plan_json(other, DAY, NOW)
    assert any(leg["id"] == "ford_spur" for leg in answer["legs"])
