"""Bad answers, no answers, unusable files: one line for the rider, nothing lost.

Recorded and broken answers: tests/data/README.md. For several places they are COMPOSED into a
list; the cut-off ones are cut by us.
"""

import contextlib
import os
import pty
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest

from replanner.sources.http import make_session
from tests.loopback import RECORDED, Loopback, Reply, composed, expire, recorded
from tests.stories.house import DATA, Machine, Recorded, one_line

TOUR = DATA / "tour_recorded_coast.toml"
GOOD = "coast_windy_rain_168h.json"
DAY, NOW = "2025-10-31", "2025-10-30T19:30+11:00"
IMPATIENT = "[forecast]\nretries = 0\ntimeout_seconds = 0.3\n"
NOBODY = "http://127.0.0.1:9"  # the discard port: refused


Answer = Callable[[int], Reply]  # for so many places


def whole(body: str | bytes, status: int = 200) -> Answer:
    return lambda _: Reply(body, status)


def each(name: str, **more: Any) -> Answer:
    """Answer with a recorded text for every place, also one that is no JSON."""
    return lambda places: Reply("[" + ",".join([recorded(name)] * places) + "]", **more)


def half(name: str) -> Answer:
    """Answer with the first half of a good body, as if it were whole."""
    return lambda places: Reply(composed(*[name] * places)[: len(recorded(name)) * places // 2])


# what comes, and a word of the line that tells it
BAD = {
    "unequal lengths": (each("BROKEN_unequal_lengths_168_176.json"), "176"),
    "not covered": (each("NOT_COVERED_nan.txt"), "no hourly values"),
    "not covered, bare": (whole(recorded("NOT_COVERED_nan.txt")), "1 places"),
    "daily nulls": (each("daily_only_nulls.json"), "no hourly values"),
    "daily nulls, other": (each("daily_073b9d.json"), "no hourly values"),
    "error 400": (whole(recorded("error_400_5c7be9.json"), 400), "400"),
    "error in a 200": (whole(recorded("error_400_5c7be9.json")), "refused"),
    "error 429": (whole(recorded("error_429_minutely.json"), 429), "too often"),
    "error 500": (whole("oops", 500), "500"),
    "cut off by the wire": (each(GOOD, cut_off=True), "broke"),
    "cut off with status 200": (half(GOOD), "broken off"),
    "web page": (whole("<!DOCTYPE html><html><body>Log in</body></html>"), "web page"),
    "empty": (whole(""), "JSON"),
    "bytes": (whole(b"\xff\xfe\x00\x01" * 50), "JSON"),
    "one place for many": (whole(recorded(GOOD)), "1 places"),
    "another country": (each("winter_storm_336h_run1.json"), "far from"),
    "quarter hours only": (each("m15_4steps_shortened.json"), "no hourly values"),
    "too slow": (each(GOOD, delay=3.0), "0.3 seconds"),
}


class Answering(Loopback):
    """Gives one kind of answer to as many places as are asked."""

    def __init__(self, answer: Answer) -> None:
        super().__init__()
        self.answer = answer

    def reply_to(self, path: str) -> Reply:
        return self.answer(len(parse_qs(urlsplit(path).query)["latitude"][0].split(",")))


@pytest.fixture(scope="module")
def accepted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a state in which a plan of the day is accepted, its cache thrown away."""
    with Recorded(GOOD) as service:
        machine = Machine(tmp_path_factory.mktemp("before"), service.url)
        said = machine.run("chat", str(TOUR), "--date", DAY, "--now", NOW, typed="ok\n")
        assert len(service.asked) == 1
    assert (said.exit_code, said.stderr) == (0, "")
    assert "Accepted" in said.stdout
    return machine.state


@pytest.fixture(params=BAD)
def bad(request: pytest.FixtureRequest) -> Iterator[tuple[str, str]]:
    answer, told = BAD[request.param]
    with Answering(answer) as service:
        yield service.url, told


def rows(state: Path) -> list[tuple[object, ...]]:
    with sqlite3.connect(f"file:{state}?mode=ro", uri=True) as look:
        found = look.execute(
            "SELECT tour_key, day, version, made_at, accepted, briefing FROM plans ORDER BY version"
        ).fetchall()
    look.close()
    return found


def test_every_broken_file_is_tried() -> None:
    tried = " ".join(str(answer(1).body) for answer, _ in BAD.values())
    for pattern in ("BROKEN*", "NOT_COVERED*", "*nulls*", "error_400*", "error_429*"):
        names = list(RECORDED.glob(pattern))
        assert names
        for path in names:
            assert path.read_text(encoding="utf-8").strip() in tried


def test_no_earlier_plan_is_one_line_and_status_2(tmp_path: Path, bad: tuple[str, str]) -> None:
    url, told = bad
    tour = TOUR.read_bytes()
    machine = Machine(tmp_path, url, IMPATIENT)
    for more in ((), ("--format", "json")):
        result = machine.plan(TOUR, DAY, NOW, *more)
        assert (result.exit_code, result.stdout) == (2, "")
        line = one_line(result.stderr)
        assert line.startswith("Open-Meteo: ")
        assert told in line
        assert url not in line  # an address may hold a key
    assert rows(machine.state) == []
    assert TOUR.read_bytes() == tour


def test_chat_without_an_earlier_plan(tmp_path: Path, bad: tuple[str, str]) -> None:
    """The conversation tells it; a script that reads only stderr learns it as well."""
    url, told = bad
    machine = Machine(tmp_path, url, IMPATIENT)
    result = machine.run("chat", str(TOUR), "--date", DAY, "--now", NOW, typed="why\nok\n")
    assert result.exit_code == 2
    assert told in result.stdout
    assert told in one_line(result.stderr)
    assert "Accepted" not in result.stdout
    assert rows(machine.state) == []


@pytest.mark.parametrize("apart", [False, True], ids=["one terminal", "stderr apart"])
def test_a_terminal_is_told_once_why_there_is_no_plan(tmp_path: Path, *, apart: bool) -> None:
    """In a true process: where both streams go to one terminal the line is not repeated."""
    machine = Machine(tmp_path, NOBODY, IMPATIENT)
    ours, terminal = pty.openpty()
    words = ["chat", str(TOUR), "--date", DAY, "--now", NOW]
    begun = subprocess.Popen(  # noqa: S603 - our own words
        [sys.executable, "-c", "from replanner.cli import main; main()", *words],
        stdin=subprocess.DEVNULL,
        stdout=terminal,
        stderr=subprocess.PIPE if apart else terminal,
        env={**os.environ, **machine.environment},
    )
    os.close(terminal)
    with begun, os.fdopen(ours, "rb") as screen:
        shown = b""
        with contextlib.suppress(OSError):  # how Linux tells that the other end has closed
            while piece := screen.read1():
                shown += piece
        aside = begun.stderr.read() if begun.stderr else b""
    assert begun.returncode == 2
    assert shown.count(b"cannot be reached") == 1
    assert aside.count(b"cannot be reached") == int(apart)


def test_an_earlier_plan_is_shown_old_and_kept(
    tmp_path: Path, accepted: Path, bad: tuple[str, str]
) -> None:
    url, _ = bad
    machine = Machine(tmp_path, url, IMPATIENT)
    shutil.copy(accepted, machine.state)
    before, tour = rows(machine.state), TOUR.read_bytes()
    text = machine.plan(TOUR, DAY, NOW)
    assert (text.exit_code, text.stderr) == (0, "")
    assert text.stdout.startswith("OLD PLAN")
    assert "No new plan" in text.stdout
    answer = machine.plan_json(TOUR, DAY, NOW)
    assert answer["plan_stale"] is True
    assert answer["stale_cause"]
    assert [leg["id"] for leg in answer["legs"]]
    said = machine.run("chat", str(TOUR), "--date", DAY, "--now", NOW, typed="")
    assert (said.exit_code, said.stderr) == (0, "")
    assert "OLD PLAN" in said.stdout
    assert rows(machine.state) == before
    assert TOUR.read_bytes() == tour


@pytest.mark.parametrize("address", [NOBODY, "http://no-such-host.invalid"], ids=["port", "name"])
def test_no_network(tmp_path: Path, accepted: Path, address: str) -> None:
    machine = Machine(tmp_path, address, IMPATIENT)
    result = machine.plan(TOUR, DAY, NOW)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "cannot be reached" in one_line(result.stderr)
    shutil.copy(accepted, machine.state)
    result = machine.plan(TOUR, DAY, NOW)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout.startswith("OLD PLAN")


def test_the_cause_of_an_old_plan_names_the_service(tmp_path: Path, accepted: Path) -> None:
    machine = Machine(tmp_path, NOBODY, IMPATIENT)
    shutil.copy(accepted, machine.state)
    assert "Open-Meteo" in machine.plan_json(TOUR, DAY, NOW)["stale_cause"]


def test_a_word_on_an_old_plan_promises_nothing(tmp_path: Path, accepted: Path) -> None:
    """Without a forecast a leg cannot be taken out of the plan; nor may it be said to be."""
    machine = Machine(tmp_path, NOBODY, IMPATIENT)
    shutil.copy(accepted, machine.state)
    result = machine.run(
        "chat", str(TOUR), "--date", DAY, "--now", NOW, typed="skip ford spur\nok\n"
    )
    assert result.exit_code == 0
    after = result.stdout.partition("\n\n")[2]
    assert not ("Left out: Ford spur" in after and "Ford spur" in after.partition("OLD PLAN")[2])


def test_an_old_plan_of_another_day_is_none(tmp_path: Path, accepted: Path) -> None:
    machine = Machine(tmp_path, NOBODY, IMPATIENT)
    shutil.copy(accepted, machine.state)
    result = machine.plan(TOUR, "2025-10-30", "2025-10-29T19:30+11:00")
    assert (result.exit_code, result.stdout) == (2, "")


def test_an_expired_answer_serves_when_nothing_fresh_comes(tmp_path: Path) -> None:
    """The cached forecast is too old, the service answers with a web page: planned, and told."""

    class Turning(Recorded):
        broken = False

        def reply_to(self, path: str) -> Reply:
            return Reply("<html></html>") if self.broken else super().reply_to(path)

    with Turning(GOOD) as service:
        machine = Machine(tmp_path, service.url, IMPATIENT)
        fresh = machine.plan_json(TOUR, DAY, NOW)
        assert fresh["forecast"]["stale"] is False
        (cache,) = machine.home.glob("cache/**/*.sqlite")
        with make_session(cache.parent) as session:
            expire(session)
        service.broken = True
        old = machine.plan_json(TOUR, DAY, NOW)
        assert len(service.asked) == 2
    assert old["forecast"]["stale"] is True
    assert old["plan_stale"] is False
    assert [leg["id"] for leg in old["legs"]] == [leg["id"] for leg in fresh["legs"]]


# ------------------------------------------------------------------------------------ the state


def test_a_state_that_is_no_database_is_not_touched(tmp_path: Path) -> None:
    machine = Machine(tmp_path, NOBODY, IMPATIENT)
    for content in (b"Dear diary, today we rode.\n", b"SQLite format 3\x00" + b"\xff" * 4096):
        machine.state.write_bytes(content)
        for command in ("plan", "chat"):
            result = machine.run(command, str(TOUR), "--date", DAY, "--now", NOW)
            assert (result.exit_code, result.stdout) == (2, "")
            assert str(machine.state) in one_line(result.stderr)
        assert machine.state.read_bytes() == content


def test_a_database_of_another_program_is_not_touched(tmp_path: Path) -> None:
    machine = Machine(tmp_path, NOBODY, IMPATIENT)
    with sqlite3.connect(machine.state) as other:
        other.execute("CREATE TABLE holidays (name TEXT)")
    other.close()
    before = machine.state.read_bytes()
    result = machine.plan(TOUR, DAY, NOW)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "another program" in one_line(result.stderr)
    assert machine.state.read_bytes() == before


def test_a_state_in_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    """A file where a folder should be: nobody can write there, whatever their rights."""
    machine = Machine(tmp_path, NOBODY, IMPATIENT)
    (tmp_path / "file").write_text("no folder", encoding="utf-8")
    machine.environment["REPLANNER_STATE"] = f"sqlite:///{tmp_path}/file/state.sqlite"
    result = machine.plan(TOUR, DAY, NOW)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "state.sqlite" in one_line(result.stderr)


def test_a_read_only_folder(tmp_path: Path) -> None:
    machine = Machine(tmp_path, NOBODY, IMPATIENT)
    folder = tmp_path / "locked"
    folder.mkdir()
    folder.chmod(0o555)
    try:
        (folder / "probe").touch()
    except OSError:
        pass
    else:
        pytest.skip("whoever runs this may write everywhere")
    machine.environment["REPLANNER_STATE"] = f"sqlite:///{folder}/state.sqlite"
    result = machine.plan(TOUR, DAY, NOW)
    folder.chmod(0o755)
    assert (result.exit_code, result.stdout) == (2, "")
    assert str(folder) in one_line(result.stderr)


def test_a_cache_that_cannot_be_used_keeps_nobody_from_planning(tmp_path: Path) -> None:
    with Recorded(GOOD) as service:
        machine = Machine(tmp_path, service.url)
        cache = machine.home / "cache"
        cache.write_text("a file where the folder should be", encoding="utf-8")
        result = machine.plan(TOUR, DAY, NOW)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "Bare head loop" in result.stdout
