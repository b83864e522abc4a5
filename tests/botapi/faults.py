"""What goes wrong between bot and service, by script or by seeded chance.

Chance is drawn for the n-th call of a method from the seed, the method and n alone, so a run can
be repeated whatever the order in which the calls of different methods arrive.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from random import Random
from threading import Lock


class Kind(StrEnum):
    """What happens to one call."""

    TOO_MANY = "too_many"  # 429, the call has no effect
    INTERNAL = "internal"  # 500 as JSON, no effect
    BAD_GATEWAY = "bad_gateway"  # 502 as an HTML page, no effect
    CUT_BEFORE = "cut_before"  # the connection ends, the call has no effect
    CUT_AFTER = "cut_after"  # the call has its effect, the connection ends without an answer
    SLOW = "slow"  # the call has its effect, the answer comes late
    TWICE = "twice"  # getUpdates: every update stands twice in the answer
    AGAIN = "again"  # getUpdates: the updates confirmed last come once more


DOWNLOAD = "download"  # the name here of fetching a file, which is no method
FOR_UPDATES_ONLY = frozenset({Kind.TWICE, Kind.AGAIN})


@dataclass(frozen=True)
class Fault:
    """One fault; `seconds` is what a 429 asks to wait, or how late a slow answer is. [s]"""

    kind: Kind
    method: str | None = None
    seconds: float = 1.0

    def fits(self, method: str) -> bool:
        if self.kind in FOR_UPDATES_ONLY and method != "getupdates":
            return False
        return self.method is None or self.method.lower() == method


@dataclass
class Faults:
    """The script comes first; where no line of it fits a call, chance decides."""

    script: list[Fault] = field(default_factory=list)
    drawn: Counter[str] = field(default_factory=Counter)
    _seed: int = 0
    _chances: dict[Kind, float] = field(default_factory=dict)
    _methods: frozenset[str] = frozenset()
    _seconds: float = 1.0
    _calls: Counter[str] = field(default_factory=Counter)
    _lock: Lock = field(default_factory=Lock)

    def then(self, *faults: Fault) -> None:
        """Let these happen, each once, to the next calls they fit, in this order."""
        with self._lock:
            self.script.extend(faults)

    def by_chance(
        self,
        seed: int,
        chances: Mapping[Kind, float],
        *,
        methods: Iterable[str] = (),
        seconds: float = 1.0,
    ) -> None:
        """Draw a fault for every call of the methods (all, when none is named)."""
        assert sum(chances.values()) <= 1.0
        with self._lock:
            self._seed, self._chances = seed, dict(chances)
            self._methods = frozenset(method.lower() for method in methods)
            self._seconds = seconds

    def none(self) -> None:
        """Let nothing more go wrong."""
        with self._lock:
            self.script.clear()
            self._chances.clear()

    def draw(self, method: str) -> Fault | None:
        """Return what happens to this call (method in small letters)."""
        with self._lock:
            fault = self._from_script(method) or self._from_chance(method)
            if fault is not None:
                self.drawn[fault.kind] += 1
            return fault

    def _from_script(self, method: str) -> Fault | None:
        for index, fault in enumerate(self.script):
            if fault.fits(method):
                return self.script.pop(index)
        return None

    def _from_chance(self, method: str) -> Fault | None:
        self._calls[method] += 1
        if self._methods and method not in self._methods:
            return None
        left = Random(f"{self._seed}:{method}:{self._calls[method]}").random()
        for kind, chance in self._chances.items():
            if left < chance:
                fault = Fault(kind, seconds=self._seconds)
                return fault if fault.fits(method) else None
            left -= chance
        return None
