"""How much one chat may ask in a while: the rest is not looked at, and that is said once."""

from collections import deque
from datetime import datetime, timedelta

from replanner.advice.words import words_for
from replanner.people import ChatId
from replanner.post import Incoming, Letter, PositionIn, Words

# A rider in gloves types less; a script types more. Assumptions.
_MOST, _WITHIN = 20, timedelta(minutes=1)
_LIVE_EVERY = timedelta(seconds=45)  # live positions come every few seconds, one a while will do


class Pressure:
    """Counts what came of each chat lately; forgets with the process, which is harmless."""

    def __init__(self) -> None:
        self._lately: dict[ChatId, deque[datetime]] = {}
        self._live: dict[ChatId, datetime] = {}

    def refused(self, incoming: Incoming, now: datetime) -> tuple[Letter, ...] | None:
        """Return None to let it through, else what to say of its not being looked at."""
        chat = incoming.chat
        if isinstance(incoming.what, PositionIn) and incoming.what.live:
            last = self._live.get(chat)
            if last is not None and timedelta(0) <= incoming.sent - last < _LIVE_EVERY:
                return ()
            self._live[chat] = incoming.sent
            return None
        lately = self._lately.setdefault(chat, deque())
        while lately and now - lately[0] > _WITHIN:
            lately.popleft()
        if len(lately) < _MOST:
            lately.append(now)
            return None
        return (_slower(incoming, lately[0], now),)


def _slower(incoming: Incoming, since: datetime, now: datetime) -> Letter:
    line = "That was more than I can follow. Wait a minute, then say it again."
    return Letter(
        key=f"slower:{incoming.chat}:{since.isoformat()}",
        chat=incoming.chat,
        body=Words(text=words_for("en").say(line)),
        not_before=now,
    )
