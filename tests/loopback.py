"""A small HTTP server on this machine that gives whatever a test tells it to."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Event, Thread
from types import TracebackType
from typing import Any, Self

import requests
import requests_cache

RECORDED = Path(__file__).parent / "data" / "openmeteo"


def recorded(name: str) -> str:
    """Return the text of a recorded answer (sources in tests/data/README.md)."""
    return (RECORDED / name).read_text(encoding="utf-8")


def composed(*names: str) -> str:
    """Return a multi-place answer COMPOSED of recorded single answers: no service gave it so."""
    return json.dumps([json.loads(recorded(name)) for name in names])


@dataclass(frozen=True)
class Reply:
    """One reply: `cut_off` promises more bytes than it sends, `delay` waits first. [s]"""

    body: str | bytes = ""
    status: int = 200
    headers: dict[str, str] = field(default_factory=lambda: {"Content-Type": "application/json"})
    delay: float = 0.0
    cut_off: bool = False


class Loopback:
    """Serves the replies one after the other, the last one for ever; keeps what was asked."""

    def __init__(self, *replies: Reply) -> None:
        self.replies: Sequence[Reply] = replies
        self.asked: list[str] = []
        self.agents: list[str | None] = []
        self._stopping = Event()

    def __enter__(self) -> Self:
        outer = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                reply = outer.reply_to(self.path)
                outer.asked.append(self.path)
                outer.agents.append(self.headers.get("User-Agent"))
                outer._stopping.wait(reply.delay)
                body = reply.body.encode() if isinstance(reply.body, str) else reply.body
                self.send_response(reply.status)
                for name, value in reply.headers.items():
                    self.send_header(name, value)
                self.send_header("Content-Length", str(len(body) + (100 if reply.cut_off else 0)))
                self.end_headers()
                try:
                    self.wfile.write(body)
                except OSError:  # the client has given up waiting
                    self.close_connection = True

            def log_message(self, *_: Any) -> None:
                pass

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        self._thread = Thread(target=self._server.serve_forever, args=(0.02,), daemon=True)
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stopping.set()
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()

    def reply_to(self, path: str) -> Reply:  # noqa: ARG002 - for services that look at the question
        """Return the reply to a path: the next in order."""
        return self.replies[min(len(self.asked), len(self.replies) - 1)]

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self._server.server_address[1]}"


def expire(session: requests.Session) -> None:
    """Make everything in a session's cache too old, as if hours had passed."""
    assert isinstance(session, requests_cache.CachedSession)
    session.cache.reset_expiration(datetime(2020, 1, 1, tzinfo=UTC))
