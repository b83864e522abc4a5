"""Waiting for each other: of one group one after another, of different groups at once."""

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock
from weakref import WeakValueDictionary

from replanner.people import GroupId


class _Turn:
    """A lock that goes when nobody holds it or waits for it."""

    def __init__(self) -> None:
        self.lock = Lock()


class Turns:
    """Lets one thread of this process at a time deal with a group."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._turns: WeakValueDictionary[GroupId, _Turn] = WeakValueDictionary()

    @contextmanager
    def of(self, group: GroupId) -> Iterator[None]:
        """Wait for the group's turn, and hold it."""
        with self._lock:
            turn = self._turns.get(group)
            if turn is None:
                turn = self._turns[group] = _Turn()
        with turn.lock:
            yield
