"""Any sequence of words on the road keeps what riders rely on. Invented day, stand-in planner."""

from dataclasses import replace
from datetime import timedelta
from functools import cache

from hypothesis import Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from replanner.dialogue.events import (
    EveningCame,
    Event,
    LogLeg,
    Memory,
    PlanArrived,
    PlanFailed,
    Remember,
    Replan,
    RiderSaid,
)
from replanner.dialogue.intents import understand
from replanner.dialogue.road_book import RoadBook, RoadLeg
from replanner.dialogue.road_intent import RoadWord
from replanner.dialogue.state import Confirm, State, begin
from replanner.dialogue.step import step
from replanner.dialogue.topics import Topic
from replanner.errors import ReplannerError
from replanner.trip.edits import Demands
from replanner.trip.model import Exposure, LegKind
from replanner.trip.underway import ReportKind
from tests.dialogue.evening import BOOK, DAY, NAMES, SENT, at, plan
from tests.dialogue.test_road_words import SAID

ROADS = RoadBook(
    legs=tuple(
        (
            leg,
            RoadLeg(
                start="orrowick",
                end="orrowick",
                kind=LegKind(kind),
                exposure=Exposure.OPEN,
                distance_km=60.0,
                spots=(("sable", 0.5),) if leg == "hask" else (),
            ),
        )
        for leg, kind in BOOK.kinds
    )
)
MIDNIGHT = at("00:00", DAY + timedelta(days=1))
_LINES = st.one_of(
    st.sampled_from(sorted(SAID)),
    st.sampled_from(["ok", "yes", "no", "undo", "1", "2", "start over", "skip quern", "why"]),
    st.builds(
        "{} {}".format,
        st.sampled_from(["done", "gravel on", "closed", "dry on", "windy on", "open", "now on"]),
        st.sampled_from(sorted(NAMES.values())),
    ),
)


@cache
def evening() -> State:
    """Return the conversation with the plan of the evening before accepted."""
    state = begin("coast", replace(BOOK, road=ROADS), DAY, memory=Memory(), accepted=None)
    state, effects = step(state, EveningCame(day=DAY, now=SENT))
    (request,) = [effect for effect in effects if isinstance(effect, Replan)]
    state, _ = step(state, PlanArrived(briefing=plan(request), request=request))
    return step(state, RiderSaid(text="ok", sent=SENT))[0]


def cautions(demands: Demands) -> set[object]:
    """Return what makes the day more careful; taking any of it away needs a second yes."""
    kept: set[object] = {one for one in demands.reports if one.kind is not ReportKind.DRY}
    kept |= {("closed", leg) for leg in demands.closed}
    return kept | {("stricter", n + 1) for n in range(demands.stricter)}


def loosened(old: Demands, new: Demands) -> bool:
    dry = {one for one in new.reports - old.reports if one.kind is ReportKind.DRY}
    return bool(cautions(old) - cautions(new) or dry)


class AnyDay(RuleBasedStateMachine):
    """The shell is played here: time goes on, plans come at once or not at all."""

    def __init__(self) -> None:
        super().__init__()
        self.state = evening()
        self.sent = at("08:00")
        self.told_ridden: frozenset[str] = frozenset()
        self.logged: frozenset[str] = frozenset()

    def happen(self, event: Event) -> None:
        before = self.state
        self.state, effects = step(self.state, event)
        if loosened(before.demands, self.state.demands):
            assert isinstance(before.question, Confirm), "a caution went without a question"
            assert isinstance(event, RiderSaid)
            meant = understand(event.text, before.hearing(event.sent))
            assert getattr(meant, "topic", None) in (Topic.YES, Topic.OK)
        for effect in effects:
            match effect:
                case LogLeg(leg=leg):
                    self.logged |= {leg}
                case Replan():
                    self._planned(effect)
                case Remember(memory=memory):
                    assert memory.demands == self.state.demands

    def _planned(self, request: Replan) -> None:
        underway = request.demands.underway
        try:
            made = plan(request)
        except ReplannerError as error:
            self.happen(PlanFailed(message=str(error), request=request))
            return
        if underway is not None:  # the stand-in planner knows no rest of a day: do as it would
            assert (
                sum(x is not None for x in (underway.on_leg, underway.place, underway.point)) == 1
            )
            assert underway.ready >= underway.at
            left = tuple(leg for leg in made.legs if leg.id not in underway.ridden)
            made = replace(made, legs=left)
        self.happen(PlanArrived(briefing=made, request=request))

    @rule(line=_LINES, minutes=st.integers(0, 45))
    def rider_speaks(self, line: str, minutes: int) -> None:
        self.sent += timedelta(minutes=minutes)
        self.logged = frozenset()
        heard = understand(line, self.state.hearing(self.sent))
        self.happen(RiderSaid(text=line, sent=self.sent))
        topic = getattr(heard, "topic", None)
        if isinstance(heard, RoadWord) and topic is Topic.RIDDEN and self.sent < MIDNIGHT:
            self.told_ridden |= self.logged
        if topic in (Topic.UNDO, Topic.BOAT_MISSED, Topic.YES, Topic.OK):
            # taken back, or the boat is missed after all: only those words may unmark a leg
            self.told_ridden &= self.ridden

    @property
    def ridden(self) -> frozenset[str]:
        underway = self.state.demands.underway
        return underway.ridden if underway else frozenset()

    @invariant()
    def what_was_told_ridden_is_never_planned_again(self) -> None:
        assert self.told_ridden <= self.ridden
        shown = self.state.shown
        if shown is not None and shown.demands.underway is not None:
            assert not {leg.id for leg in shown.briefing.legs} & shown.demands.underway.ridden


TestAnyDay = AnyDay.TestCase
TestAnyDay.settings = settings(
    max_examples=40,
    stateful_step_count=20,
    deadline=None,
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
)
