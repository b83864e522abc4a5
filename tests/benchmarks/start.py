"""How long the bot takes to serve, and to stop: `python -m tests.benchmarks.start [--times 5]`.

From the start of the process until it asks the chat service for updates for the first time, with
two workers. Prints wall seconds and the processor seconds of all its processes by then (what they
would take on an idle machine at most), and how long it takes to end after SIGTERM.
"""
# ruff: noqa: T201 - a script

import argparse
import os
import tempfile
import time
from pathlib import Path

from tests.benchmarks.load import cpu_seconds
from tests.serve.harness import DUE, scene, wait_until

ALLOWED_SECONDS = 3.0


def start_and_stop() -> tuple[float, float, float]:
    """Return wall and processor seconds to the first call, and wall seconds to the end. [s]"""
    with (
        tempfile.TemporaryDirectory(prefix="start-") as name,
        scene(Path(name), begins=DUE, workers=2) as at,
    ):
        begun = time.monotonic()
        with at.bot() as bot:
            wait_until(lambda: at.server.calls("getUpdates") >= 1, "the first call", 60.0)
            wall, processor = time.monotonic() - begun, cpu_seconds(bot.pid)
            told = time.monotonic()
            assert bot.stop() == 0
            return wall, processor, time.monotonic() - told


def main() -> None:
    """Measure some starts, and print the first (nothing is in the disk's cache) and the best."""
    given = argparse.ArgumentParser(prog="python -m tests.benchmarks.start", description=__doc__)
    given.add_argument("--times", type=int, default=5)
    took = [start_and_stop() for _ in range(given.parse_args().times)]
    first, best = took[0], min(took)
    load = f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors"
    print(
        f"serving after (first, best): {first[0]:.2f}, {best[0]:.2f} s (allowed {ALLOWED_SECONDS})"
    )
    print(f"processor by then: {first[1]:.2f}, {best[1]:.2f} s; {load}")
    print(f"stopped after at most {max(stop for *_, stop in took):.2f} s")


if __name__ == "__main__":
    main()
