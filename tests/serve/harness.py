"""A place for bots to live in: chat service, forecast, state and settings of their own, one clock.

The bots are processes; the chat service and the invented forecast run in the test's process. The
clock shows the instant a scene begins at and goes on with the clock on the wall, for all bots of
the scene alike, so that a bot started again finds time gone by.
"""

import os
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from replanner.files.resources import demo_file
from replanner.people import GroupId, Role
from replanner.sources.invented import InventedWeek
from replanner.store.store import Store, open_store
from tests.botapi.server import BotApiServer
from tests.serve.nursery import Nursery

ROOT = Path(__file__).parents[2]
PATIENCE = 30.0
# The evening of the invented tour's second day: plans are due at 19:30, worked on from 19:10.
DUE = datetime.fromisoformat("2027-04-01T19:30:00+13:00")
TOUR = demo_file("tour.toml").read_text(encoding="utf-8")
_LOOK_SECONDS = 0.03

_SETTINGS = """
[forecast]
cache_directory = "{cache}"
[service]
status_port = {status_port}
look_every_seconds = {look_every_seconds}
workers = {workers}
lease_seconds = {lease_seconds}
messages_per_second = {messages_per_second}
"""


class BotProcess:
    """A bot running as a process of its own."""

    def __init__(self, scene: "Scene") -> None:
        self.log = scene.folder / f"bot{time.monotonic_ns()}.log"
        with self.log.open("wb") as words:
            self.process = subprocess.Popen(  # noqa: S603 - our own module
                [sys.executable, "-m", "tests.serve.bot_process", *scene.clock],
                cwd=ROOT,
                env=os.environ | scene.environment,
                stdout=words,
                stderr=words,
            )

    @property
    def pid(self) -> int:
        return self.process.pid

    @property
    def told(self) -> str:
        """What it has logged so far."""
        return self.log.read_text(encoding="utf-8", errors="replace")

    def kill(self) -> None:
        """SIGKILL: it has no time for anything."""
        self.process.kill()
        self.process.wait(PATIENCE)

    def stop(self) -> int:
        """SIGTERM; return its exit status."""
        self.process.terminate()
        return self.process.wait(PATIENCE)


class Scene:
    """Everything around the bots; `scene` makes one."""

    def __init__(
        self, folder: Path, server: Any, environment: dict[str, str], begins: datetime
    ) -> None:
        self.folder, self.server = folder, server
        self.environment = environment
        self._begins, self._begun = begins, datetime.now(UTC)

    def present(self) -> datetime:
        """Return the instant it is for all bots of the scene."""
        return self._begins + (datetime.now(UTC) - self._begun)

    @property
    def clock(self) -> tuple[str, str]:
        """What the scene began at, and what the clock on the wall said then."""
        return self._begins.isoformat(), self._begun.isoformat()

    @property
    def state(self) -> str:
        """The address of the state."""
        return self.environment["REPLANNER_STATE"]

    @contextmanager
    def store(self) -> Iterator[Store]:
        """Open the state beside the bots."""
        store = open_store(self.state, self.present)
        try:
            yield store
        finally:
            store.close()

    def invite(self, *roles: Role, tour: str = TOUR) -> tuple[GroupId, list[str]]:
        """Make a group of that tour; return it with a code for each role."""
        with self.store() as store:
            group = store.new_group(tour)
            expires = self.present() + timedelta(days=3)
            return group.id, [store.invite(group.id, role, expires) for role in roles]

    def says(self, chat: int, text: str) -> int:
        """A rider writes, at the scene's own time."""
        return int(self.server.user_says(chat, text, sent=self.present()))

    def texts(self, chat: int) -> list[str]:
        """Return what a chat was told, in order; files are no words."""
        return [one.text for one in self.server.sent_to(chat) if one.kind == "text"]

    @contextmanager
    def bot(self) -> Iterator[BotProcess]:
        """Run a bot; what is left of it at the end is killed."""
        bot = BotProcess(self)
        try:
            yield bot
        finally:
            bot.kill()

    @contextmanager
    def forked(self, nursery: Nursery) -> Iterator[int]:
        """Run a bot forked from one that has imported everything; killed at the end."""
        pid = nursery.born(self.environment, self.clock, self.folder / "bot.log")
        try:
            yield pid
        finally:
            nursery.kill(pid)

    def sound(self) -> str:
        """Return what SQLite says of the state's soundness: `ok`."""
        with closing(sqlite3.connect(self.folder / "state.sqlite")) as look:
            return str(look.execute("PRAGMA integrity_check").fetchone()[0])


@contextmanager
def scene(
    folder: Path,
    *,
    begins: datetime,
    server: Any = None,
    state: str | None = None,
    environment: dict[str, str] | None = None,
    workers: int = 0,
    lease_seconds: float = 5.0,
    look_every_seconds: float = 0.5,
    messages_per_second: float = 29.0,
    status_port: int = 0,
) -> Iterator[Scene]:
    """Make a scene in an empty folder, with a chat service in this process unless one is given."""
    settings = folder / "config"
    settings.mkdir()
    text = _SETTINGS.format(
        cache=folder / "cache",
        workers=workers,
        lease_seconds=float(lease_seconds),
        look_every_seconds=float(look_every_seconds),
        messages_per_second=float(messages_per_second),
        status_port=status_port,
    )
    (settings / "settings.toml").write_text(text, encoding="utf-8")
    with InventedWeek(demo_file("week.toml")) as week, _serving(server) as running:
        given = {
            "REPLANNER_CONFIG": str(settings),
            "REPLANNER_STATE": state or f"sqlite:///{folder / 'state.sqlite'}",
            "REPLANNER_TOKEN": running.token,
            "REPLANNER_CHAT_URL": running.url,
            "REPLANNER_FORECAST_URL": week.base_url,
        }
        yield Scene(folder, running, given | (environment or {}), begins)


@contextmanager
def _serving(server: Any) -> Iterator[Any]:
    if server is not None:
        yield server
        return
    with BotApiServer() as running:
        yield running


def wait_until(ready: Callable[[], object], what: str, seconds: float = PATIENCE) -> None:
    """Look again and again until something is so."""
    until = time.monotonic() + seconds
    while not ready():
        assert time.monotonic() < until, f"not within {seconds:.0f} s: {what}"
        time.sleep(_LOOK_SECONDS)
