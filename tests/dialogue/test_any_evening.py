"""Any sequence of events keeps what a rider relies on."""

from datetime import date, timedelta
from typing import Any

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from replanner.advice.briefing import Briefing
from replanner.dialogue.events import (
    Accept,
    EveningCame,
    Event,
    PlanArrived,
    PlanFailed,
    Remember,
    Replan,
    RiderSaid,
    Withdraw,
)
from replanner.dialogue.intent_types import LogDay, Plain, PlanDay
from replanner.dialogue.intents import understand
from replanner.dialogue.phrases import PHRASES
from replanner.dialogue.state import begin
from replanner.dialogue.step import step
from replanner.dialogue.topics import Topic
from replanner.dialogue.which_day import day_meant
from replanner.errors import ReplannerError
from replanner.store.recalling import recalled
from replanner.trip.edits import Demands
from tests.dialogue.evening import BOOK, DAY, NAMES, SENT, fresh, plan
from tests.dialogue.test_intents import SAID, changes_the_plan

_OF_THE_LOG = (Topic.HOME_SAFE, Topic.LOG)
_PHRASES = [
    text.replace("[", "").replace("]", "").split("|")[0] for t in PHRASES.values() for text in t
]
_LINES = st.one_of(
    st.sampled_from(sorted(SAID)),
    st.sampled_from(
        ["ok", "yes", "no", "undo", "accept", "plan b", "keep", "start over", "1", "2", "saddle"]
    ),
    st.builds(
        "{} {}".format,
        st.sampled_from(["skip", "ride", "closed", "open", "what if we skip", "swap quern and"]),
        st.sampled_from(sorted(NAMES.values())),
    ),
    st.sampled_from(_PHRASES),
    st.text(max_size=40),
)


class AnyEvening(RuleBasedStateMachine):
    """The shell is played here: plans come at once, late, or not at all."""

    def __init__(self) -> None:
        super().__init__()
        self.state = fresh()
        self.asked: list[Replan] = []
        self.shown: list[Briefing] = []  # every plan handed to the conversation
        self.stored: dict[Any, tuple[Briefing, Demands]] = {}  # day to the accepted plan
        self.memories = {self.state.day: self.state.memory}

    def happen(self, event: Event) -> None:
        before = self.state
        self.state, effects = step(self.state, event)
        agreed = isinstance(event, RiderSaid)
        for effect in effects:
            match effect:
                case Replan():
                    self.asked.append(effect)
                case Accept(briefing=briefing, demands=demands):
                    assert agreed, "nothing is accepted unless the rider speaks"
                    assert briefing in self.shown, "only a shown plan is accepted"
                    self.stored[briefing.date] = (briefing, demands)
                case Withdraw(day=day):
                    self.stored.pop(day, None)
                case Remember(day=day, memory=memory):
                    self.memories.pop(day, None)  # the one kept last is at the end
                    self.memories[day] = memory
        if isinstance(event, RiderSaid):
            self._kept_without_a_word(before, event, effects)

    def _kept_without_a_word(self, before: Any, event: RiderSaid, effects: Any) -> None:
        """A line that means no change and answers no question changes nothing."""
        meant = understand(event.text, before.hearing(event.sent))
        # What is written down of the day, and a day asked for, have tests of their own.
        if isinstance(meant, LogDay | PlanDay) or meant in map(Plain, _OF_THE_LOG):
            return
        if before.question is None and not changes_the_plan(meant):
            assert self.state.demands == before.demands
            assert self.state.accepted == before.accepted
            assert not [e for e in effects if isinstance(e, Accept | Withdraw | Remember)]

    @rule(line=_LINES, minutes=st.integers(0, 3000))
    def rider_speaks(self, line: str, minutes: int) -> None:
        sent = SENT + timedelta(minutes=minutes)
        day = self.state.day
        self.take_up(day_meant(line, BOOK, day, sent, lambda asked: asked in self.stored))
        self.happen(RiderSaid(text=line, sent=sent))

    @rule()
    def plan_comes(self) -> None:
        if not self.asked:
            return
        request = self.asked.pop()
        try:
            briefing = plan(request)
        except ReplannerError as error:
            self.happen(PlanFailed(message=str(error), request=request))
            return
        waited = self.state.waiting is not None and self.state.waiting.request == request
        if waited:
            self.shown.append(briefing)
        self.happen(PlanArrived(briefing=briefing, request=request))

    @rule()
    def plan_fails(self) -> None:
        if self.asked:
            self.happen(PlanFailed(message="no network", request=self.asked.pop()))

    @rule()
    def old_answer_comes(self) -> None:
        if self.asked:
            request = self.asked[0]
            if self.state.waiting is None or self.state.waiting.request != request:
                before = self.state
                try:
                    self.happen(PlanArrived(briefing=plan(request), request=request))
                except ReplannerError:
                    return
                assert self.state == before

    def take_up(self, day: date) -> None:
        """Begin another day as the shell does: from what was kept of it."""
        if day != self.state.day:
            memory = recalled(self.memories, day)
            accepted = self.stored.get(day, (None, None))[0]
            self.state = begin("coast", BOOK, day, memory=memory, accepted=accepted)

    @rule(later=st.integers(0, 1))
    def evening_comes(self, later: int) -> None:
        day = DAY + timedelta(days=later)
        self.take_up(day)
        self.happen(EveningCame(day=day, now=SENT))

    @rule()
    def a_change_is_undone(self) -> None:
        if self.state.waiting or self.state.trial or self.state.question:
            return
        before = self.state
        self.happen(RiderSaid(text="skip salt causeway", sent=SENT))
        if before.demands == self.state.demands:
            return
        self.happen(RiderSaid(text="undo", sent=SENT))
        assert self.state.demands == before.demands
        assert self.state.shown == before.shown
        assert self.state.accepted == before.accepted

    @invariant()
    def the_accepted_plan_is_the_stored_one(self) -> None:
        accepted = self.state.accepted
        stored = self.stored.get(self.state.day, (None, None))[0]
        assert (accepted.briefing if accepted else None) == stored
        assert accepted is None or accepted.briefing.date == self.state.day

    @invariant()
    def no_accepted_plan_rides_a_leg_that_was_closed_when_it_was_accepted(self) -> None:
        for briefing, demands in self.stored.values():
            assert not demands.closed & {leg.id for leg in briefing.legs}

    @invariant()
    def what_is_remembered_is_what_is_in_force(self) -> None:
        if self.state.day in self.memories:  # a day asked for and not agreed on has none
            assert recalled(self.memories, self.state.day).demands == self.state.demands


AnyEvening.TestCase.settings = settings(max_examples=60, stateful_step_count=25, deadline=None)
TestAnyEvening = AnyEvening.TestCase
