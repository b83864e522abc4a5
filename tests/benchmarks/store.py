"""Time the store against a bare loop of sqlite3 on the same disk; a script, not a test.

    python tests/benchmarks/store.py [address]

Prints how fast 10,000 due rows are claimed, letters kept and claimed, and how long one commit
takes. The peer is the standard library's sqlite3 with the same pragmas, one insert a commit: what
the disk alone allows. Without an address SQLite in a temporary folder is timed.
"""

import sqlite3
import statistics
import sys
import tempfile
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import perf_counter

from replanner.post import DueKind, Letter, Words
from replanner.store.store import Store, open_store

NOW = datetime(2027, 4, 1, 7, 30, tzinfo=UTC)
LEASE = timedelta(minutes=2)
DUES = 10_000
LETTERS = 2_000
COMMITS = 200
TEXT = "x" * 650  # a message is at most so long


def main(address: str, folder: Path) -> None:
    """Print the figures."""
    store = open_store(address, lambda: NOW)
    begun = perf_counter()
    with store.work() as work:
        for owner in range(DUES):
            work.set_due(DueKind.EVENING, owner, NOW)
    tell("due rows set", DUES, perf_counter() - begun)
    begun = perf_counter()
    claimed = store.claim_due(NOW, LEASE, DUES)
    tell("due rows claimed", len(claimed), perf_counter() - begun)

    commits = [_timed(store, number) for number in range(COMMITS)]
    sys.stdout.write(f"one letter a commit: median {statistics.median(commits) * 1000:.2f} ms\n")
    peers = _peer(folder / "peer.sqlite")
    sys.stdout.write(f"peer, bare sqlite3:  median {statistics.median(peers) * 1000:.2f} ms\n")
    sys.stdout.write(
        f"turns of the peer:   {statistics.median(commits) / statistics.median(peers):.2f}\n"
    )

    begun = perf_counter()
    with store.work() as work:
        work.post([_letter(f"many {number}", 1_000 + number) for number in range(LETTERS)])
    tell("letters kept at once", LETTERS, perf_counter() - begun)
    begun = perf_counter()
    done = 0
    while letters := store.claim(NOW, LEASE, 30):
        for letter in letters:
            store.sent(letter.row, letter.row, NOW)
        done += len(letters)
    tell("letters claimed by 30 and marked as sent one by one", done, perf_counter() - begun)
    store.close()


def tell(what: str, number: int, seconds: float) -> None:
    """Print one figure."""
    sys.stdout.write(f"{what}: {number} in {seconds:.3f} s, {number / seconds:,.0f} a second\n")


def _letter(key: str, chat: int) -> Letter:
    return Letter(key=key, chat=chat, body=Words(text=TEXT, slot="plan"), not_before=NOW)


def _timed(store: Store, number: int) -> float:
    begun = perf_counter()
    with store.work() as work:
        work.post([_letter(f"one {number}", number)])
    return perf_counter() - begun


def _peer(path: Path) -> list[float]:
    times = []
    with closing(sqlite3.connect(path, isolation_level=None)) as peer:
        peer.execute("PRAGMA journal_mode = WAL")
        peer.execute("PRAGMA synchronous = FULL")
        peer.execute("CREATE TABLE letters (id INTEGER PRIMARY KEY, key TEXT UNIQUE, body TEXT)")
        for number in range(COMMITS):
            begun = perf_counter()
            peer.execute("BEGIN IMMEDIATE")
            peer.execute("INSERT INTO letters (key, body) VALUES (?, ?)", (f"one {number}", TEXT))
            peer.execute("COMMIT")
            times.append(perf_counter() - begun)
    return times


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        main(sys.argv[1] if len(sys.argv) > 1 else f"{folder}/state.sqlite", Path(folder))
