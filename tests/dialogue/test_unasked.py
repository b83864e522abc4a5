"""What is said unasked: nothing without a change, once what matters. The day is invented."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.advice.briefing import Briefing, Decision, DecisionPoint, LeftOut, PlannedLeg
from replanner.dialogue.events import (
    Audience,
    Effect,
    EveningCame,
    Event,
    MorningCame,
    OverdueCame,
    PlanArrived,
    PlanFailed,
    Remember,
    Replan,
    RiderSaid,
    RoadCheckCame,
    Say,
    Share,
)
from replanner.dialogue.kept import Common, kept, taken_up
from replanner.dialogue.state import State
from replanner.dialogue.step import step
from replanner.errors import ForecastError, ReplannerError
from replanner.geodesy import Point
from replanner.trip.underway import Underway
from tests.dialogue.evening import BOOK, DAY, GUST, SENT, at, fresh, plan

WARNED = DecisionPoint(
    leg="hask",
    place="haskfoot",
    place_name="Haskfoot",
    latest=at("10:15"),
    rule=GUST,
    instead="valley",
    instead_name="Hask valley road",
    arrival_instead=None,
)


class Day:
    """A conversation with a planner whose weather can be turned."""

    def __init__(self) -> None:
        self.weather: Callable[[Briefing], Briefing] = lambda briefing: briefing
        self.failing = False
        self.state = replace(fresh(), cautions_shown=True)
        self.happen(EveningCame(day=DAY, now=SENT))

    def happen(self, event: Event) -> list[Effect]:
        self.state, effects = step(self.state, event)
        done: list[Effect] = []
        for effect in effects:
            done.append(effect)
            if isinstance(effect, Replan):
                done += self.happen(self._answer(effect))
        return done

    def _answer(self, request: Replan) -> PlanArrived | PlanFailed:
        try:
            if self.failing:
                raise ForecastError("no network")
            whole = self.weather(plan(request))
        except ReplannerError as error:
            return PlanFailed(message=str(error), request=request)
        underway = request.demands.underway
        if underway is None:
            return PlanArrived(briefing=whole, request=request)
        rest = tuple(leg for leg in whole.legs if leg.start > underway.at)
        briefing = replace(whole, departure=underway.at, legs=rest)
        return PlanArrived(briefing=briefing, request=request)

    def morning(self) -> list[Effect]:
        return told(self.happen(MorningCame(day=DAY, now=at("07:45"))))

    def check(self, now: datetime) -> list[Effect]:
        return told(self.happen(RoadCheckCame(day=DAY, now=now)))

    def ok(self) -> None:
        self.happen(RiderSaid(text="ok", sent=SENT))


def told(effects: list[Effect]) -> list[Effect]:
    """Return all but the plans that were asked for."""
    return [effect for effect in effects if not isinstance(effect, Replan)]


def said(effects: list[Effect]) -> list[Say]:
    return [effect for effect in effects if isinstance(effect, Say)]


def gale(leg: str, severity: float) -> Callable[[Briefing], Briefing]:
    def blown(briefing: Briefing) -> Briefing:
        return replace(
            briefing,
            legs=tuple(
                replace(one, severity=severity, hazard=GUST) if one.id == leg else one
                for one in briefing.legs
            ),
        )

    return blown


@pytest.fixture
def day() -> Day:
    return Day()


@pytest.mark.parametrize("accepted", [True, False])
def test_a_morning_without_a_change_says_nothing_at_all(day: Day, *, accepted: bool) -> None:
    if accepted:
        day.ok()
    before = day.state
    assert day.morning() == []
    assert day.state == before


def test_a_changed_morning_tells_the_change_its_reason_and_the_rest(day: Day) -> None:
    day.ok()
    day.weather = gale("hask", 4.0)
    effects = day.morning()
    (word,) = said(effects)
    first = word.text.splitlines()[0]
    assert "CHANGE: Hask Saddle no-go at 11:00 gust 76, limit 54 km/h, was go" in first
    assert word.urgent
    assert word.buttons[0].word == "ok"
    assert word.serial == day.state.serial
    (share,) = [effect for effect in effects if isinstance(effect, Share)]
    assert share.cause == first
    # Who is left in peace until the evening is past it.
    assert day.state.shown is not None
    arrival = day.state.shown.briefing.arrival
    assert arrival is not None
    assert word.useless_after == share.useless_after == arrival
    assert any(isinstance(effect, Remember) for effect in effects)
    assert len(word.text.splitlines()) <= 6


def test_a_changed_morning_says_that_the_plan_agreed_on_counts_until_an_ok(day: Day) -> None:
    """Who rides by the change and says nothing would be reckoned to be where he is not."""
    day.ok()
    agreed = day.state.accepted
    day.weather = gale("hask", 4.0)
    (word,) = said(day.morning())
    assert word.text.splitlines()[-1] == "ok takes it; till then I go by the plan you accepted."
    assert day.state.accepted == agreed
    day.ok()
    assert day.state.accepted == day.state.shown != agreed


def test_a_changed_morning_offers_nothing_to_agree_on_where_nothing_was(day: Day) -> None:
    day.weather = gale("hask", 4.0)
    (word,) = said(day.morning())
    assert "ok takes it" not in word.text
    friend = Day()
    friend.ok()
    friend.state = replace(friend.state, leads=False)
    friend.weather = gale("hask", 4.0)
    (word,) = said(friend.morning())
    assert "ok takes it" not in word.text


def worth(minutes: float, first: str) -> Callable[[Briefing], Briefing]:
    """Let a plan be worth so much more if it begins with a leg."""

    def valued(briefing: Briefing) -> Briefing:
        more = minutes if briefing.legs[0].id == first else 0.0
        return replace(briefing, value_minutes=100.0 + more)

    return valued


@pytest.mark.parametrize("more", [0.0, 20.0])
def test_a_morning_does_not_turn_the_order_round_for_nothing(
    day: Day, monkeypatch: pytest.MonkeyPatch, more: float
) -> None:
    """The same sky, seen from nearer: the search prefers another order that is worth as much."""
    day.ok()
    before = day.state
    monkeypatch.setattr("tests.dialogue.evening.SUGGESTED", ("hask", "quern"))
    day.weather = worth(more, "hask")
    assert day.morning() == []
    assert day.state == before


def test_a_morning_tells_an_order_that_is_worth_more(
    day: Day, monkeypatch: pytest.MonkeyPatch
) -> None:
    day.ok()
    monkeypatch.setattr("tests.dialogue.evening.SUGGESTED", ("hask", "quern"))
    day.weather = worth(20.1, "hask")
    (word,) = said(day.morning())
    assert "CHANGE: new order Hask Saddle, Quern Point" in word.text
    assert not day.state.demands.before  # it was asked for to be weighed, nobody wishes it


def test_a_morning_tells_a_new_order_where_the_old_one_has_become_worse(
    day: Day, monkeypatch: pytest.MonkeyPatch
) -> None:
    day.ok()
    monkeypatch.setattr("tests.dialogue.evening.SUGGESTED", ("hask", "quern"))

    def late_gale(briefing: Briefing) -> Briefing:
        return gale("hask", 3.0)(briefing) if briefing.legs[1].id == "hask" else briefing

    day.weather = late_gale
    (word,) = said(day.morning())
    assert "CHANGE: new order Hask Saddle, Quern Point" in word.text


def test_a_morning_keeps_the_order_and_tells_what_else_has_changed(
    day: Day, monkeypatch: pytest.MonkeyPatch
) -> None:
    day.weather = gale("hask", 3.0)
    day.happen(EveningCame(day=DAY, now=SENT))
    day.ok()
    monkeypatch.setattr("tests.dialogue.evening.SUGGESTED", ("hask", "quern"))
    day.weather = lambda briefing: briefing
    (word,) = said(day.morning())
    assert "CHANGE: Hask Saddle go, was avoid" in word.text
    assert "new order" not in word.text


def test_an_old_order_that_cannot_be_planned_any_more_is_given_up(
    day: Day, monkeypatch: pytest.MonkeyPatch
) -> None:
    day.ok()
    monkeypatch.setattr("tests.dialogue.evening.SUGGESTED", ("hask", "quern"))

    def shut(briefing: Briefing) -> Briefing:
        if briefing.legs[0].id == "hask":
            return briefing
        raise ForecastError("no way")

    day.weather = shut
    (word,) = said(day.morning())
    assert "new order Hask Saddle, Quern Point" in word.text


def test_the_accepted_plan_stands_until_the_changed_one_is_accepted(day: Day) -> None:
    day.ok()
    accepted = day.state.accepted
    day.weather = gale("hask", 3.0)
    day.morning()
    assert day.state.accepted == accepted
    day.ok()
    assert day.state.accepted is not None
    assert day.state.accepted.briefing.legs[1].severity == 3.0


def test_the_same_change_is_told_once(day: Day) -> None:
    day.ok()
    day.weather = gale("hask", 3.0)
    assert said(day.morning())
    assert day.morning() == []
    assert day.check(at("09:00")) == []


def test_a_morning_that_could_not_be_checked_is_said_to_be(day: Day) -> None:
    day.ok()
    day.weather = lambda briefing: replace(briefing, plan_stale=True, stale_cause="no network")
    (word,) = said(day.morning())
    assert "Not checked this morning: no network." in word.text
    day.failing = True
    (word,) = said(day.morning())
    assert "Not checked this morning: no network" in word.text


def test_no_plan_in_the_morning_is_urgent(day: Day) -> None:
    day.ok()
    day.weather = lambda briefing: replace(
        briefing, decision=Decision.NO_WAY, departure=None, arrival=None, legs=()
    )
    (word,) = said(day.morning())
    assert word.urgent
    assert "does not hold" in word.text


def test_a_road_check_without_a_change_says_nothing_and_changes_nothing(day: Day) -> None:
    day.ok()
    day.weather = gale("hask", 2.0)
    day.morning()
    day.ok()
    before = day.state
    assert day.check(at("09:30")) == []
    assert day.state == before


def test_a_road_check_alerts_once_with_where_to_choose(day: Day) -> None:
    day.weather = lambda briefing: replace(gale("hask", 2.0)(briefing), decision_points=(WARNED,))
    day.happen(EveningCame(day=DAY, now=SENT))
    day.ok()
    day.weather = gale("hask", 4.0)
    (word,) = said(day.check(at("09:35")))
    lines = word.text.splitlines()
    assert lines[0].startswith("09:35 CHANGE: Hask Saddle no-go")
    assert lines[1] == "Decide at Haskfoot by 10:15: Hask valley road."
    assert word.urgent
    assert ("hask", "no-go gust") in day.state.alerted
    assert day.check(at("10:00")) == []


def test_a_leg_that_gets_better_is_no_alert_on_the_road(day: Day) -> None:
    day.weather = gale("hask", 3.0)
    day.happen(EveningCame(day=DAY, now=SENT))
    day.ok()
    day.weather = lambda briefing: briefing
    assert day.check(at("09:00")) == []


def test_a_leg_begun_already_is_no_alert(day: Day) -> None:
    day.ok()
    day.weather = gale("quern", 4.0)
    assert day.check(at("09:00")) == []


def test_a_leg_that_falls_out_for_the_weather_is_an_alert(day: Day) -> None:
    day.weather = gale("hask", 2.0)
    day.happen(EveningCame(day=DAY, now=SENT))
    day.ok()
    out = LeftOut(id="hask", name="Hask Saddle", reason=GUST, cause="hazard", price_minutes=None)
    day.weather = lambda briefing: replace(briefing, legs=briefing.legs[:1], left_out=(out,))
    (word,) = said(day.check(at("09:00")))
    assert "without Hask Saddle, at 11:00 gust 76" in word.text


def test_a_road_check_that_fails_is_silent(day: Day) -> None:
    day.weather = gale("hask", 2.0)
    day.happen(EveningCame(day=DAY, now=SENT))
    day.ok()
    day.failing = True
    before = day.state
    assert day.check(at("09:00")) == []
    assert day.state == before


def test_overdue_is_one_nudge_and_a_text_to_forward_to_everyone(day: Day) -> None:
    day.ok()
    now = at("12:31")
    nudge, forward = said(day.happen(OverdueCame(day=DAY, now=now)))
    assert "home safe" in nudge.text
    assert nudge.urgent
    assert (nudge.to, forward.to) == (Audience.EVERYONE, Audience.EVERYONE)
    assert "planned to be in Orrowick by 11:30" in forward.text
    assert "Last leg by the plan: Hask Saddle, 10:30 to 11:30." in forward.text
    assert "Position" not in forward.text
    assert told(day.happen(OverdueCame(day=DAY, now=now + timedelta(hours=1)))) == []


def test_nobody_is_asked_after_who_is_home(day: Day) -> None:
    day.ok()
    day.happen(RiderSaid(text="home safe", sent=at("11:20")))
    assert told(day.happen(OverdueCame(day=DAY, now=at("12:31")))) == []
    assert day.morning() == []


def test_a_position_that_was_shared_is_in_the_text_for_home(day: Day) -> None:
    day.ok()
    shared = Underway(at=at("10:50"), ready=at("10:50"), point=Point(-44.12345, 170.5, 0.0))
    day.state = replace(day.state, demands=replace(day.state.demands, underway=shared))
    _, forward = said(day.happen(OverdueCame(day=DAY, now=at("12:31"))))
    assert "Position shared at 10:50: -44.12345 170.50000." in forward.text


def again(day: Day) -> State:
    """Take the conversation up as another run does."""
    accepted = day.state.accepted.briefing if day.state.accepted else None
    last = day.state.shown.briefing if day.state.shown else None
    common = Common(memory=day.state.memory, accepted=accepted, last=last)
    return taken_up(kept(day.state), common, DAY, tour_key="coast", book=BOOK, leads=True)


def test_a_conversation_taken_up_again_is_where_it_was(day: Day) -> None:
    day.ok()
    day.weather = gale("hask", 3.0)
    day.morning()
    assert again(day) == day.state


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from(["quern", "hask"]), st.floats(0, 4.5)), max_size=8),
    st.integers(450, 640),
)
def test_no_change_no_message_and_never_twice_for_one_leg_and_cause(
    weathers: list[tuple[str, float]], minute: int
) -> None:
    day = Day()
    day.ok()
    alerts: list[tuple[str, str]] = []
    day.morning()
    now = at("00:00") + timedelta(minutes=minute)
    for leg, severity in weathers:
        day.weather = gale(leg, severity)
        known = day.state.alerted
        effects = day.check(now)
        if effects:
            new = day.state.alerted - known
            assert new
            alerts += sorted(new)
        before = day.state
        assert day.check(now) == []  # the same weather again
        assert day.state == before
    assert len(alerts) == len(set(alerts))


# ------------------------------------------------------------------ asked for on the road

ASKED = ("does it still hold", "plan")


def asked(day: Day, line: str, sent: str) -> list[Effect]:
    return told(day.happen(RiderSaid(text=line, sent=at(sent))))


@pytest.mark.parametrize("line", ASKED)
def test_on_the_road_the_rest_of_the_day_is_looked_at_from_where_they_are(
    day: Day, line: str
) -> None:
    """By the plan: Quern 08:30 to 09:30, Hask 10:30. At 09:45 only Hask is ahead."""
    day.ok()
    before = day.state
    (word,) = asked(day, line, "09:45")
    assert isinstance(word, Say)
    assert "Nothing changed." in word.text
    assert "Next: 10:30 Hask Saddle" in word.text
    assert "Quern" not in word.text
    assert day.state == before  # nothing was asked for but a look


@pytest.mark.parametrize("line", ASKED)
def test_what_a_look_on_the_road_finds_is_ridden_by_and_shown_to_all(day: Day, line: str) -> None:
    day.ok()
    day.weather = gale("hask", 4.0)
    effects = asked(day, line, "09:45")
    (word,) = said(effects)
    assert "09:45 CHANGE: Hask Saddle no-go" in word.text
    assert len([effect for effect in effects if isinstance(effect, Share)]) == 1
    assert any(isinstance(effect, Remember) for effect in effects)
    underway = day.state.demands.underway
    assert underway is not None
    assert underway.ridden == {"quern"}
    assert day.check(at("10:00")) == []  # that is known by now


def test_what_nobody_agreed_on_is_shown_to_who_asked_alone(day: Day) -> None:
    day.weather = gale("hask", 4.0)
    effects = asked(day, "does it still hold", "09:45")
    assert "CHANGE: Hask Saddle no-go" in said(effects)[0].text
    assert not [effect for effect in effects if isinstance(effect, Share)]


def test_who_does_not_lead_is_told_and_nothing_else(day: Day) -> None:
    day.ok()
    day.state = replace(day.state, leads=False)
    day.weather = gale("hask", 4.0)
    before = day.state
    (word,) = asked(day, "does it still hold", "09:45")
    assert isinstance(word, Say)
    assert "CHANGE: Hask Saddle no-go" in word.text
    assert (day.state.shown, day.state.demands) == (before.shown, before.demands)


@pytest.mark.parametrize("sent", ["08:15", "23:30"])
def test_before_leaving_and_once_the_day_is_closed_it_is_the_whole_day(day: Day, sent: str) -> None:
    day.ok()
    if sent == "23:30":
        day.happen(RiderSaid(text="home safe", sent=at("12:00")))
    (word,) = asked(day, "does it still hold", sent)
    assert isinstance(word, Say)
    assert word.text.startswith("Nothing changed. Fri 2 Apr")


def test_another_order_of_the_same_legs_is_no_news_on_the_road(day: Day) -> None:
    day.ok()
    before = day.state
    day.weather = lambda briefing: replace(briefing, legs=swapped(briefing.legs))
    (word,) = asked(day, "does it still hold", "08:40")
    assert isinstance(word, Say)
    assert "Nothing changed." in word.text
    assert "Next:" not in word.text  # the order ridden by is the one agreed on
    assert day.state == before


def swapped(legs: tuple[PlannedLeg, ...]) -> tuple[PlannedLeg, ...]:
    """Ride the second leg first, both of them still ahead at 08:40."""
    first, last = legs
    return (
        replace(last, start=at("08:45"), end=at("09:45")),
        replace(first, start=at("10:30"), end=at("11:30")),
    )


@pytest.mark.parametrize("line", ASKED)
def test_of_a_day_that_is_past_nothing_is_planned(day: Day, line: str) -> None:
    day.ok()
    before = day.state
    effects = day.happen(RiderSaid(text=line, sent=at("09:00", DAY + timedelta(days=9))))
    assert [effect for effect in effects if isinstance(effect, Replan)] == []
    assert said(effects)[0].text == "Fri 2 Apr is past."
    assert day.state == before
