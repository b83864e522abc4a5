"""How many messages the service takes before it answers 429.

FAQ (https://core.telegram.org/bots/faq): no more than one message a second in one chat, short
bursts over it may pass; about 30 messages a second overall; 20 a minute in one group. How long a
burst may be is not published: the sizes of the bursts here are assumptions.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from math import ceil

from tests.botapi.facts import too_many


@dataclass
class Bucket:
    """Tokens that come back at an even pace; who comes too early must wait the time told."""

    per_second: float
    burst: float
    tokens: float = field(init=False)
    at: float | None = None
    shut_until: float = 0.0

    def __post_init__(self) -> None:
        self.tokens = self.burst

    def wait(self, now: float) -> int:
        """Return for how long this bucket is shut, zero when a message may pass. [s]"""
        if now < self.shut_until:
            return ceil(self.shut_until - now)
        if self.at is not None:
            self.tokens = min(self.burst, self.tokens + (now - self.at) * self.per_second)
        self.at = now
        if self.tokens >= 1.0:
            return 0
        seconds = max(1, ceil((1.0 - self.tokens) / self.per_second))
        self.shut_until = now + seconds
        return seconds

    def take(self) -> None:
        self.tokens -= 1.0


@dataclass
class Limits:
    """The service's limits; `Limits.off()` lets everything pass."""

    overall_per_second: float = 30.0
    overall_burst: float = 30.0
    chat_per_second: float = 1.0
    chat_burst: float = 3.0
    group_per_minute: float = 20.0
    on: bool = True
    _overall: Bucket = field(init=False)
    _chats: dict[int, Bucket] = field(init=False, default_factory=dict)
    _groups: dict[int, Bucket] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self._overall = Bucket(self.overall_per_second, self.overall_burst)

    @classmethod
    def off(cls) -> "Limits":
        return cls(on=False)

    def admit(self, chat_id: int, now: float, *, group: bool) -> None:
        """Let one message pass, or refuse it with 429 and the time to wait."""
        if not self.on:
            return
        chat = _bucket(self._chats, chat_id, lambda: Bucket(self.chat_per_second, self.chat_burst))
        buckets = [self._overall, chat]
        if group:
            pace = self.group_per_minute
            buckets.append(_bucket(self._groups, chat_id, lambda: Bucket(pace / 60.0, pace)))
        seconds = max(bucket.wait(now) for bucket in buckets)
        if seconds:
            raise too_many(seconds)
        for bucket in buckets:
            bucket.take()


def _bucket(buckets: dict[int, Bucket], key: int, fresh: Callable[[], Bucket]) -> Bucket:
    if key not in buckets:
        buckets[key] = fresh()
    return buckets[key]
