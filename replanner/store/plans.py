"""The name by which the terminal opens the state."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from replanner.store.opening import open_database
from replanner.store.store import Store


class SqlitePlanStore(Store):
    """A `Store` in one file."""

    def __init__(self, path: Path, now: Callable[[], datetime]) -> None:
        super().__init__(open_database(str(path)), now)
