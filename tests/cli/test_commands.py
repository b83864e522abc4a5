"""The commands as typed: help, wrong options, and two true processes."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.stories.house import DATA, Machine, commands, one_line

TOUR = DATA / "tour_recorded_coast.toml"
NO_SERVICE = "http://127.0.0.1:9"  # the discard port: nothing listens there


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    return Machine(tmp_path, NO_SERVICE)


_COMMANDS = (
    "backup", "chat", "check", "demo", "health", "invite", "plan", "serve", "solve"
)  # fmt: skip


def test_the_commands_are_those_of_this_version() -> None:
    assert commands() == sorted(_COMMANDS)


@pytest.mark.parametrize("command", _COMMANDS)
def test_help_has_an_example(machine: Machine, command: str) -> None:
    for word in ("--help", "-h"):
        result = machine.run(command, word)
        assert result.exit_code == 0
        assert re.search(rf"Example: .*replanner {command}", result.stdout), result.stdout
        assert result.stderr == ""


def test_help_of_all_names_every_command(machine: Machine) -> None:
    result = machine.run("--help")
    assert result.exit_code == 0
    assert all(command in result.stdout for command in commands())
    assert "you decide" in result.stdout  # advice only, said before anything else


@pytest.mark.parametrize("command", ["plan", "chat"])
@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--date", "2.4.2027"], "2027-04-02"),  # told how to write it
        (["--date", "2025-02-30"], "2025-02-30"),
        (["--now", "2025-10-30T19:30"], "offset"),
        (["--now", "tonight"], "offset"),
    ],
    ids=["date by dots", "no such date", "no offset", "no time"],
)
def test_a_wrong_option_tells_how_to_write_it(
    machine: Machine, command: str, options: list[str], told: str
) -> None:
    result = machine.run(command, str(TOUR), *options)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert told in result.stderr
    assert "Traceback" not in result.stderr
    assert not machine.state.exists()


def test_an_unknown_command_or_option_is_status_2(machine: Machine) -> None:
    for words in (["plann"], ["plan", "--fast"], ["plan"], ["check", str(TOUR), "--format", "xml"]):
        result = machine.run(*words)
        assert result.exit_code == 2, words
        assert result.stderr
        assert "Traceback" not in result.stderr


@pytest.mark.parametrize("command", ["plan", "chat"])
def test_a_date_the_tour_has_not_names_those_it_has(machine: Machine, command: str) -> None:
    result = machine.run(
        command, str(TOUR), "--date", "2025-10-28", "--now", "2025-10-27T19:30+11:00"
    )
    assert result.exit_code == 2
    line = one_line(result.stderr)
    assert "2025-10-28" in line
    assert all(day in line for day in ("2025-10-26", "2025-10-30", "2025-10-31"))


def test_a_demo_date_the_tour_has_not(machine: Machine) -> None:
    result = machine.run("demo", "--date", "2027-04-06")
    assert result.exit_code == 2
    assert "2027-04-05" in one_line(result.stderr)


@pytest.mark.parametrize("command", ["plan", "chat"])
def test_a_tour_that_is_over_says_so(machine: Machine, command: str) -> None:
    """Without --date the next day is planned; in 2030 there is none."""
    result = machine.run(command, str(TOUR), "--now", "2030-01-01T19:30+11:00")
    assert result.exit_code == 2
    line = one_line(result.stderr)
    assert "Windy bay" in line
    assert "2025-10-31" in line


@pytest.mark.parametrize(
    ("variable", "value"),
    [
        ("REPLANNER_FORECAST_URL", "ftp://example.invalid"),
        ("REPLANNER_CONFIG", "/nowhere/at/all"),
        ("REPLANNER_STATE", "mysql:///plans"),
    ],
)
def test_a_wrong_environment_variable_is_named(machine: Machine, variable: str, value: str) -> None:
    machine.environment[variable] = value
    result = machine.plan(TOUR, "2025-10-31", "2025-10-30T19:30+11:00")
    assert result.exit_code == 2
    assert variable in one_line(result.stderr)


def test_a_wrong_settings_file_tells_each_mistake_with_its_line(tmp_path: Path) -> None:
    settings = '[forecast]\ntimeout_seconds = "soon"\nretrys = 3\n'
    machine = Machine(tmp_path, NO_SERVICE, settings)
    result = machine.run("check", str(TOUR))
    assert result.exit_code == 2
    lines = result.stderr.splitlines()
    assert len(lines) == 2
    assert any("line 2" in line and "timeout_seconds" in line for line in lines)
    assert any("line 3" in line and "retries" in line for line in lines)  # the nearest key


# ------------------------------------------------------------------------------ true processes


def process(*words: str, machine: Machine, typed: bytes | None) -> subprocess.CompletedProcess[str]:
    """Run the installed command in a process of its own, as a shell does."""
    command = [sys.executable, "-c", "from replanner.cli import main; main()", *words]
    environment = {**os.environ, **machine.environment, "PYTHONIOENCODING": "utf-8"}
    done = subprocess.run(  # noqa: S603 - our own words
        command,
        input=typed,
        stdin=subprocess.DEVNULL if typed is None else None,
        capture_output=True,
        env=environment,
        timeout=60,
        check=False,
    )
    return subprocess.CompletedProcess(
        done.args, done.returncode, done.stdout.decode(), done.stderr.decode()
    )


def test_process_demo_without_input_ends_by_itself(machine: Machine) -> None:
    done = process("demo", "--date", "2027-04-05", machine=machine, typed=None)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("INVENTED")
    assert "Mon 5 Apr" in done.stdout
    assert not machine.state.exists()  # the demo leaves nothing behind


def test_process_demo_with_piped_words(machine: Machine) -> None:
    done = process("demo", "--date", "2027-04-05", machine=machine, typed=b"why\nok\n")
    assert (done.returncode, done.stderr) == (0, "")
    assert "gust" in done.stdout


def test_process_check_of_a_missing_file(machine: Machine) -> None:
    done = process("check", "no_such_tour.toml", machine=machine, typed=None)
    assert done.returncode == 2
    assert done.stdout == ""
    assert "no_such_tour.toml" in one_line(done.stderr)


def test_process_help_loads_no_library_it_does_not_need() -> None:
    """They take longer to import than all else: who waits for --help or solve needs none."""
    slow = {"pandas", "sqlalchemy", "pydantic", "requests", "requests_cache"}
    asked = "import sys, replanner.cli; print(*sys.modules)"
    done = subprocess.run(  # noqa: S603 - our own words
        [sys.executable, "-c", asked], capture_output=True, text=True, timeout=60, check=True
    )
    loaded = set(done.stdout.split())
    assert "replanner.wiring" in loaded
    assert not slow & loaded
