"""A state on each kind of database, and a clock that stands still until it is told."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from replanner.store.store import Store, open_store
from tests.dialogue.evening import SENT
from tests.store.cluster import Cluster, running_cluster, why_not


class Clock:
    """Tells the same instant until it is moved on."""

    def __init__(self) -> None:
        self.now = SENT

    def __call__(self) -> datetime:
        return self.now

    def on(self, **by: float) -> datetime:
        """Move on by a timedelta's arguments, and tell the instant."""
        self.now += timedelta(**by)
        return self.now


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    if reason := why_not():
        pytest.skip(reason)
    with running_cluster() as running:
        yield running


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'state.sqlite'}"
    running: Cluster = request.getfixturevalue("cluster")
    return running.emptied()


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def store(address: str, clock: Clock) -> Iterator[Store]:
    opened = open_store(address, clock)
    yield opened
    opened.close()
