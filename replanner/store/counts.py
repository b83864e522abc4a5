"""How much waits, was sent, failed."""

from sqlalchemy import func, select

from replanner.store.rows import Rows
from replanner.store.tables import (
    GIVEN_UP,
    SENT,
    USELESS,
    WAITING,
    arrivals,
    due,
    groups,
    letters,
    members,
)


class CountRows(Rows):
    """Figures within one transaction."""

    def counts(self) -> dict[str, int]:
        """Return how much waits, was sent, failed: for an operator to look at."""
        of_state = select(letters.c.state, func.count()).group_by(letters.c.state)
        by_state = {row[0]: row[1] for row in self._connection.execute(of_state)}
        told = {f"letters {state}": by_state.get(state, 0) for state in _STATES}
        waiting = select(func.count()).where(arrivals.c.dealt_at.is_(None))
        told["arrivals waiting"] = self._connection.scalar(waiting) or 0
        for name, table in (("due", due), ("groups", groups), ("members", members)):
            told[name] = self._connection.scalar(select(func.count()).select_from(table)) or 0
        return told


_STATES = (WAITING, SENT, GIVEN_UP, USELESS)
