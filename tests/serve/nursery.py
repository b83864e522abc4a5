"""Bots that are born at once: forked from a process that has imported all they need.

Starting the interpreter and importing takes seconds of processor for each life; a crash test
wants hundreds. The fork is a process like any other: it opens its own state and connections, and
SIGKILL ends it without notice. `python -m tests.serve.nursery` is the mother: one thread, no state.
"""

import json
import os
import signal
import subprocess
import sys
import traceback
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

ROOT = Path(__file__).parents[2]


class Nursery:
    """The mother process; use it as a context manager."""

    def __enter__(self) -> Self:
        # One thread only: a fork keeps no other.
        plain = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.serve.nursery"],
            cwd=ROOT,
            env=os.environ | plain,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.wait()
        self._process.stdout.close()

    def born(self, environment: Mapping[str, str], clock: tuple[str, str], log: Path) -> int:
        """Start a bot and return its process number; the clock is as `Scene.clock` tells it."""
        return self._ask({"environment": dict(environment), "clock": clock, "log": str(log)})

    def kill(self, pid: int) -> int:
        """SIGKILL a bot and wait for its end; return its exit status."""
        os.kill(pid, signal.SIGKILL)
        return self.wait(pid)

    def wait(self, pid: int) -> int:
        """Wait for a bot's end and return its exit status, of a signal below zero."""
        return self._ask({"wait": pid})

    def _ask(self, what: dict[str, object]) -> int:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(what) + "\n")
        self._process.stdin.flush()
        return int(self._process.stdout.readline())


def main() -> None:
    """Bear bots until the standard input ends."""
    from tests.serve import bot_process  # noqa: PLC0415 - slow, and the mother's alone

    bot_process.import_all()
    for line in iter(sys.stdin.readline, ""):
        asked = json.loads(line)
        if "wait" in asked:
            answer = os.waitstatus_to_exitcode(os.waitpid(asked["wait"], 0)[1])
        else:
            answer = os.fork()
            if answer == 0:
                _live(asked)
        print(answer, flush=True)  # noqa: T201 - the answer asked for


def _live(asked: dict[str, object]) -> None:
    from tests.serve import bot_process  # noqa: PLC0415

    status = 1
    try:
        words = os.open(str(asked["log"]), os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        nothing = os.open(os.devnull, os.O_RDONLY)
        for old, new in ((nothing, 0), (words, 1), (words, 2)):
            os.dup2(old, new)
        environment = asked["environment"]
        assert isinstance(environment, dict)
        os.environ.update(environment)
        clock = asked["clock"]
        assert isinstance(clock, list)
        bot_process.live(*(datetime.fromisoformat(told) for told in clock))
        status = 0
    except BaseException:
        traceback.print_exc()
        raise
    finally:
        sys.stderr.flush()
        os._exit(status)


if __name__ == "__main__":
    main()
