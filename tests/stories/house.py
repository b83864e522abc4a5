"""A rider's machine for a test: own folders, a service that replays, the real command line."""

import json
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import click
from click.testing import CliRunner, Result

from replanner.cli import main
from tests.loopback import Loopback, Reply, composed, recorded

DATA = Path(__file__).parents[1] / "data"


class Recorded(Loopback):
    """Gives one recorded answer for every place asked.

    For several places the list is COMPOSED: the recorded answer over and over. No service gave
    it so.
    """

    def __init__(self, name: str) -> None:
        super().__init__()
        self.name = name
        self.places_asked: list[int] = []

    def reply_to(self, path: str) -> Reply:
        places = len(parse_qs(urlsplit(path).query)["latitude"][0].split(","))
        self.places_asked.append(places)
        return Reply(recorded(self.name) if places == 1 else composed(*[self.name] * places))


class Machine:
    """Where a rider runs replanner: state, settings and cache of its own, one service."""

    def __init__(self, home: Path, address: str, settings: str = "") -> None:
        self.home = home
        self.config = home / "config"
        self.config.mkdir(parents=True, exist_ok=True)
        if settings:
            (self.config / "settings.toml").write_text(settings, encoding="utf-8")
        self.state = home / "state.sqlite"
        self.environment = {
            "REPLANNER_FORECAST_URL": address,
            "REPLANNER_STATE": f"sqlite:///{self.state}",
            "REPLANNER_CONFIG": str(self.config),
            "XDG_CACHE_HOME": str(home / "cache"),
            "XDG_DATA_HOME": str(home / "data"),
        }

    def run(self, *words: str, typed: str = "") -> Result:
        """Run one command as typed; whatever is no exit of the command line is raised."""
        runner = CliRunner(env=self.environment)
        result = runner.invoke(main, list(words), input=typed)
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result

    def plan(self, tour: Path, day: str, now: str, *more: str) -> Result:
        return self.run("plan", str(tour), "--date", day, "--now", now, *more)

    def plan_json(self, tour: Path, day: str, now: str) -> dict[str, Any]:
        result = self.plan(tour, day, now, "--format", "json")
        assert result.exit_code == 0, result.stderr
        answer = strict_json(result.stdout)
        assert isinstance(answer, dict)
        return answer


def strict_json(text: str) -> Any:
    """Read JSON as RFC 8259 has it: NaN and Infinity are no JSON."""

    def refuse(name: str) -> float:
        raise AssertionError(f"{name} is no JSON")

    return json.loads(text, parse_constant=refuse)


def one_line(text: str) -> str:
    """Return the only line of a text."""
    lines = text.splitlines()
    assert len(lines) == 1, text
    assert "Traceback" not in text
    return lines[0]


def commands() -> list[str]:
    """Return every command's name."""
    assert isinstance(main, click.Group)
    return sorted(main.commands)
