"""`python -m tests.botapi`: the server on its own, until its standard input ends.

Prints one line of JSON with the address, the token and the control port (`control.py`).
"""

import argparse
import json
import sys
from pathlib import Path
from threading import Thread

from tests.botapi.control import ControlPort
from tests.botapi.limits import Limits
from tests.botapi.server import TOKEN, BotApiServer


def main() -> None:
    given = argparse.ArgumentParser(prog="python -m tests.botapi", description=__doc__)
    given.add_argument("--journal", type=Path, help="append what happens to this file")
    given.add_argument("--port", type=int, default=0, help="0: any free one")
    given.add_argument("--limits", action="store_true", help="refuse more than the real limits")
    args = given.parse_args()
    limits = Limits() if args.limits else Limits.off()
    server = BotApiServer(limits=limits, journal=args.journal, port=args.port)
    with server, ControlPort(server) as control:
        Thread(target=control.serve_forever, args=(0.02,), daemon=True).start()
        told = {"url": server.url, "token": TOKEN, "control": control.server_address[1]}
        print(json.dumps(told), flush=True)  # noqa: T201 - the one thing it says
        sys.stdin.read()
        control.shutdown()


main()
