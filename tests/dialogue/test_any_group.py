"""Two riders of a group, any sequence of events: what both rely on holds. The day is invented.

The shell is played here as it works: a conversation is taken up from what is kept, an event
happens with its plans, all of it is kept, and what is shared is shown to the other.
"""

from dataclasses import replace
from datetime import date, datetime, timedelta

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from replanner.advice.briefing import Briefing
from replanner.advice.material import material_change
from replanner.dialogue.caution import adds_caution, only_adds_caution
from replanner.dialogue.events import (
    Accept,
    Audience,
    EveningCame,
    Event,
    LogLeg,
    Memory,
    MorningCame,
    OverdueCame,
    PlanShared,
    PositionCame,
    Pressed,
    Remember,
    Replan,
    RiderSaid,
    RoadCheckCame,
    Say,
    Share,
    StrikeLog,
    TakeTour,
    TourCame,
    TrackCame,
    UnreadableCame,
    Withdraw,
)
from replanner.dialogue.kept import Common, KeptTalk, kept, taken_up
from replanner.dialogue.state import State
from replanner.errors import ForecastError
from replanner.service.desk import KeepPlan, Upshot, attend
from replanner.trip.underway import Underway
from tests.dialogue.evening import BOOK, DAY, GUST, NAMES, SENT, at, plan
from tests.dialogue.test_intents import SAID

LEADER, RIDER = 0, 1
_WHO = st.sampled_from([LEADER, RIDER])
_WORDS = st.sampled_from(
    ["ok", "no", "yes", "plan b", "keep my order", "why", "picture", "gpx", "1", "2", "missed 1"]
)
_LINES = st.one_of(
    st.sampled_from(sorted(SAID)),
    st.sampled_from(
        ["ok", "yes", "no", "undo", "plan b", "keep", "start over", "home safe", "new forecast"]
    ),
    st.builds(
        "{} {}".format,
        st.sampled_from(["skip", "ride", "closed", "open", "what if we skip", "missed", "done:"]),
        st.sampled_from(sorted(NAMES.values())),
    ),
)
_WHEN = st.sampled_from([SENT, at("07:45"), at("09:10"), at("10:40"), at("12:45")])


def news(upshots: tuple[Upshot, ...]) -> list[Upshot]:
    """Return all that is said or stored but the plan itself."""
    return [one for one in upshots if not isinstance(one, KeepPlan)]


class AnyGroup(RuleBasedStateMachine):
    """Everything kept is here: the group's memory and plans, each rider's own talk, the log."""

    def __init__(self) -> None:
        super().__init__()
        self.memories: dict[date, Memory] = {}
        self.accepted: dict[date, Briefing] = {}
        self.last: dict[date, Briefing] = {}
        self.talks: dict[int, KeptTalk] = {}
        self.log: dict[tuple[str, date], str] = {}
        self.severity = {"quern": 1.0, "hask": 1.0}
        self.offline = False
        self.serials: dict[int, list[int]] = {LEADER: [0], RIDER: [0]}

    def planner(self, request: Replan) -> tuple[Briefing, bool]:
        if self.offline:
            raise ForecastError("no network")
        made = plan(request)
        underway = request.demands.underway
        ridden = underway.ridden if underway else frozenset()
        legs = tuple(
            replace(leg, severity=self.severity.get(leg.id, 1.0), hazard=GUST)
            for leg in made.legs
            if leg.id not in ridden and (underway is None or leg.start > underway.at)
        )
        return replace(made, legs=legs), True

    def state(self, who: int, day: date) -> State:
        common = Common(
            memory=self.memories.get(day, Memory()),
            accepted=self.accepted.get(day),
            last=self.accepted.get(day) or self.last.get(day),
        )
        talk, leads = self.talks.get(who), who == LEADER
        return taken_up(talk, common, day, tour_key="coast", book=BOOK, leads=leads)

    def day(self, who: int) -> date:
        return self.talks[who].day if who in self.talks else DAY

    def happen(self, who: int, event: Event, day: date | None = None) -> tuple[Upshot, ...]:
        before = self.state(who, day or self.day(who))
        after, upshots = attend(before, event, self.planner)
        self._holds(who, event, before, after, upshots)
        self._keep(who, after, upshots)
        for share in [one for one in upshots if isinstance(one, Share)]:
            shown = PlanShared(
                briefing=share.briefing, demands=share.demands, cause=share.cause, sent=SENT
            )
            other = RIDER if who == LEADER else LEADER
            seen = self.state(other, share.briefing.date)
            there, told = attend(seen, shown, self.planner)
            assert [type(one) for one in told] == [Say]
            self._keep(other, there, told)
            assert there.shown is not None
            assert there.shown.briefing == share.briefing
        return upshots

    def _keep(self, who: int, after: State, upshots: tuple[Upshot, ...]) -> None:
        self.talks[who] = kept(after)
        self.serials[who].append(after.serial)
        for one in upshots:
            match one:
                case Accept(briefing=briefing):
                    self.accepted[briefing.date] = briefing
                case Withdraw(day=day):
                    self.accepted.pop(day, None)
                case KeepPlan(briefing=briefing):
                    self.last[briefing.date] = briefing
                case Remember(day=day, memory=memory):
                    self.memories[day] = memory
                case LogLeg(leg=leg, day=day, outcome=outcome):
                    self.log[leg, day] = outcome
                case StrikeLog(legs=legs, day=day):
                    for leg in legs:
                        self.log.pop((leg, day), None)
                case _:
                    pass

    def _holds(
        self, who: int, event: Event, before: State, after: State, upshots: tuple[Upshot, ...]
    ) -> None:
        kinds = {type(one) for one in upshots}
        for one in upshots:
            if isinstance(one, Say) and one.buttons:
                assert one.serial == after.serial, "buttons are of what is shown now"
                assert all(len(button.word.encode("ascii")) <= 40 for button in one.buttons)
        assert after.serial >= before.serial
        if before.last_shown != after.last_shown:
            assert after.serial > before.serial, "each plan shown has a number of its own"
        if Accept in kinds:
            assert who == LEADER, "who does not lead accepts nothing"
            assert isinstance(event, RiderSaid | Pressed), "nothing is accepted unasked"
        if isinstance(event, Pressed) and event.serial != before.serial:
            assert after == before, "an old button changes nothing"
            assert kinds <= {Say}
        if who == RIDER and not isinstance(event, EveningCame | PlanShared):
            self._only_careful(before, after, kinds)
        if kinds == {Share} or (Share in kinds and Accept not in kinds):
            assert (
                before.accepted is not None
                or after.accepted is not None
                or adds_caution(before.demands, after.demands)
                or adds_caution(after.demands, before.demands)
                or isinstance(event, MorningCame | RoadCheckCame)
            ), "what is only tried is not the group's"
        if isinstance(event, MorningCame | RoadCheckCame | OverdueCame) and not upshots:
            assert replace(after, serial=before.serial) == before

    def _only_careful(self, before: State, after: State, kinds: set[type]) -> None:
        assert not kinds & {Accept, Withdraw, LogLeg, StrikeLog, TakeTour}
        if after.day == before.day:
            same = before.demands == after.demands
            assert same or only_adds_caution(before.demands, after.demands)
            assert after.accepted == before.accepted
            assert after.closed_down == before.closed_down

    @rule(who=_WHO, line=_LINES, sent=_WHEN, late=st.booleans())
    def somebody_speaks(self, who: int, line: str, sent: datetime, *, late: bool) -> None:
        arrived = sent + timedelta(hours=2) if late else None
        self.happen(who, RiderSaid(text=line, sent=sent, arrived=arrived))

    @rule(who=_WHO, word=_WORDS, sent=_WHEN, back=st.integers(0, 4))
    def somebody_presses(self, who: int, word: str, sent: datetime, back: int) -> None:
        known = self.serials[who]
        serial = known[max(0, len(known) - 1 - back)]
        self.happen(who, Pressed(word=word, serial=serial, sent=sent))

    @rule(who=_WHO)
    def an_evening_comes(self, who: int) -> None:
        self.happen(who, EveningCame(day=DAY, now=SENT), DAY)

    @rule(sent=_WHEN, kind=st.sampled_from([MorningCame, RoadCheckCame, OverdueCame]))
    def the_clock_comes(self, sent: datetime, kind: type) -> None:
        before = self.state(LEADER, DAY)
        upshots = news(self.happen(LEADER, kind(day=DAY, now=sent), DAY))
        if kind is MorningCame and not self.offline and (before.accepted or before.shown):
            plan_in_force = before.accepted or before.shown
            shown = before.shown
            if shown is not None and shown.demands.underway is not None:
                plan_in_force = shown
            assert plan_in_force is not None
            made, _ = self.planner(Replan(day=DAY, demands=before.demands))
            if material_change(plan_in_force.briefing, made) is None:
                assert not upshots, "no change, no message"
        if kind is not OverdueCame and not self.offline:
            self.happen(LEADER, RoadCheckCame(day=DAY, now=sent), DAY)
            again = self.happen(LEADER, RoadCheckCame(day=DAY, now=sent), DAY)
            assert not news(again), "never two alerts for one thing"

    @rule(who=_WHO, live=st.booleans(), leg=st.sampled_from(["quern", "hask"]), sent=_WHEN)
    def a_position_comes(self, who: int, leg: str, sent: datetime, *, live: bool) -> None:
        where = Underway(at=sent, ready=sent, place="orrowick", ridden=frozenset({leg}), live=live)
        self.happen(who, PositionCame(underway=where, live=live, sent=sent))

    @rule(who=_WHO, mistakes=st.integers(0, 30))
    def a_tour_comes(self, who: int, mistakes: int) -> None:
        aside = "some"
        faults = tuple(f"mistake {number}" for number in range(mistakes))
        upshots = self.happen(
            who,
            TourCame(name="t.toml", token=aside, days=(DAY,), legs=2, mistakes=faults, sent=SENT),
        )
        assert not [one for one in upshots if isinstance(one, TakeTour)]
        told = [one.text for one in upshots if isinstance(one, Say)]
        assert len(told[0].splitlines()) <= 14

    @rule(who=_WHO)
    def a_track_comes(self, who: int) -> None:
        upshots = self.happen(
            who,
            TrackCame(name="t.gpx", legs=("quern",), distance_km=30.0, refusal="", sent=SENT),
        )
        assert not [one for one in upshots if isinstance(one, LogLeg)], "only after a yes"

    @rule(who=_WHO)
    def something_unreadable_comes(self, who: int) -> None:
        before = self.state(who, self.day(who))
        (told,) = self.happen(who, UnreadableCame(sent=SENT))
        assert isinstance(told, Say)
        assert told.to is Audience.ASKER
        assert self.state(who, self.day(who)) == before

    @rule(leg=st.sampled_from(["quern", "hask"]), severity=st.floats(0, 4.5))
    def the_weather_turns(self, leg: str, severity: float) -> None:
        self.severity[leg] = severity

    @rule(offline=st.booleans())
    def the_network_comes_and_goes(self, *, offline: bool) -> None:
        self.offline = offline

    @invariant()
    def no_accepted_plan_rides_what_was_ridden_before_it(self) -> None:
        for day, briefing in self.accepted.items():
            assert briefing.date == day

    @invariant()
    def both_know_the_same_wishes(self) -> None:
        for who, talk in self.talks.items():
            state = self.state(who, talk.day)
            assert state.demands == self.memories.get(talk.day, Memory()).demands

    @invariant()
    def what_a_rider_can_press_is_never_of_another_plan(self) -> None:
        for who, talk in self.talks.items():
            taken = self.state(who, talk.day)
            if taken.last_shown != (talk.trial or talk.shown) and talk.shown is not None:
                assert taken.serial > talk.serial


AnyGroup.TestCase.settings = settings(max_examples=40, stateful_step_count=20, deadline=None)
TestAnyGroup = AnyGroup.TestCase
