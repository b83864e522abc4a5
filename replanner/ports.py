"""What the core asks of the world: one page of protocols, implemented in the shell."""

from datetime import date
from typing import Protocol

from replanner.advice.briefing import Briefing
from replanner.dialogue.events import Memory
from replanner.trip.edits import Demands
from replanner.weather.hourly import ForecastSource

__all__ = ["ForecastSource", "PlanStore"]


class PlanStore(Protocol):
    """Keeps what must outlive a run. `tour_key` tells tours apart."""

    def last_plan(self, tour_key: str, day: date) -> Briefing | None:
        """Return the newest stored plan of that day, accepted ones before others."""
        ...

    def accepted_plan(self, tour_key: str, day: date) -> Briefing | None:
        """Return the accepted plan of that day."""
        ...

    def keep_plan(
        self,
        tour_key: str,
        briefing: Briefing,
        *,
        accepted: bool,
        demands: Demands | None = None,
    ) -> None:
        """Store a plan, and the demands it was made under, in one transaction.

        An accepted plan takes the place of the one accepted before on that day.
        """
        ...

    def withdraw(self, tour_key: str, day: date) -> None:
        """Let no plan of that day be accepted any more."""
        ...

    def remember(self, tour_key: str, day: date, memory: Memory) -> None:
        """Keep what a conversation about that day must not forget."""
        ...

    def recall(self, tour_key: str, day: date) -> Memory:
        """Return what was kept, an empty memory if nothing was.

        Legs that another day's demands move to or from this day are part of it.
        """
        ...
