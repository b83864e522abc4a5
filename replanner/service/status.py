"""What an operator sees on this machine: a page, and a line a program can read.

Served on the loopback address only. Nothing of any rider is shown, only counts.
"""

import asyncio
import html
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

_HEAD = (
    "HTTP/1.1 {status}\r\nContent-Type: {kind}; charset=utf-8\r\n"
    "Content-Length: {length}\r\nConnection: close\r\nCache-Control: no-store\r\n\r\n"
)
_LONGEST_REQUEST = 8192
_PATIENCE_SECONDS = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """How the bot is.

    Parameters
    ----------
    counts : mapping of str to int
        What waits, was sent, failed.
    last_round, last_sent, last_fetch : datetime or None
        When it last looked what is due, sent a message, heard from the chat service.
    """

    now: datetime
    started: datetime
    counts: Mapping[str, int]
    last_round: datetime | None
    last_sent: datetime | None
    last_fetch: datetime | None

    def troubles(self, patience: timedelta) -> tuple[str, ...]:
        """Return what is wrong, in words; nothing if all is well."""
        found = []
        for what, last in (("looked what is due", self.last_round), ("heard", self.last_fetch)):
            if self.now - (last or self.started) > patience:
                found.append(f"has not {what} for {_span(self.now - (last or self.started))}")
        return tuple(found)


def as_json(health: Health, patience: timedelta) -> str:
    """Return the health as one JSON object."""
    troubles = health.troubles(patience)
    return json.dumps(
        {
            "well": not troubles,
            "troubles": troubles,
            "now": health.now.isoformat(),
            "started": health.started.isoformat(),
            "last_round": _iso(health.last_round),
            "last_sent": _iso(health.last_sent),
            "last_fetch": _iso(health.last_fetch),
            "counts": dict(health.counts),
        }
    )


def page(health: Health, patience: timedelta) -> str:
    """Return the health as a page a person reads."""
    troubles = health.troubles(patience)
    told = "All is well." if not troubles else "Trouble: it " + "; it ".join(troubles) + "."
    rows = [
        ("running for", _span(health.now - health.started)),
        ("looked what is due", _ago(health.last_round, health.now)),
        ("heard from the chat service", _ago(health.last_fetch, health.now)),
        ("sent a message", _ago(health.last_sent, health.now)),
        *((name, str(count)) for name, count in health.counts.items()),
    ]
    cells = "".join(
        f"<tr><th>{html.escape(name)}</th><td>{html.escape(value)}</td></tr>"
        for name, value in rows
    )
    return (
        "<!doctype html><html lang=en><title>replanner</title><meta http-equiv=refresh content=10>"
        f"<h1>replanner</h1><p>{html.escape(told)}</p><table>{cells}</table></html>"
    )


async def serve_status(
    port: int, health: Callable[[], Health], patience: timedelta
) -> asyncio.Server:
    """Serve `/` (the page) and `/health` (JSON; status 503 when something is wrong).

    Raises
    ------
    OSError
        If the port is taken.
    """

    async def answer(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            request = await asyncio.wait_for(reader.readline(), _PATIENCE_SECONDS)
            status, kind, body = _answer(request[:_LONGEST_REQUEST], health, patience)
            content = body.encode()
            head = _HEAD.format(status=status, kind=kind, length=len(content))
            writer.write(head.encode() + content)
            await writer.drain()
        except (OSError, TimeoutError, ValueError):
            pass  # whoever asked has gone
        finally:
            writer.close()

    return await asyncio.start_server(answer, "127.0.0.1", port)


def _answer(
    request: bytes, health: Callable[[], Health], patience: timedelta
) -> tuple[str, str, str]:
    words = request.decode("latin-1").split()
    path = words[1] if len(words) > 1 and words[0] == "GET" else ""
    if path == "/":
        return "200 OK", "text/html", page(health(), patience)
    if path == "/health":
        state = health()
        status = "503 Service Unavailable" if state.troubles(patience) else "200 OK"
        return status, "application/json", as_json(state, patience)
    return "404 Not Found", "text/plain", "nothing here\n"


def _iso(moment: datetime | None) -> str | None:
    return moment.isoformat(timespec="seconds") if moment else None


def _ago(moment: datetime | None, now: datetime) -> str:
    return f"{_span(now - moment)} ago" if moment else "never"


def _span(span: timedelta) -> str:
    return str(timedelta(seconds=round(max(span, timedelta(0)).total_seconds())))
