"""A day of the demo tour ridden and talked about, with the real planner. All INVENTED."""

from dataclasses import replace
from datetime import date, datetime, time

from replanner.clock import local_instant
from replanner.dialogue.book import book_of
from replanner.dialogue.events import (
    Effect,
    EveningCame,
    Event,
    Memory,
    PlanArrived,
    PlanFailed,
    PositionCame,
    Replan,
    RiderSaid,
    Say,
)
from replanner.dialogue.state import State, begin
from replanner.dialogue.step import step
from replanner.errors import ReplannerError
from replanner.planning.rules import Rules
from replanner.service.evening import plan_day
from replanner.service.planner import Means
from replanner.trip.model import Tour
from replanner.trip.timing import Speeds
from tests.service.fair import MadeWeather
from tests.service.test_evening import LIMITS
from tests.trip.test_progress import demo

TOUR = demo()
FRIDAY, SATURDAY, SUNDAY = date(2027, 4, 2), date(2027, 4, 3), date(2027, 4, 4)
EVE = {FRIDAY: date(2027, 4, 1), SATURDAY: FRIDAY, SUNDAY: SATURDAY}


def at(day: date, hour: int, minute: int = 0) -> datetime:
    return local_instant(day, time(hour, minute), TOUR.zone)


# A conversation is frozen data: the evening of a fair day has to be planned only once.
_ACCEPTED: dict[date, State] = {}


class Ride:
    """Drives `step` as a shell would, plans made by the real planner on weather made by hand.

    The evening before the plan is made and accepted; then the clock is what each line says.
    """

    def __init__(
        self,
        day: date,
        weather: MadeWeather | None = None,
        tour: Tour = TOUR,
        *,
        leads: bool = True,
    ) -> None:
        self.day, self.tour = day, tour
        self.means = Means(
            forecasts=weather or MadeWeather(),
            limits=LIMITS,
            rules=Rules(),
            speeds=Speeds(),
            detour_factor=1.4,
            language="en",
        )
        self.effects: list[Effect] = []
        self.now = at(EVE[day], 19, 30)
        if weather is None and tour is TOUR and day in _ACCEPTED:
            self.state = _ACCEPTED[day]
        else:
            self.state = begin("demo", book_of(tour), day, memory=Memory(), accepted=None)
            self.happen(EveningCame(day=day, now=self.now))
            self.say(self.now, "ok")
        if weather is None and tour is TOUR:
            _ACCEPTED[day] = self.state
        self.state = replace(self.state, leads=leads)

    def happen(self, event: Event) -> None:
        self.state, effects = step(self.state, event)
        for effect in effects:
            self.effects.append(effect)
            if isinstance(effect, Replan):
                self.happen(self._plan(effect))

    def _plan(self, request: Replan) -> PlanArrived | PlanFailed:
        day = self.tour.day(request.day)
        try:
            made = plan_day(self.tour, day, self.now, request.demands, self.means).briefing
        except ReplannerError as error:
            return PlanFailed(message=str(error), request=request)
        return PlanArrived(briefing=made, request=request)

    def say(self, sent: datetime, *lines: str, now: datetime | None = None) -> str:
        """Say lines at a time; returns what was answered to the last of them."""
        self.now = now or sent
        for line in lines:
            self.effects = []
            self.happen(RiderSaid(text=line, sent=sent))
        return self.told

    def shares(self, event: PositionCame) -> str:
        self.now, self.effects = event.sent, []
        self.happen(event)
        return self.told

    @property
    def told(self) -> str:
        return "\n".join(effect.text for effect in self.effects if isinstance(effect, Say))

    @property
    def planned(self) -> list[str]:
        assert self.state.shown is not None
        return [leg.id for leg in self.state.shown.briefing.legs]
