"""Buttons with their numbers, who decides, what the others see. All days are invented."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

import pytest

from replanner.advice.briefing import Decision
from replanner.dialogue.buttons import LONGEST_WORD, buttons_of
from replanner.dialogue.emergency import is_call_for_help
from replanner.dialogue.events import (
    Accept,
    Audience,
    Effect,
    EraseData,
    EveningCame,
    Event,
    ExportData,
    Hush,
    LogLeg,
    Memory,
    Outcome,
    PlanArrived,
    PlanFailed,
    PlanShared,
    Pressed,
    Remember,
    Replan,
    RiderSaid,
    Say,
    SendTrack,
    Share,
    ShowPicture,
    StrikeLog,
    TakeTour,
    TourCame,
    TrackCame,
)
from replanner.dialogue.state import State
from replanner.dialogue.step import step
from replanner.dialogue.which_day import day_meant, is_ridden
from replanner.errors import ReplannerError
from replanner.trip.edits import Demands
from tests.dialogue.evening import BOOK, DAY, SENT, at, fresh, plan

SAT = date(2027, 4, 3)
ASIDE = "t"


class Talk:
    """Drives `step` as a shell would; plans come at once."""

    def __init__(self, state: State | None = None) -> None:
        self.state = state or replace(fresh(), cautions_shown=True)
        self.effects: list[Effect] = []
        self.happen(EveningCame(day=DAY, now=SENT))

    def happen(self, event: Event) -> str:
        self.effects = []
        self._step(event)
        return "\n".join(
            one.text for one in self.of(Say) if isinstance(one, Say) and one.to.holds_asker
        )

    def _step(self, event: Event) -> None:
        self.state, effects = step(self.state, event)
        for effect in effects:
            self.effects.append(effect)
            if isinstance(effect, Replan):
                try:
                    self._step(PlanArrived(briefing=plan(effect), request=effect))
                except ReplannerError as error:
                    self._step(PlanFailed(message=str(error), request=effect))

    def say(self, *lines: str) -> str:
        return [self.happen(RiderSaid(text=line, sent=SENT)) for line in lines][-1]

    def press(self, word: str, serial: int | None = None) -> str:
        number = self.state.serial if serial is None else serial
        return self.happen(Pressed(word=word, serial=number, sent=SENT))

    def of(self, kind: type) -> list[Effect]:
        return [effect for effect in self.effects if isinstance(effect, kind)]

    @property
    def words(self) -> list[str]:
        """The words of the buttons shown last."""
        shown = [one for one in self.of(Say) if isinstance(one, Say) and one.buttons]
        assert all(one.serial == self.state.serial for one in shown)
        return [button.word for button in shown[-1].buttons] if shown else []


@pytest.fixture
def leader() -> Iterator[Talk]:
    return Talk()


@pytest.fixture
def rider() -> Iterator[Talk]:
    return Talk(replace(fresh(), leads=False, cautions_shown=True))


def test_every_plan_shown_has_its_buttons(leader: Talk, rider: Talk) -> None:
    assert leader.words == ["ok", "plan b", "keep my order", "why", "picture", "gpx"]
    assert rider.words == ["why", "plan b", "picture", "gpx"]
    leader.say("skip hask saddle")
    assert leader.words[0] == "ok"
    leader.say("read it again")
    assert leader.words[0] == "ok"


def test_a_trial_a_question_and_a_choice_have_their_own(leader: Talk) -> None:
    leader.say("what if I leave at 7")
    assert leader.words == ["ok", "no"]
    leader.say("leave at 9:30")
    assert leader.words == ["yes", "no"]
    leader.say("closed hask")
    assert leader.words == ["1", "2"]
    assert [button.label for button in buttons_of(leader.state)] == [
        "1 Hask Saddle",
        "2 Hask valley road",
    ]


def test_each_word_of_a_button_can_be_typed_and_is_short(leader: Talk) -> None:
    for line in ("why", "what if I leave at 7", "leave at 9:30", "closed hask", "erase my data"):
        leader.say(line)
        for button in buttons_of(leader.state):
            assert len(button.word.encode("ascii")) <= LONGEST_WORD
            typed = Talk(replace(leader.state, waiting=None, cautions_shown=True))
            typed.state = leader.state
            pressed = Talk(replace(leader.state, waiting=None, cautions_shown=True))
            pressed.state = leader.state
            typed.say(button.word)
            pressed.press(button.word)
            assert typed.state == pressed.state


def test_each_thing_shown_has_a_number_of_its_own(leader: Talk) -> None:
    seen = [leader.state.serial]
    for line in ("what if I leave at 7", "no", "leave at 9:30", "no", "skip hask saddle"):
        leader.say(line)
        seen.append(leader.state.serial)
    assert seen == sorted(set(seen))


def test_an_old_button_changes_nothing_and_shows_the_present_plan(leader: Talk) -> None:
    old = leader.state.serial
    leader.say("skip hask saddle")
    before = leader.state
    answer = leader.press("ok", old)
    assert answer.splitlines()[0] == "That was an older plan."
    assert "Quern Point loop" in answer
    assert leader.state == before
    assert leader.words[0] == "ok"
    assert not leader.of(Accept)


def test_what_a_plan_follows_at_once_has_no_buttons_of_the_one_before(leader: Talk) -> None:
    """A question is open; the line logs a leg, and lets the rest of the day be planned anew."""
    leader.say("ok", "erase my data")
    assert leader.state.question is not None
    leader.effects = []
    leader.happen(RiderSaid(text="done: quern. missed hask saddle (fog)", sent=at("09:45")))
    texts = [one for one in leader.of(Say) if isinstance(one, Say)]
    assert texts[0].text.startswith("Missed: Hask Saddle")
    assert len(texts) > 1
    for one in texts:
        assert not one.buttons or one.serial == leader.state.serial


def test_two_fast_presses_of_ok_accept_once(leader: Talk) -> None:
    serial = leader.state.serial
    leader.press("ok", serial)
    assert len(leader.of(Accept)) == 1
    again = leader.press("ok", serial)
    assert again.startswith("Accepted already: Fri 2 Apr: SWAP. Quern Point first")
    assert len(again.splitlines()) == 1
    assert not leader.of(Accept)
    assert not leader.of(Share)


def test_ok_to_a_what_if_pressed_twice_accepts_once(leader: Talk) -> None:
    leader.say("what if we skip hask saddle")
    serial = leader.state.serial
    leader.press("ok", serial)
    assert len(leader.of(Accept)) == 1
    assert leader.press("ok", serial).startswith("Accepted already")
    assert not leader.of(Accept)


@pytest.mark.parametrize(
    "line",
    [
        "ok",
        "accept",
        "skip hask saddle",
        "ride brindle loop all the same",
        "swap quern with saturday",
        "swap quern and hask saddle",
        "leave at 8",
        "leave at 10",
        "keep my order",
        "no",
        "undo",
        "start over",
        "the causeway is open",
        "home safe",
        "done: quern. missed gannet (fog)",
    ],
)
def test_who_does_not_lead_changes_nothing(rider: Talk, line: str) -> None:
    before = rider.state
    answer = rider.say(line)
    assert len(answer.splitlines()) == 1
    assert rider.state.demands == before.demands
    assert rider.state.accepted is None
    assert not [one for one in rider.effects if not isinstance(one, Say)]


def test_a_wish_that_is_the_leaders_reaches_the_leader(rider: Talk) -> None:
    """It was refused and nobody who could have done it ever heard of it."""
    rider.say("skip hask saddle")
    (told,) = [one for one in rider.of(Say) if isinstance(one, Say) and not one.to.holds_asker]
    assert told.to is Audience.LEADERS
    assert told.text == (
        'A rider of your group wishes: "skip hask saddle". Say it yourself if you want it so.'
    )
    rider.say("ok")  # to agree is no wish
    assert all(one.to.holds_asker for one in rider.of(Say) if isinstance(one, Say))


def test_who_does_not_lead_asks_everything_and_tries(rider: Talk) -> None:
    assert "gust" in rider.say("why")
    assert "your leader decides" in rider.say("what if we skip hask saddle")
    assert rider.words == ["no"]
    before = rider.state.demands
    assert rider.say("ok").startswith("Your leader decides")
    assert rider.state.demands == before
    rider.say("no")
    assert rider.state.trial is None
    assert "your leader decides" in rider.say("plan b")


def test_who_does_not_lead_reports_a_closure_and_the_group_sees_it(rider: Talk) -> None:
    rider.say("closed hask saddle")
    assert rider.state.demands == Demands(closed=frozenset({"hask"}))
    (share,) = rider.of(Share)
    assert isinstance(share, Share)
    assert share.cause == "A rider of your group: Noted as closed: Hask Saddle."
    assert [leg.id for leg in share.briefing.legs] == ["quern"]


def test_what_the_leader_tries_is_not_shared_and_an_ok_is(leader: Talk) -> None:
    leader.say("what if we skip hask saddle")
    assert not leader.of(Share)
    leader.say("no", "skip hask saddle")
    assert not leader.of(Share)
    leader.say("ok")
    (share,) = leader.of(Share)
    assert isinstance(share, Share)
    assert share.briefing == leader.state.accepted.briefing  # type: ignore[union-attr]
    leader.say("ride hask saddle after all")
    assert len(leader.of(Share)) == 1
    leader.say("undo")
    assert len(leader.of(Share)) == 1


def test_a_shared_plan_is_shown_once(rider: Talk) -> None:
    briefing = plan(Replan(day=DAY, demands=Demands(left_out=frozenset({"hask"}))))
    event = PlanShared(
        briefing=briefing,
        demands=Demands(left_out=frozenset({"hask"})),
        cause="Your leader: Left out: Hask Saddle.",
        sent=SENT,
    )
    serial = rider.state.serial
    told = rider.happen(event)
    assert told.startswith("Your leader: Left out: Hask Saddle.\nFri 2 Apr")
    assert rider.state.serial == serial + 1
    assert rider.words == ["why", "plan b", "picture", "gpx"]
    again = rider.happen(replace(event, cause="Your leader accepted this plan."))
    assert again == "Your leader accepted this plan."


def test_a_closure_without_a_plan_is_told_to_the_others_all_the_same(rider: Talk) -> None:
    state, _ = step(rider.state, RiderSaid(text="closed hask saddle", sent=SENT))
    assert state.waiting is not None
    _, effects = step(state, PlanFailed(message="no network", request=state.waiting.request))
    others = [one for one in effects if isinstance(one, Say) and one.to is Audience.OTHERS]
    assert "Noted as closed: Hask Saddle." in others[0].text


def test_the_note_of_an_evening_is_told_first() -> None:
    talk = Talk()
    told = talk.happen(EveningCame(day=DAY, now=SENT, note="This plan comes late."))
    assert told.startswith("This plan comes late.\nFri 2 Apr")


def test_a_line_sent_long_ago_counts_from_then_and_that_is_said(leader: Talk) -> None:
    late = SENT + timedelta(hours=4)
    told = leader.happen(RiderSaid(text="why", sent=SENT, arrived=late))
    assert told.splitlines()[0] == "Sent 20:30, arrived 00:30: I take it as of 20:30."
    told = leader.happen(RiderSaid(text="skip hask saddle", sent=SENT, arrived=late))
    assert told.splitlines()[0].startswith("Sent ")
    assert told.splitlines()[1] == "Left out: Hask Saddle."
    soon = SENT + timedelta(minutes=9)
    assert not leader.happen(RiderSaid(text="why", sent=SENT, arrived=soon)).startswith("Sent")
    helped = leader.happen(RiderSaid(text="sos", sent=SENT, arrived=late))
    assert helped.startswith("Call the emergency number")


def test_picture_and_gpx_are_of_the_plan_shown(leader: Talk) -> None:
    leader.press("picture")
    assert leader.state.shown is not None
    assert leader.of(ShowPicture) == [ShowPicture(briefing=leader.state.shown.briefing)]
    leader.say("what if we skip hask saddle", "gpx")
    assert leader.state.trial is not None
    assert leader.of(SendTrack) == [SendTrack(briefing=leader.state.trial.briefing)]


def test_quiet_lasts_until_the_evening_or_the_morning(leader: Talk) -> None:
    leader.say("quiet")
    assert leader.of(Hush) == [Hush(until=at("19:30"))]
    leader.say("mute until morning")
    assert leader.of(Hush) == [Hush(until=at("06:00"))]
    leader.say("speak again")
    assert leader.of(Hush) == [Hush(until=None)]


def test_erasing_needs_a_second_yes_and_exporting_none(rider: Talk) -> None:
    rider.say("export my data")
    assert rider.of(ExportData)
    rider.say("erase my data")
    assert not rider.of(EraseData)
    assert rider.words == ["yes", "no"]
    rider.say("why")
    rider.say("yes")
    assert not rider.of(EraseData)
    rider.say("erase my data")
    rider.press("yes")
    assert rider.of(EraseData)


def tour(**changed: object) -> TourCame:
    event = TourCame(
        name="new.toml", token=ASIDE, days=(DAY, date(2027, 4, 9)), legs=3, mistakes=(), sent=SENT
    )
    return replace(event, **changed)  # type: ignore[arg-type]


def test_a_tour_is_taken_by_the_leader_after_a_second_yes(leader: Talk, rider: Talk) -> None:
    told = leader.happen(tour())
    assert "New days: Fri 9 Apr." in told
    assert "2 days, 3 legs (now 4 and 10)" in told
    assert not leader.of(TakeTour)
    leader.say("yes")
    assert leader.of(TakeTour) == [TakeTour(token=ASIDE)]
    assert rider.happen(tour()).startswith("Your leader decides")
    rider.say("yes")
    assert not rider.of(TakeTour)


def test_at_most_twelve_mistakes_are_told_and_how_many_more(leader: Talk) -> None:
    lines = leader.happen(tour(mistakes=tuple(f"mistake {n}" for n in range(40)))).splitlines()
    assert len(lines) == 14
    assert "40 mistakes" in lines[0]
    assert lines[-1] == "And 28 more."


def test_a_track_logs_its_legs_after_a_yes(leader: Talk) -> None:
    track = TrackCame(
        name="a.gpx", legs=("quern", "hask"), distance_km=81.2, refusal="", sent=at("19:00")
    )
    assert "Quern Point loop and Hask Saddle" in leader.happen(track)
    assert not leader.of(LogLeg)
    leader.happen(RiderSaid(text="yes", sent=at("19:05")))
    assert leader.of(LogLeg) == [
        LogLeg(leg=leg, day=DAY, outcome=Outcome.RIDDEN) for leg in ("quern", "hask")
    ]
    leader.say("undo")
    assert leader.of(StrikeLog) == [StrikeLog(legs=frozenset({"quern", "hask"}), day=DAY)]


def test_a_days_log_moves_the_missed_to_a_day_left(leader: Talk) -> None:
    line = "done: quern, causeway. missed hask saddle (fog)"
    told = leader.happen(RiderSaid(text=line, sent=at("19:00")))
    assert LogLeg(leg="hask", day=DAY, outcome=Outcome.MISSED, remark="fog") in leader.effects
    assert "Missed: Hask Saddle (fog). It moves to Saturday 3." in told
    assert ("hask", SAT) in leader.state.demands.moved
    assert leader.of(Remember)
    leader.say("undo")
    struck = [one for one in leader.of(StrikeLog) if isinstance(one, StrikeLog)]
    assert frozenset().union(*(one.legs for one in struck)) == {"quern", "causeway", "hask"}
    assert {one.day for one in struck} == {DAY}
    assert ("hask", SAT) not in leader.state.demands.moved
    assert not leader.state.demands.moved


def test_home_safe_closes_the_day_and_asks_by_one_tap_a_leg(leader: Talk) -> None:
    leader.say("ok")
    told = leader.happen(RiderSaid(text="home safe", sent=at("18:00")))
    assert leader.state.closed_down
    assert "1 Quern Point loop, 2 Hask Saddle" in told
    assert leader.words == ["yes", "missed 1", "missed 2"]
    leader.happen(Pressed(word="missed 2", serial=leader.state.serial, sent=at("18:01")))
    assert leader.of(LogLeg) == [LogLeg(leg="hask", day=DAY, outcome=Outcome.MISSED)]
    leader.happen(Pressed(word="yes", serial=leader.state.serial, sent=at("18:02")))
    assert leader.of(LogLeg) == [LogLeg(leg="quern", day=DAY, outcome=Outcome.RIDDEN)]


def test_a_day_closed_by_mistake_is_opened_again_by_undo(leader: Talk) -> None:
    leader.happen(RiderSaid(text="home safe", sent=at("18:00")))
    leader.say("undo")
    assert not leader.state.closed_down
    assert leader.of(Remember)


def test_a_plan_can_be_asked_for_at_any_time(leader: Talk) -> None:
    leader.say("plan tomorrow")
    (request,) = leader.of(Replan)
    assert isinstance(request, Replan)
    assert (request.day, request.wish) == (DAY, True)
    leader.say("plan for saturday")
    (request,) = leader.of(Replan)
    assert isinstance(request, Replan)
    assert request.day == SAT


def test_a_day_that_is_still_to_come_is_not_asked_to_be_logged(leader: Talk) -> None:
    """A yes would write down tomorrow's legs as ridden."""
    assert leader.say("log").startswith("Nothing is left to log.")
    assert leader.state.question is None
    leader.say("yes")
    assert not leader.of(LogLeg)


def test_asking_again_when_nothing_changed_is_one_line(leader: Talk) -> None:
    told = leader.say("new forecast")
    assert told.startswith("Nothing changed. Fri 2 Apr")
    assert len(told.splitlines()) == 1


@pytest.mark.parametrize(
    ("line", "day"),
    [
        ("filled up", DAY),
        ("plan saturday", SAT),
        ("home safe", DAY),
        ("running 40 late", DAY),
        ("we lost about 40 min sorry", DAY),  # guessed at: asked about in the talk of the day
        ("we crashed", DAY),
        ("log", DAY),
        ("skip gannet", SAT),
        ("ok", SAT),
    ],
)
def test_a_line_is_about_the_day_it_can_only_be_about(line: str, day: date) -> None:
    assert day_meant(line, BOOK, SAT, at("15:00"), lambda asked: asked == DAY) == day


@pytest.mark.parametrize(
    ("line", "day"),
    [
        ("filled up", SAT),
        ("fuelled up at orrowick, all good", SAT),
        ("filled up?", SAT),
        ("home safe", DAY),  # a log needs no plan
        ("we crashed", DAY),
    ],
)
def test_a_full_tank_is_of_no_day_that_is_not_ridden(line: str, day: date) -> None:
    assert day_meant(line, BOOK, SAT, at("15:00"), lambda _: False) == day


def test_a_day_is_ridden_until_they_are_in() -> None:
    made = plan(Replan(day=DAY, demands=Demands()))
    assert made.arrival is not None
    late = made.arrival + timedelta(minutes=1)
    assert is_ridden(made, Memory(), made.arrival - timedelta(minutes=1))
    assert not is_ridden(made, Memory(), late)
    assert not is_ridden(None, Memory(), late)
    assert not is_ridden(made, Memory(closed_down=True), made.made_at)
    # Out there with no plan that holds, they are not in.
    assert is_ridden(replace(made, decision=Decision.NO_WAY, arrival=None), Memory(), late)
    rest = replace(made, decision=Decision.REST_DAY, arrival=None)
    assert not is_ridden(rest, Memory(), made.made_at)


@pytest.mark.parametrize("leads", [True, False])
def test_who_fills_up_before_the_day_is_told_that_its_plan_counts_on_it(*, leads: bool) -> None:
    full = replace(BOOK, road=replace(BOOK.road, range_km=340.0))
    for book, answer in (
        (full, "The plan of Fri 2 Apr counts on a full tank in the morning: 272 km."),
        (BOOK, "Full tank noted; the tour file gives no range."),
    ):
        state, effects = step(
            replace(fresh(), book=book, leads=leads), RiderSaid(text="filled up", sent=SENT)
        )
        assert [effect.text for effect in effects if isinstance(effect, Say)] == [answer]
        assert state.demands.underway is None


@pytest.mark.parametrize(
    "line", ["sos", "we crashed!", "need help", "somebody is hurt", "🆘", "ambulence"]
)
def test_a_call_for_help_is_known_whatever_the_tour(line: str) -> None:
    assert is_call_for_help(line)


@pytest.mark.parametrize("line", ["help", "ok", "skip the loop", "", "tired", "is it safe"])
def test_what_is_no_call_for_help_is_none(line: str) -> None:
    assert not is_call_for_help(line)
