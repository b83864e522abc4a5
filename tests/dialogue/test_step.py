"""The conversation by itself: rules of the trade's replies (common practice, no source)."""

from dataclasses import replace
from datetime import date, timedelta

from replanner.advice.briefing import Decision, Hurdle, HurdleKind
from replanner.dialogue.events import (
    Accept,
    Effect,
    EveningCame,
    Memory,
    PlanArrived,
    PlanFailed,
    Remember,
    Replan,
    RiderSaid,
    Say,
    Share,
    Withdraw,
)
from replanner.dialogue.state import State, begin
from replanner.dialogue.step import step
from replanner.errors import ReplannerError
from replanner.trip.edits import Demands
from tests.dialogue.evening import BOOK, DAY, SENT, at, fresh, plan


class Talk:
    """Drives `step` as a shell would, keeping everything it asked for."""

    def __init__(self, state: State | None = None) -> None:
        self.state = state or fresh()
        self.effects: list[Effect] = []
        self.happen(EveningCame(day=self.state.day, now=SENT))

    def happen(self, event: EveningCame | RiderSaid | PlanArrived | PlanFailed) -> None:
        self.state, effects = step(self.state, event)
        for effect in effects:
            self.effects.append(effect)
            if isinstance(effect, Replan):
                try:
                    self.happen(PlanArrived(briefing=plan(effect), request=effect))
                except ReplannerError as error:
                    self.happen(PlanFailed(message=str(error), request=effect))

    def say(self, *lines: str) -> str:
        """Say lines; returns what was answered to the last of them."""
        for line in lines:
            self.effects = []
            self.happen(RiderSaid(text=line, sent=SENT))
        return "\n".join(effect.text for effect in self.effects if isinstance(effect, Say))

    def of(self, kind: type) -> list[Effect]:
        return [effect for effect in self.effects if isinstance(effect, kind)]

    @property
    def planned(self) -> tuple[str, ...]:
        assert self.state.shown is not None
        return tuple(leg.id for leg in self.state.shown.briefing.legs)

    @property
    def accepted(self) -> tuple[str, ...] | None:
        kept = self.state.accepted
        return tuple(leg.id for leg in kept.briefing.legs) if kept else None


def test_the_evening_shows_a_plan_and_on_the_first_one_every_caution() -> None:
    talk = Talk()
    said = [effect.text for effect in talk.of(Say) if isinstance(effect, Say)]
    assert "Fri 2 Apr: SWAP" in said[0]
    assert "In an emergency call the local number" in said[1]
    again = Talk(fresh(talk.state.memory))
    assert len(again.of(Say)) == 1


def test_ok_accepts_the_plan_shown_and_repeats_line_one() -> None:
    talk = Talk()
    answer = talk.say("ok")
    assert talk.accepted == ("quern", "hask")
    assert "Accepted" in answer
    assert "Fri 2 Apr: SWAP" in answer
    assert [type(effect) for effect in talk.effects] == [Accept, Remember, Say, Share]


def test_ok_without_a_plan_accepts_nothing() -> None:
    state, effects = step(fresh(), RiderSaid(text="ok", sent=SENT))
    assert state.accepted is None
    assert [type(effect) for effect in effects] == [Say]


def test_skip_replans_at_once_with_the_echo_in_the_first_line() -> None:
    talk = Talk()
    answer = talk.say("skip hask saddle")
    assert answer.splitlines()[0] == "Left out: Hask Saddle."
    assert talk.planned == ("quern",)
    assert talk.state.accepted is None


def test_a_change_after_an_ok_supersedes_only_at_the_next_ok() -> None:
    talk = Talk()
    answer = talk.say("ok", "skip hask saddle")
    assert talk.accepted == ("quern", "hask")
    assert "stands until you say ok" in answer
    talk.say("ok")
    assert talk.accepted == ("quern",)


def test_a_what_if_tells_differences_only_and_keeps_nothing_without_an_ok() -> None:
    talk = Talk()
    before = talk.state
    answer = talk.say("what if I leave at 7")
    assert answer.splitlines()[0] == "Leave at 07:00."
    assert "07:00" in answer
    assert "08:30" in answer
    assert "In by" not in answer.splitlines()[1]
    assert talk.state.demands == before.demands
    assert talk.state.shown == before.shown
    assert not talk.of(Remember)
    assert not talk.of(Accept)


def test_ok_takes_the_what_if_shown_last() -> None:
    talk = Talk()
    talk.say("what if I leave at 7", "ok")
    assert talk.state.accepted is not None
    assert talk.state.accepted.briefing.departure == at("07:00")
    assert talk.state.demands.departure == at("07:00")


def test_no_drops_the_what_if_and_ok_then_means_the_plan_before() -> None:
    talk = Talk()
    talk.say("what if I leave at 7", "no", "ok")
    assert talk.state.accepted is not None
    assert talk.state.accepted.briefing.departure == at("08:30")


def test_leaving_later_needs_a_second_yes_and_leaving_earlier_does_not() -> None:
    talk = Talk()
    question = talk.say("leave at 9:30")
    assert "60 min later" in question
    assert not talk.of(Replan)
    talk.say("yes")
    assert talk.state.demands.departure == at("09:30")
    earlier = Talk()
    earlier.say("leave at 8")
    assert earlier.state.demands.departure == at("08:00")


def test_a_later_what_if_needs_its_second_yes_at_the_ok() -> None:
    talk = Talk()
    question = talk.say("what if I leave at 9:30", "ok")
    assert "Say yes" in question
    assert talk.state.accepted is None
    talk.say("yes")
    assert talk.state.accepted is not None
    assert talk.state.accepted.briefing.departure == at("09:30")


def test_forcing_a_leg_left_out_for_wind_needs_a_second_yes() -> None:
    talk = Talk()
    question = talk.say("ride brindle loop all the same")
    assert "Brindle loop was left out" in question
    assert "gust" in question
    assert not talk.of(Replan)
    assert talk.say("hmm") and talk.state.demands == Demands()  # noqa: PT018 - one answer, one state
    talk.say("ride brindle loop all the same", "yes")
    assert "brindle" in talk.planned
    assert talk.state.accepted is None


def test_riding_a_leg_left_out_for_want_of_worth_needs_none() -> None:
    talk = Talk()
    talk.say("ride the causeway anyway")
    assert "causeway" in talk.planned


def test_riding_what_the_rider_left_out_takes_the_skip_back_and_forces_nothing() -> None:
    talk = Talk()
    answer = talk.say("skip hask saddle", "ride hask saddle after all")
    assert answer.splitlines()[0] == "Not left out any more: Hask Saddle."
    assert talk.state.demands == Demands()
    assert talk.planned == ("quern", "hask")


def test_ok_to_a_safety_question_is_asked_about_while_a_plan_waits_for_an_ok() -> None:
    talk = Talk()
    answer = talk.say("ride brindle loop all the same", "ok")
    assert answer.startswith("Which:")
    assert talk.state.demands == Demands()
    assert talk.state.accepted is None
    talk.say("accept")
    assert talk.accepted == ("quern", "hask")


def test_a_closure_is_taken_at_once_and_kept_at_once() -> None:
    talk = Talk()
    answer = talk.say("closed hask saddle")
    assert answer.startswith("Noted as closed: Hask Saddle.")
    assert talk.planned == ("quern",)
    kept = talk.of(Remember)[0]
    assert isinstance(kept, Remember)
    assert kept.memory.demands.closed == {"hask"}


def test_opening_needs_a_second_yes() -> None:
    talk = Talk()
    question = talk.say("closed hask saddle", "hask saddle is open")
    assert "You reported Hask Saddle closed" in question
    assert talk.state.demands.closed == {"hask"}
    talk.say("yes")
    assert not talk.state.demands.closed
    assert talk.planned == ("quern", "hask")


def test_opening_what_nobody_closed_says_so() -> None:
    assert "nobody reported" in Talk().say("the causeway is open")


def test_undoing_a_closure_needs_a_second_yes_too() -> None:
    talk = Talk()
    talk.say("closed hask saddle", "undo")
    assert talk.state.demands.closed == {"hask"}
    talk.say("yes")
    assert not talk.state.demands.closed
    assert talk.planned == ("quern", "hask")


def test_a_closed_leg_cannot_be_forced_before_it_is_open() -> None:
    talk = Talk()
    talk.say("closed hask saddle", "ride hask saddle anyway")
    assert not talk.of(Replan)
    assert talk.state.question is None


def test_a_plan_over_a_leg_closed_since_is_not_accepted() -> None:
    state, _ = step(Talk().state, RiderSaid(text="closed hask saddle", sent=SENT))
    assert state.waiting is not None
    state, _ = step(state, PlanFailed(message="no network", request=state.waiting.request))
    assert state.demands.closed == {"hask"}
    for line in ("ok", "yes", "accept"):
        state, effects = step(state, RiderSaid(text=line, sent=SENT))
        assert state.accepted is None
        assert not [effect for effect in effects if isinstance(effect, Accept)]


def test_undo_takes_back_the_last_change_and_shows_the_plan_before() -> None:
    talk = Talk()
    before = talk.state
    answer = talk.say("skip hask saddle", "undo")
    assert answer.splitlines()[0] == "Undo: Left out: Hask Saddle."
    assert talk.state.demands == before.demands
    assert talk.state.shown == before.shown


def test_undo_takes_back_an_ok() -> None:
    talk = Talk()
    talk.say("ok", "undo")
    assert talk.state.accepted is None
    assert talk.of(Withdraw) == [Withdraw(day=DAY)]


def test_undo_of_a_second_ok_brings_the_first_back() -> None:
    talk = Talk()
    talk.say("ok", "skip hask saddle", "ok", "undo")
    assert talk.accepted == ("quern", "hask")
    again = talk.of(Accept)[0]
    assert isinstance(again, Accept)
    assert again.demands == Demands()


def test_undo_with_nothing_done_says_so() -> None:
    assert Talk().say("undo") == "There is nothing to undo."


def test_keeping_the_own_order_shows_its_worst_caution_once() -> None:
    talk = Talk()
    first = talk.say("keep my order")
    assert first.splitlines()[0] == "Your own order is kept."
    assert "gust" in first.splitlines()[2]
    assert talk.planned == ("hask", "quern")
    again = talk.say("undo", "keep my order")
    assert again.splitlines()[0] == "Your own order is kept."
    assert "Worst" not in again


def test_an_own_order_that_breaks_a_limit_is_told_so_and_stays_the_riders_choice() -> None:
    talk = Talk()
    assert talk.state.shown is not None
    breaks = Hurdle(kind=HurdleKind.LIGHT, leg="hask", at=at("09:00"))
    own = replace(talk.state.shown.briefing.own_order, value_minutes=None, breaks=breaks)
    broken = replace(talk.state.shown.briefing, own_order=own)
    talk.state = replace(talk.state, shown=replace(talk.state.shown, briefing=broken))
    assert "last light on Hask Saddle at 09:00" in talk.say("keep")
    assert talk.planned == ("hask", "quern")
    talk.say("ok")
    assert talk.accepted == ("hask", "quern")


def test_a_day_without_a_plan_is_not_accepted() -> None:
    talk = Talk()
    assert talk.state.shown is not None
    none = replace(
        talk.state.shown.briefing, decision=Decision.NO_WAY, departure=None, arrival=None, legs=()
    )
    talk.state = replace(talk.state, shown=replace(talk.state.shown, briefing=none))
    assert talk.say("ok").startswith("There is no plan to accept.")
    assert talk.state.accepted is None


def test_plan_b_is_planned_through_so_that_ok_can_take_it() -> None:
    talk = Talk()
    answer = talk.say("plan b")
    assert "worse than forecast" in answer
    assert talk.planned == ("quern", "hask")
    talk.say("ok")
    assert talk.accepted == ("quern", "valley")


def test_the_own_order_after_plan_b_is_the_riders_whole_order() -> None:
    talk = Talk()
    answer = talk.say("plan b", "ok", "keep my order")
    assert answer.splitlines()[0] == "Your own order is kept."
    assert talk.planned == ("hask", "quern")
    assert talk.state.demands == Demands(own_order=True)


def test_what_was_asked_for_is_not_taken_for_the_own_order() -> None:
    """Of what a rider has asked for no change is told: the legs of plan B, another order."""
    for lines in (("plan b", "ok"), ("swap quern and hask saddle", "ok")):
        talk = Talk()
        talk.say(*lines)
        shown = talk.state.shown
        assert shown is not None
        assert shown == talk.state.accepted
        untold = replace(shown, briefing=replace(shown.briefing, changes=()))
        talk.state = replace(talk.state, shown=untold, accepted=untold)
        answer = talk.say("keep my order")
        assert answer.splitlines()[0] == "Your own order is kept."
        assert talk.state.demands == Demands(own_order=True)
        assert talk.say("keep my order") == "This is your own order. Say ok to accept it."


def test_the_own_order_keeps_what_the_rider_left_out_and_says_so() -> None:
    talk = Talk()
    answer = talk.say("skip quern", "keep my order")
    first = answer.splitlines()[0]
    assert first == "Your own order is kept. In force: without Quern Point loop."
    assert talk.planned == ("hask",)


def test_plan_b_that_cannot_be_planned_is_still_told() -> None:
    talk = Talk()
    state, _ = step(talk.state, RiderSaid(text="plan b", sent=SENT))
    assert state.waiting is not None
    state, effects = step(state, PlanFailed(message="no network", request=state.waiting.request))
    said = [effect.text for effect in effects if isinstance(effect, Say)]
    assert "worse than forecast" in said[0]
    assert "no network" in said[0]
    assert state.trial is None


def test_swapping_two_legs_of_the_day_demands_the_other_order() -> None:
    talk = Talk()
    talk.say("swap quern and hask saddle")
    assert talk.planned == ("hask", "quern")
    assert talk.state.demands.before == {("hask", "quern")}


def test_a_leg_moves_to_another_day_at_the_same_base() -> None:
    talk = Talk()
    talk.say("swap quern with saturday")
    assert talk.state.demands.moved == {("quern", date(2027, 4, 3))}
    assert talk.planned == ("hask",)


def test_a_leg_does_not_move_to_a_day_at_another_base() -> None:
    talk = Talk()
    answer = talk.say("swap quern with monday")
    assert "runs from Sable to Sable" in answer
    assert talk.state.demands == Demands()


def test_two_legs_of_different_days_change_places() -> None:
    talk = Talk()
    talk.say("swap quern and gannet")
    assert talk.state.demands.moved == {("quern", date(2027, 4, 3)), ("gannet", DAY)}
    assert talk.planned == ("hask", "gannet")


def test_whole_days_are_swapped_only_where_the_base_is_the_same() -> None:
    talk = Talk()
    assert "whole days cannot be swapped" in talk.say("swap tomorrow with sunday")
    talk.say("swap tomorrow with saturday")
    assert dict(talk.state.demands.moved) == {
        "hask": date(2027, 4, 3),
        "quern": date(2027, 4, 3),
        "gannet": DAY,
        "tar": DAY,
    }


def test_a_question_which_is_answered_by_number_name_or_dropped() -> None:
    for answer in ("2", "the second", "valley road"):
        talk = Talk()
        assert talk.say("closed hask").startswith("Which one? 1 Hask Saddle, 2 Hask valley road")
        talk.say(answer)
        assert talk.state.demands.closed == {"valley"}
    talk = Talk()
    talk.say("closed hask", "why")
    assert talk.state.demands == Demands()
    assert talk.state.question is None


def test_an_hour_of_the_night_is_asked_about() -> None:
    talk = Talk()
    assert "1 03:00, 2 15:00" in talk.say("what if I leave at 3")
    talk.say("3am")
    assert talk.state.trial is not None
    assert talk.state.trial.demands.departure == at("03:00")


def test_a_failed_change_leaves_all_as_it_was() -> None:
    talk = Talk()
    before = talk.state
    state, _ = step(before, RiderSaid(text="skip quern", sent=SENT))
    assert state.waiting is not None
    state, effects = step(state, PlanFailed(message="no network", request=state.waiting.request))
    assert replace(state, waiting=None) == before
    assert "no network" in "".join(e.text for e in effects if isinstance(e, Say))


def test_an_answer_to_an_older_question_is_let_go() -> None:
    talk = Talk()
    first, _ = step(talk.state, RiderSaid(text="skip quern", sent=SENT))
    assert first.waiting is not None
    second, _ = step(first, RiderSaid(text="closed hask saddle", sent=SENT))
    late = PlanArrived(briefing=plan(first.waiting.request), request=first.waiting.request)
    assert step(second, late) == (second, ())
    assert second.demands.left_out == {"quern"}
    assert second.demands.closed == {"hask"}


def test_an_ok_while_a_new_plan_is_being_made_accepts_nothing() -> None:
    state, _ = step(Talk().state, RiderSaid(text="skip quern", sent=SENT))
    state, _ = step(state, RiderSaid(text="ok", sent=SENT))
    assert state.accepted is None


def test_ok_to_a_stale_plan_is_taken_and_said() -> None:
    talk = Talk()
    assert talk.state.shown is not None
    old = replace(talk.state.shown.briefing, plan_stale=True, stale_cause="no network")
    talk.state = replace(talk.state, shown=replace(talk.state.shown, briefing=old))
    answer = talk.say("ok")
    assert "last good plan" in answer
    assert talk.accepted == ("quern", "hask")


def test_ok_with_a_question_mark_accepts_nothing() -> None:
    talk = Talk()
    assert "without a question mark" in talk.say("ok?")
    assert talk.state.accepted is None


def test_a_call_for_help_gets_the_number_and_the_last_known_leg_and_nothing_else() -> None:
    talk = Talk()
    talk.say("ok")
    on_hask = at("10:45")
    state, effects = step(talk.state, RiderSaid(text="we crashed", sent=on_hask))
    assert [effect.text for effect in effects if isinstance(effect, Say)] == [
        "Call the emergency number now (112 works on many networks). I cannot call.\n"
        "By the plan you are on Hask Saddle, 10:30 to 11:30."
    ]
    assert state == talk.state
    assert talk.say("sos").splitlines() == [
        "Call the emergency number now (112 works on many networks). I cannot call."
    ]


def test_the_bare_word_help_gives_the_number_first() -> None:
    lines = Talk().say("help").splitlines()
    assert lines[0].startswith("In an emergency call the emergency number")
    assert "You can say" in lines[1]


def test_late_is_told_against_the_spare_minutes() -> None:
    talk = Talk()
    assert "25 min still to spare" in talk.say("running 40 late")
    assert "breaks the plan by 15 min (dusk)" in talk.say("running 80 min late")


def test_late_is_late_for_the_plan_not_for_a_what_if() -> None:
    talk = Talk()
    talk.say("what if I leave at 7")
    trial = talk.state.trial
    assert trial is not None
    roomy = replace(trial, briefing=replace(trial.briefing, spare_minutes=200.0))
    talk.state = replace(talk.state, trial=roomy)
    assert "breaks the plan by 15 min (dusk)" in talk.say("running 80 min late")
    talk.say("ok")
    assert "120 min still to spare" in talk.say("running 80 min late")


def test_what_is_not_understood_gets_one_line_with_the_nearest() -> None:
    answer = Talk().say("the soup was great")
    assert answer.startswith("I did not get that. Nearest:")
    assert "how long have I got" in answer
    assert len(answer.splitlines()) == 1


def test_closures_are_known_only_when_reported() -> None:
    talk = Talk()
    assert "not reported closed" in talk.say("is the causeway open?")
    assert "You reported Salt Causeway closed" in talk.say(
        "closed causeway", "is the causeway open?"
    )


def test_another_evening_begins_afresh_but_keeps_swaps() -> None:
    talk = Talk()
    talk.say("closed hask saddle", "swap quern with saturday", "ok")
    talk.happen(EveningCame(day=DAY + timedelta(days=1), now=SENT + timedelta(days=1)))
    assert talk.state.accepted is None
    assert talk.state.demands == Demands(moved=frozenset({("quern", date(2027, 4, 3))}))


def test_what_is_in_force_from_an_earlier_run_is_told_in_the_first_line() -> None:
    demands = Demands(closed=frozenset({"hask"}), left_out=frozenset({"causeway"}))
    talk = Talk(fresh(Memory(demands=demands, cautions_shown=True)))
    said = talk.of(Say)[0]
    assert isinstance(said, Say)
    assert said.text.splitlines()[0] == "In force: closed Hask Saddle; without Salt Causeway."
    assert talk.planned == ("quern",)


def test_demands_on_legs_the_tour_no_longer_has_are_dropped() -> None:
    memory = Memory(demands=Demands(closed=frozenset({"hask", "gone"})))
    state = begin("coast", BOOK, DAY, memory=memory, accepted=None)
    assert state.demands.closed == {"hask"}
