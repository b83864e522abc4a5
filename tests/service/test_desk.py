"""One event with all that follows from it. The day is invented."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from replanner.advice.briefing import Briefing
from replanner.dialogue.events import (
    Accept,
    EveningCame,
    Event,
    LogLeg,
    MorningCame,
    Remember,
    Replan,
    RiderSaid,
    Say,
    SendTrack,
    ShowPicture,
    StrikeLog,
)
from replanner.dialogue.state import State
from replanner.errors import ForecastError
from replanner.service.desk import KeepPlan, Upshot, attend, keep
from replanner.store.store import open_store
from tests.dialogue.evening import DAY, SENT, at, fresh, plan


def made(request: Replan) -> tuple[Briefing, bool]:
    return replace(plan(request), made_at=SENT), True


def after(*events: Event) -> tuple[State, tuple[Upshot, ...]]:
    state, upshots = fresh(), ()
    for event in events:
        state, upshots = attend(state, event, made)
    return state, upshots


EVENING = EveningCame(day=DAY, now=SENT)


def test_a_plan_that_is_shown_is_kept_and_told() -> None:
    state, upshots = after(EVENING)
    assert state.shown is not None
    assert [type(one) for one in upshots] == [
        KeepPlan, Say, Say, Remember, ShowPicture, SendTrack,
    ]  # fmt: skip
    assert upshots[4:] == (
        ShowPicture(briefing=state.shown.briefing, unasked=True),
        SendTrack(briefing=state.shown.briefing, unasked=True),
    )
    assert upshots[0] == KeepPlan(briefing=state.shown.briefing, demands=state.demands)


def test_files_go_with_an_evening_and_with_no_plan_asked_for() -> None:
    for line in ("plan", "skip hask saddle", "what if we skip hask saddle", "look again"):
        _, upshots = after(EVENING, RiderSaid(text=line, sent=SENT))
        assert any(isinstance(one, Say) for one in upshots), line
        assert not any(isinstance(one, ShowPicture | SendTrack) for one in upshots), line


def test_a_what_if_is_not_kept() -> None:
    _, upshots = after(EVENING, RiderSaid(text="what if we skip hask saddle", sent=SENT))
    assert [type(one) for one in upshots] == [Say]


def test_a_plan_that_was_only_looked_at_is_not_kept() -> None:
    def later(request: Replan) -> tuple[Briefing, bool]:
        return replace(plan(request), made_at=SENT + timedelta(hours=12)), True

    state, _ = after(EVENING)
    _, upshots = attend(state, MorningCame(day=DAY, now=at("07:45")), later)
    assert upshots == ()


def test_the_last_good_plan_is_not_kept_again() -> None:
    def last(request: Replan) -> tuple[Briefing, bool]:
        return replace(plan(request), plan_stale=True), False

    _, upshots = attend(fresh(), EVENING, last)
    assert KeepPlan not in {type(one) for one in upshots}


def test_a_plan_that_cannot_be_made_is_told_in_one_line() -> None:
    def offline(_: Replan) -> tuple[Briefing, bool]:
        raise ForecastError("no network", mend="try again later")

    _, upshots = attend(fresh(), EVENING, offline)
    (told,) = upshots
    assert isinstance(told, Say)
    assert "no network -- try again later" in told.text
    assert "that is not good weather" in told.text
    assert len(told.text.splitlines()) == 1


@pytest.mark.parametrize("line", ["ok", "closed hask saddle", "done: quern. missed hask (fog)"])
def test_what_is_kept_is_what_came_of_it(tmp_path: Path, line: str) -> None:
    store = open_store(str(tmp_path / "plans.db"), lambda: SENT)
    try:
        state, upshots = after(EVENING, RiderSaid(text=line, sent=at("19:00")))
        with store.work() as work:
            keep(work, "coast", upshots, SENT)
        for one in upshots:
            match one:
                case Accept(briefing=briefing):
                    assert store.accepted_plan("coast", DAY) == briefing
                case Remember(memory=memory):
                    assert store.recall("coast", DAY) == memory
                case LogLeg():
                    assert one in store.logged("coast")
                case _:
                    pass
        state, undone = attend(state, RiderSaid(text="undo", sent=SENT), made)
        with store.work() as work:
            keep(work, "coast", undone, SENT)
        if any(isinstance(one, StrikeLog) for one in undone):
            assert store.logged("coast") == ()
        if line == "ok":
            assert store.accepted_plan("coast", DAY) is None
    finally:
        store.close()
