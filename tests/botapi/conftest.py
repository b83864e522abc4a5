"""A running server with one private chat open."""

from collections.abc import Iterator

import pytest

from tests.botapi.client import RIDER
from tests.botapi.server import BotApiServer


@pytest.fixture(autouse=True)
def spans_of_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """The library warns of its own coming change at every 429 and live position unless told so."""
    monkeypatch.setenv("PTB_TIMEDELTA", "true")


@pytest.fixture
def server() -> Iterator[BotApiServer]:
    with BotApiServer() as running:
        running.add_user(RIDER, "Invented rider")
        yield running
