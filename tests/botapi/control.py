"""The server in a process of its own, and its strings: it lives on when the bot is killed.

`ApiProcess` starts `python -m tests.botapi` and plays people over a small port on this machine:
one connection, a line of JSON for every call, a line of JSON back. The journal holds one line for
each thing that happened (sent, edited, deleted, answered, update, confirmed, fault).
"""

import base64
import json
import socket
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from socketserver import StreamRequestHandler, ThreadingTCPServer
from threading import Lock
from types import TracebackType
from typing import Any, Self

from tests.botapi.facts import Refusal
from tests.botapi.faults import Fault, Kind
from tests.botapi.people import GPX
from tests.botapi.server import PATIENCE, BotApiServer
from tests.botapi.state import Delivery, Json, Version

ROOT = Path(__file__).parents[2]
STRINGS = frozenset(
    {
        "add_group",
        "add_user",
        "user_says",
        "user_edits",
        "user_presses",
        "user_shares",
        "user_moves",
        "user_stops_sharing",
        "user_sends_file",
        "user_sends_photo",
        "user_sends_voice",
        "user_sends_sticker",
        "user_blocks",
        "user_unblocks",
        "sent_to",
        "wait_for_sent",
        "wait_for_text",
        "wait_until_confirmed",
        "quiet_for",
        "calls",
    }
)


class ControlPort(ThreadingTCPServer):
    """Pulls a server's strings for another process."""

    daemon_threads = True

    def __init__(self, server: BotApiServer) -> None:
        self.server = server
        super().__init__(("127.0.0.1", 0), _Line)


class _Line(StreamRequestHandler):
    server: ControlPort
    disable_nagle_algorithm = True

    def handle(self) -> None:
        for line in self.rfile:
            try:
                answer = {"result": pull(self.server.server, json.loads(line))}
            except (AssertionError, KeyError, TypeError, ValueError, Refusal) as error:
                answer = {"error": f"{type(error).__name__}: {error}"}
            self.wfile.write(json.dumps(answer, default=_plain).encode() + b"\n")


def pull(server: BotApiServer, asked: Json) -> Any:
    """Do on a server what a line asks for and return what comes of it."""
    name, args = asked["do"], {key: _rich(value) for key, value in asked["args"].items()}
    if name == "faults_then":
        faults = [Fault(Kind(f["kind"]), f["method"], f["seconds"]) for f in args["faults"]]
        return server.faults.then(*faults)
    if name == "faults_by_chance":
        chances = {Kind(kind): chance for kind, chance in args.pop("chances").items()}
        return server.faults.by_chance(chances=chances, **args)
    if name == "faults_none":
        return server.faults.none()
    if name == "faults_drawn":
        return dict(server.faults.drawn)
    if name in {"sent", "answers", "pending"}:
        return getattr(server, name)
    if name not in STRINGS:
        raise ValueError(f"no such string: {name}")
    return getattr(server, name)(**args)


def _plain(value: Any) -> Any:
    if isinstance(value, bytes):
        return {"bytes": base64.b64encode(value).decode()}
    if isinstance(value, datetime):
        return value.timestamp()
    if isinstance(value, Delivery | Fault):
        return asdict(value)
    raise TypeError(f"cannot be written down: {type(value)}")


def _rich(value: Any) -> Any:
    if isinstance(value, dict) and value.keys() == {"bytes"}:
        return base64.b64decode(value["bytes"])
    return value


def delivery_of(written: Json) -> Delivery:
    """Return a delivery as it was written down (by the control port or in the journal)."""
    versions = [Version(**version) for version in written["versions"]]
    return Delivery(**(written | {"versions": versions}))


def read_journal(path: Path) -> list[Json]:
    """Return the journal's events in order; a line cut short by a kill is left out."""
    lines = path.read_text(encoding="utf-8").split("\n")[:-1]
    return [json.loads(line) for line in lines]


class ApiProcess:
    """The server in its own process; the same calls as `People`, by the control port.

    `limits` (off by default) takes the documented ones; a given `port` is for a bot that starts
    before the service is there.
    """

    def __init__(self, journal: Path, *, limits: bool = False, port: int = 0) -> None:
        self.journal = journal
        command = [sys.executable, "-m", "tests.botapi", "--journal", str(journal)]
        command += ["--port", str(port)] + (["--limits"] if limits else [])
        self._process = subprocess.Popen(  # noqa: S603 - our own module
            command, cwd=ROOT, stdout=subprocess.PIPE, stdin=subprocess.PIPE, text=True
        )
        assert self._process.stdout is not None
        told = json.loads(self._process.stdout.readline())
        self.token: str = told["token"]
        self.url: str = told["url"]
        self.base_url = f"{self.url}/bot"
        self.base_file_url = f"{self.url}/file/bot"
        self._lock = Lock()
        self._line = socket.create_connection(("127.0.0.1", told["control"]))
        self._line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._answers = self._line.makefile("r", encoding="utf-8")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._answers.close()
        self._line.close()
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()  # the server ends when its standard input does
        self._process.wait(PATIENCE)
        self._process.stdout.close()

    def pull(self, name: str, /, **args: Any) -> Any:
        """Pull one string by name and return what came of it."""
        with self._lock:
            line = json.dumps({"do": name, "args": args}, default=_plain) + "\n"
            self._line.sendall(line.encode())
            answer = json.loads(self._answers.readline())
        if "error" in answer:
            raise AssertionError(answer["error"])
        return answer["result"]

    def add_group(self, chat: int, title: str, members: dict[int, str]) -> None:
        self.pull("add_group", chat=chat, title=title, members=members)

    def user_says(self, chat: int, text: str, **more: Any) -> int:
        return int(self.pull("user_says", chat=chat, text=text, **more))

    def user_presses(self, chat: int, message_id: int, callback_data: str, **more: Any) -> str:
        pressed = {"chat": chat, "message_id": message_id, "callback_data": callback_data}
        return str(self.pull("user_presses", **pressed, **more))

    def user_shares(self, chat: int, lat: float, lon: float, **more: Any) -> int:
        return int(self.pull("user_shares", chat=chat, lat=lat, lon=lon, **more))

    def user_moves(self, chat: int, message_id: int, lat: float, lon: float, **more: Any) -> None:
        self.pull("user_moves", chat=chat, message_id=message_id, lat=lat, lon=lon, **more)

    def user_sends_file(
        self, chat: int, name: str, content: bytes, mime: str = GPX, **more: Any
    ) -> int:
        sent = {"chat": chat, "name": name, "content": content, "mime": mime}
        return int(self.pull("user_sends_file", **sent, **more))

    def fail_then(self, *faults: Fault) -> None:
        self.pull("faults_then", faults=list(faults))

    def fail_by_chance(
        self, seed: int, chances: Mapping[Kind, float], *, methods: tuple[str, ...] = ()
    ) -> None:
        self.pull("faults_by_chance", seed=seed, chances=dict(chances), methods=methods)

    def fail_no_more(self) -> None:
        self.pull("faults_none")

    @property
    def sent(self) -> list[Delivery]:
        return [delivery_of(written) for written in self.pull("sent")]

    def sent_to(self, chat: int) -> list[Delivery]:
        return [delivery_of(written) for written in self.pull("sent_to", chat=chat)]

    def wait_for_sent(self, chat: int, count: int = 1, timeout: float = PATIENCE) -> list[Delivery]:
        written = self.pull("wait_for_sent", chat=chat, count=count, timeout=timeout)
        return [delivery_of(one) for one in written]

    def wait_until_confirmed(self, timeout: float = PATIENCE) -> None:
        self.pull("wait_until_confirmed", timeout=timeout)
