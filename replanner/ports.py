"""What the core asks of the world: one page of protocols, implemented in the shell."""

from datetime import date
from typing import Protocol

from replanner.advice.briefing import Briefing
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

    def keep_plan(self, tour_key: str, briefing: Briefing, *, accepted: bool) -> None:
        """Store a plan in one transaction."""
        ...
