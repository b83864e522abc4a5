"""The loopback service with one private chat open, and a state."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from replanner.store.store import Store, open_store
from tests.botapi.client import RIDER
from tests.botapi.server import BotApiServer
from tests.channels.telegram.sending import present


@pytest.fixture
def server() -> Iterator[BotApiServer]:
    with BotApiServer() as running:
        running.add_user(RIDER, "Invented rider")
        yield running


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(f"sqlite:///{tmp_path / 'state.sqlite'}", present)
    yield opened
    opened.close()
