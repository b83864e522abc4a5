"""The bot as a process: starts, serves, stops, is killed, begins again; alone, beside another."""

import json
import os
import signal
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from socket import socket

import pytest
from click.testing import CliRunner

from replanner.cli import main
from replanner.people import Role
from tests.botapi.client import RIDER
from tests.botapi.server import BotApiServer
from tests.serve.harness import DUE, PATIENCE, Scene, scene, wait_until
from tests.serve.recorded import PLANS_VARIABLE
from tests.store.cluster import running_cluster, why_not

SOON = DUE - timedelta(seconds=3)
GONE = 8.0  # how long a clean stop may take on a busy machine; alone it takes 0.6 [s]


@contextmanager
def made_once(tmp_path: Path, **more: object) -> Iterator[Scene]:
    """A scene whose plans are made by the bot itself, once for all tests of a run."""
    plans = tmp_path.parent / "plans"
    plans.mkdir(exist_ok=True)
    folder = tmp_path / "scene"
    folder.mkdir()
    begins = more.pop("begins", SOON)
    with scene(folder, begins=begins, environment={PLANS_VARIABLE: str(plans)}, **more) as at:  # type: ignore[arg-type]
        yield at


def free_port() -> int:
    with socket() as some:
        some.bind(("127.0.0.1", 0))
        return int(some.getsockname()[1])


def has_plan(at: Scene, chat: int = RIDER) -> bool:
    return any("Leave " in text for text in at.texts(chat))


def test_it_serves_tells_that_it_is_well_and_stops_when_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    port = free_port()
    with made_once(tmp_path, status_port=port) as at:
        for name, value in at.environment.items():
            monkeypatch.setenv(name, value)
        health = CliRunner().invoke(main, ["health"])
        assert (health.exit_code, health.output) == (1, "not running, or not answering\n")
        _, (code,) = at.invite(Role.LEADER)
        at.says(RIDER, f"/start {code}")
        with at.bot() as bot:
            with at.store() as store:
                wait_until(lambda: store.counts()["letters sent"] >= 2, "the plan")
            health = CliRunner().invoke(main, ["health"])
            assert health.exit_code == 0
            told = json.loads(health.output)
            assert told["counts"]["letters sent"] >= 2
            assert told["counts"]["members"] == 1
            page = urllib.request.urlopen(f"http://127.0.0.1:{port}/").read().decode()
            assert "All is well." in page
            assert str(RIDER) not in page
            with pytest.raises(urllib.error.HTTPError, match="404"):
                urllib.request.urlopen(f"http://127.0.0.1:{port}/letters")
            begun = time.monotonic()
            assert bot.stop() == 0
            assert time.monotonic() - begun < GONE
            assert "Traceback" not in bot.told
        with at.store() as store:
            assert store.counts()["arrivals waiting"] == 0


def test_no_token_in_all_that_a_chatty_bot_logs(tmp_path: Path) -> None:
    with made_once(tmp_path) as at:
        at.environment["TEST_LOG_LEVEL"] = "DEBUG"
        _, (code,) = at.invite(Role.LEADER)
        at.says(RIDER, f"/start {code}")
        with at.bot() as bot:
            wait_until(lambda: has_plan(at), "the plan")
            bot.stop()
            assert "sendMessage" in bot.told
            assert at.server.token not in bot.told
            assert at.server.token.split(":")[1] not in bot.told


def test_the_service_is_not_there_yet_when_it_starts(tmp_path: Path) -> None:
    port = free_port()
    with made_once(tmp_path) as at:
        at.environment["REPLANNER_CHAT_URL"] = f"http://127.0.0.1:{port}"
        _, (code,) = at.invite(Role.LEADER)
        with at.bot() as bot:
            wait_until(lambda: "is not there" in bot.told, "it looks for the service")
            with BotApiServer(port=port) as late:
                late.user_says(RIDER, f"/start {code}", sent=at.present())
                late.wait_for_sent(RIDER, 1, PATIENCE)
                assert bot.stop() == 0


def test_killed_it_begins_again_where_it_was(tmp_path: Path) -> None:
    with made_once(tmp_path, lease_seconds=2.0) as at:
        _, (code,) = at.invite(Role.LEADER)
        at.says(RIDER, f"/start {code}")
        with at.bot():
            at.server.wait_for_sent(RIDER, 1, PATIENCE)
        at.says(RIDER, "why")
        with at.bot():
            wait_until(lambda: has_plan(at), "the plan")
        welcomes = [text for text in at.texts(RIDER) if "Welcome." in text]
        assert [text.startswith("(again)") for text in welcomes] in ([False], [False, True])
        assert at.sound() == "ok"


def test_a_call_for_help_is_answered_before_the_plan_asked_for_first(tmp_path: Path) -> None:
    with made_once(tmp_path) as at:
        _, (code,) = at.invite(Role.LEADER)
        at.says(RIDER, f"/start {code}")
        with at.bot():
            wait_until(lambda: has_plan(at), "the plan")
            at.says(RIDER, "skip gannet stack")  # planned anew: a second of work at least
            at.says(RIDER, "help, crash")
            wait_until(lambda: order(at)[2:], "both answers", 60.0)
        assert order(at) == ["Leave ", "Call the emergency", "Leave "]


def order(at: Scene) -> list[str]:
    """Return what was told, by signs of a plan and of the answer to a call for help."""
    signs = ("Leave ", "Call the emergency")
    return [sign for told in at.texts(RIDER) for sign in signs if sign in told]


def children(pid: int) -> list[int]:
    of_threads = [path.read_text("ascii") for path in Path(f"/proc/{pid}/task").glob("*/children")]
    return [int(child) for told in of_threads for child in told.split()]


def descendants(pid: int) -> list[int]:
    """Return its children and theirs: workers may be forked from a process between."""
    return [found for child in children(pid) for found in (child, *descendants(child))]


def alive(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(")")[1].split()[0]
    except FileNotFoundError:
        return False
    return state != "Z"


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="looks at /proc")
def test_a_worker_killed_over_a_plan_is_replaced_and_none_outlives_its_master(
    tmp_path: Path,
) -> None:
    with scene(tmp_path, begins=SOON, workers=2, lease_seconds=30.0) as at:
        _, (code,) = at.invite(Role.LEADER)
        at.says(RIDER, f"/start {code}")
        with at.bot() as bot:

            def workers() -> list[int]:
                return [one for one in descendants(bot.pid) if _is_worker(one)]

            wait_until(workers, "a worker")
            for worker in workers():
                os.kill(worker, signal.SIGKILL)
            wait_until(lambda: has_plan(at), "the plan")
            left = descendants(bot.pid)
            assert any(_is_worker(one) for one in left)
        wait_until(lambda: not any(alive(child) for child in left), "the workers' end")


def _is_worker(pid: int) -> bool:
    """Tell a worker from the process workers are forked from: that one has no worker above it."""
    words = _words(pid)
    return b"spawn_main" in words or (b"forkserver" in words and words == _words(_parent(pid)))


def _words(pid: int) -> bytes:
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes()
    except OSError:
        return b""


def _parent(pid: int) -> int:
    try:
        told = Path(f"/proc/{pid}/stat").read_text(encoding="ascii")
    except OSError:
        return 0
    return int(told.rsplit(")")[1].split()[1])


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_two_on_one_state_send_each_evening_once(tmp_path: Path, kind: str) -> None:
    if kind == "postgresql":
        if reason := why_not():
            pytest.skip(reason)
        with running_cluster() as cluster:
            two(tmp_path, cluster.emptied())
    else:
        two(tmp_path, None)


def two(tmp_path: Path, state: str | None) -> None:
    chats = range(RIDER, RIDER + 6)
    with made_once(tmp_path, state=state, begins=DUE - timedelta(seconds=8)) as at:
        for chat in chats:
            _, (code,) = at.invite(Role.LEADER)
            at.says(chat, f"/start {code}")
        with at.bot() as one, at.bot() as other:
            for chat in chats:
                wait_until(lambda chat=chat: has_plan(at, chat), f"the plan of {chat}", 60.0)
            at.server.quiet_for(2.0, PATIENCE)
            waits = [bot for bot in (one, other) if "another process fetches" in bot.told]
            assert len(waits) == 1  # one of the two was refused and waits
            assert one.stop() == 0
            assert other.stop() == 0
        for chat in chats:
            texts = at.texts(chat)
            assert sum("Leave " in text for text in texts) == 1, texts
            assert sum("Welcome." in text for text in texts) == 1, texts
