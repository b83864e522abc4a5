"""How much one chat may ask, or guess, in a while: the rest is not looked at.

That is said once. A call for help is always looked at.
"""

from collections import OrderedDict, deque
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from threading import Lock

from replanner.advice.words import words_for
from replanner.dialogue.emergency import is_call_for_help
from replanner.people import ChatId
from replanner.post import Incoming, Letter, PositionIn, TextIn, Words

# A rider in gloves types less; a script types more. Assumptions.
_MOST, _WITHIN = 20, timedelta(minutes=1)
_MOST_GUESSES, _GUESSES_WITHIN = 5, timedelta(hours=1)
_LIVE_EVERY = timedelta(seconds=45)  # live positions come every few seconds, one a while will do
_CHATS_KEPT = 5_000  # of those heard last; who was forgotten starts afresh


@dataclass(slots=True)
class _Lately:
    """What came of a chat in the last while."""

    at: deque[datetime] = field(default_factory=lambda: deque(maxlen=_MOST))
    live: datetime | None = None
    told: datetime | None = None


class Pressure:
    """Counts what came of each chat lately; forgets with the process, which is harmless."""

    def __init__(self) -> None:
        self._chats: OrderedDict[ChatId, _Lately] = OrderedDict()
        self._lock = Lock()  # chats are dealt with side by side

    def __len__(self) -> int:
        """Return how many chats are counted now."""
        return len(self._chats)

    def guesses(self, chat: ChatId, now: datetime) -> bool:
        """Note that a chat nobody knows tries a code; False: it has tried too many."""
        lately = self._of(chat)
        while lately.at and now - lately.at[0] > _GUESSES_WITHIN:
            lately.at.popleft()
        if len(lately.at) >= _MOST_GUESSES:
            return False
        lately.at.append(now)
        return True

    def refused(self, incoming: Incoming, now: datetime) -> tuple[Letter, ...] | None:
        """Return None to let it through, else what to say of its not being looked at."""
        lately = self._of(incoming.chat)
        if isinstance(incoming.what, PositionIn) and incoming.what.live:
            return _live(lately, incoming.sent)
        if isinstance(incoming.what, TextIn) and is_call_for_help(incoming.what.text):
            return None
        while lately.at and now - lately.at[0] > _WITHIN:
            lately.at.popleft()
        if len(lately.at) < _MOST:
            lately.at.append(now)
            return None
        if lately.told is not None and now - lately.told <= _WITHIN:
            return ()
        lately.told = now
        return (_slower(incoming, now),)

    def _of(self, chat: ChatId) -> _Lately:
        with self._lock:
            lately = self._chats.setdefault(chat, _Lately())
            self._chats.move_to_end(chat)
            if len(self._chats) > _CHATS_KEPT:
                self._chats.popitem(last=False)
            return lately


def _live(lately: _Lately, sent: datetime) -> tuple[Letter, ...] | None:
    if lately.live is not None and timedelta(0) <= sent - lately.live < _LIVE_EVERY:
        return ()
    lately.live = sent
    return None


def _slower(incoming: Incoming, now: datetime) -> Letter:
    line = "That was more than I can follow. Wait a minute, then say it again."
    return Letter(
        key=f"slower:{incoming.chat}:{now.isoformat()}",
        chat=incoming.chat,
        body=Words(text=words_for("en").say(line)),
        not_before=now,
    )
