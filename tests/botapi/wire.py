"""The service's HTTP side: calls and files in, one buffered answer out, faults on the way."""

import json
import re
import socket
import sys
import time
from email.message import Message
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from traceback import format_exc
from typing import Any
from urllib.parse import parse_qsl, unquote, urlsplit

from tests.botapi import facts
from tests.botapi.facts import Refusal, bad_request, from_json
from tests.botapi.faults import DOWNLOAD, Fault, Kind
from tests.botapi.methods import METHODS, Call, Upload
from tests.botapi.polling import get_updates
from tests.botapi.state import World

TOKEN_FORM = re.compile(r"[1-9]\d*:[\w-]{20,}")
GATEWAY_PAGE = (
    b"<html><head><title>502 Bad Gateway</title></head>"
    b"<body><center><h1>502 Bad Gateway</h1></center></body></html>"
)


class CutError(Exception):
    """The connection ends here, without an answer."""


class Wire(ThreadingHTTPServer):
    """One thread a connection; all of them end with the server."""

    daemon_threads = True
    request_queue_size = 256

    def __init__(self, world: World, port: int = 0) -> None:
        self.world = world
        self.open: set[socket.socket] = set()
        super().__init__(("127.0.0.1", port), Handler)

    def process_request(self, request: Any, client_address: Any) -> None:
        self.open.add(request)
        super().process_request(request, client_address)

    def shutdown_request(self, request: Any) -> None:
        self.open.discard(request)
        super().shutdown_request(request)

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Keep what broke here, unless the client merely went away (a killed bot does)."""
        if not isinstance(sys.exception(), OSError):
            self.world.broken.append(format_exc())
            super().handle_error(request, client_address)

    def hang_up(self) -> None:
        """End every connection still open."""
        for connection in list(self.open):
            try:
                connection.shutdown(socket.SHUT_RDWR)
            except OSError:  # it ended meanwhile
                continue


class Handler(BaseHTTPRequestHandler):
    """One call after the other on one connection."""

    server: Wire
    protocol_version = "HTTP/1.1"
    disable_nagle_algorithm = True
    wbufsize = -1  # head and body leave in one piece

    def do_GET(self) -> None:
        self._answer()

    def do_POST(self) -> None:
        self._answer()

    def log_message(self, *_: Any) -> None:
        pass

    def _answer(self) -> None:
        try:
            url = urlsplit(self.path)
            if url.path.startswith("/file/"):
                self._give_file(unquote(url.path))
            else:
                self._give_result(unquote(url.path), url.query)
        except Refusal as refusal:
            self._give_json(refusal.code, refusal.as_json(), refusal.retry_after)
        except CutError:
            self.close_connection = True
            self.connection.shutdown(socket.SHUT_RDWR)

    def _give_file(self, path: str) -> None:
        token, _, wanted = path.removeprefix("/file/bot").partition("/")
        self._check_token(token)
        with self.server.world.changed:
            kept = next((f for f in self.server.world.files.values() if f.path == wanted), None)
        fault = self._fault(DOWNLOAD)
        if kept is None or len(kept.content) > facts.DOWNLOAD_BYTES:
            raise Refusal(404, "Not Found")
        _after(fault)
        self._give(200, kept.content, kept.mime or "application/octet-stream")

    def _give_result(self, path: str, query: str) -> None:
        call = self._call(query)  # the whole call is read first, whatever the answer will be
        token, _, method = path.removeprefix("/bot").partition("/")
        self._check_token(token)
        self._give(200, self._result(method.lower(), call), "application/json")

    def _check_token(self, token: str) -> None:
        if not TOKEN_FORM.fullmatch(token):
            raise Refusal(404, "Not Found")
        if token != self.server.world.token:
            raise Refusal(401, "Unauthorized")

    def _result(self, method: str, call: Call) -> bytes:
        world = self.server.world
        fault = self._fault(method)
        if method == "getupdates":
            result = _encoded(get_updates(world, call.args, fault))
        elif method in METHODS:
            with world.changed:
                result = _encoded(METHODS[method](world, call))
        else:
            raise Refusal(404, facts.METHOD_UNKNOWN)
        _after(fault)
        return result

    def _fault(self, method: str) -> Fault | None:
        """Return what goes wrong with this call; let it go wrong if it does before any effect."""
        world = self.server.world
        fault = world.faults.draw(method)
        with world.changed:
            world.calls[method] += 1
            if fault is not None:
                world.note("fault", kind=fault.kind, method=method)
        _before(fault)
        return fault

    def _call(self, query: str) -> Call:
        length = int(self.headers.get("Content-Length") or 0)
        body = self.rfile.read(length)
        if len(body) < length:  # the bot died while it spoke: nothing of it counts
            raise CutError
        try:
            asked = parse_qsl(query, keep_blank_values=True, errors="strict")
            return _with_body(self.headers, body, dict(asked))
        except UnicodeDecodeError:
            raise bad_request("strings must be encoded in UTF-8") from None

    def _give_json(self, status: int, body: dict[str, Any], retry_after: int | None = None) -> None:
        if status == HTTPStatus.BAD_GATEWAY:
            self._give(status, GATEWAY_PAGE, "text/html")
        else:
            self._give(status, json.dumps(body).encode(), "application/json", retry_after)

    def _give(self, status: int, content: bytes, kind: str, retry_after: int | None = None) -> None:
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(content)))
        if retry_after is not None:
            self.send_header("Retry-After", str(retry_after))
        self.end_headers()
        self.wfile.write(content)


def _encoded(result: Any) -> bytes:
    return json.dumps({"ok": True, "result": result}).encode()


def _before(fault: Fault | None) -> None:
    """Let go wrong what goes wrong before the call has an effect."""
    match fault:
        case Fault(kind=Kind.TOO_MANY):
            raise facts.too_many(max(1, round(fault.seconds)))
        case Fault(kind=Kind.INTERNAL):
            raise Refusal(500, "Internal Server Error")
        case Fault(kind=Kind.BAD_GATEWAY):
            raise Refusal(502, "Bad Gateway")
        case Fault(kind=Kind.CUT_BEFORE):
            raise CutError


def _after(fault: Fault | None) -> None:
    """Let go wrong what goes wrong with the answer alone."""
    match fault:
        case Fault(kind=Kind.CUT_AFTER):
            raise CutError
        case Fault(kind=Kind.SLOW, seconds=seconds):
            time.sleep(seconds)


def _with_body(headers: Message, body: bytes, args: dict[str, str]) -> Call:
    kind = headers.get_content_type()
    if kind == "application/json" and body:
        given = from_json(body.decode(), "request")
        args |= {name: v if isinstance(v, str) else json.dumps(v) for name, v in given.items()}
        return Call(args)
    if kind == "multipart/form-data":
        fields, files = _parts(body, str(headers.get_param("boundary")).encode())
        return Call(args | fields, files)
    return Call(args | dict(parse_qsl(body.decode(), keep_blank_values=True, errors="strict")))


def _parts(body: bytes, boundary: bytes) -> tuple[dict[str, str], dict[str, Upload]]:
    """Take a multipart body apart, its files byte by byte as they came."""
    fields: dict[str, str] = {}
    files: dict[str, Upload] = {}
    for part in (b"\r\n" + body).split(b"\r\n--" + boundary)[1:-1]:
        head, _, content = part.partition(b"\r\n\r\n")
        lines = Message()
        for line in head.decode().strip().splitlines():
            name, _, value = line.partition(":")
            lines[name.strip()] = value.strip()
        name = str(lines.get_param("name", header="Content-Disposition"))
        file_name = lines.get_param("filename", header="Content-Disposition")
        if file_name is None:
            fields[name] = content.decode()
        else:
            files[name] = Upload(str(file_name), lines.get_content_type(), content)
    return fields, files
