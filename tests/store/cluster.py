"""A PostgreSQL server of our own: a fresh cluster in a temporary folder, on a unix socket only."""

import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import psycopg

_PATIENCE_SECONDS = 60
_UNPRIVILEGED = "nobody"  # the server refuses to run as root


class Cluster:
    """A running server with one database, emptied for each test."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def emptied(self) -> str:
        """Return the address of the database, empty now."""
        with self.connect() as connection:
            connection.execute("DROP SCHEMA public CASCADE")
            connection.execute("CREATE SCHEMA public")
        return f"postgresql://rider@/postgres?host={self._folder}"

    def connect(self) -> psycopg.Connection[tuple[Any, ...]]:
        return psycopg.connect(
            host=str(self._folder), user="rider", dbname="postgres", autocommit=True
        )


def why_not() -> str:
    """Return why no server can be started here; empty: it can."""
    for program in ("initdb", "postgres"):
        if shutil.which(program) is None:
            return f"no PostgreSQL here: {program} is not on the PATH"
    return ""


@contextmanager
def running_cluster() -> Iterator[Cluster]:
    """Start a server, and stop it at the end; its folder goes with it."""
    folder = Path(tempfile.mkdtemp(prefix="cluster-"))  # a socket's path must be short
    as_user: dict[str, Any] = {"cwd": "/"}
    if os.geteuid() == 0:
        shutil.chown(folder, _UNPRIVILEGED)
        as_user |= {"user": _UNPRIVILEGED, "extra_groups": []}
    data = folder / "data"
    make = ["initdb", "-D", str(data), "-A", "trust", "-U", "rider", "-N", "--encoding=UTF8"]
    run = ["postgres", "-D", str(data), "-k", str(folder), "-c", "listen_addresses="]
    # Kept in memory as it were: these tests are of our transactions, not of the server's disk.
    run += ["-c", "fsync=off", "-c", "full_page_writes=off", "-c", "max_connections=60"]
    try:
        subprocess.run([*make, "--locale=C"], check=True, capture_output=True, **as_user)  # noqa: S603 - ours
        with (folder.parent / f"{folder.name}.log").open("wb") as words:
            server = subprocess.Popen(run, stdout=words, stderr=words, **as_user)  # noqa: S603 - ours
            try:
                cluster = Cluster(folder)
                _wait_for(cluster, server)
                yield cluster
            finally:
                server.send_signal(signal.SIGQUIT)  # at once: nothing of it is needed any more
                server.wait(_PATIENCE_SECONDS)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        (folder.parent / f"{folder.name}.log").unlink(missing_ok=True)


def _wait_for(cluster: Cluster, server: "subprocess.Popen[bytes]") -> None:
    until = time.monotonic() + _PATIENCE_SECONDS
    while True:
        try:
            cluster.connect().close()
        except psycopg.OperationalError:
            assert server.poll() is None, "the server has ended"
            assert time.monotonic() < until, "the server does not answer"
            time.sleep(0.05)
        else:
            return
