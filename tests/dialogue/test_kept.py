"""A conversation left and taken up again. The day is invented."""

from dataclasses import replace
from datetime import date, timedelta

from replanner.dialogue.events import EveningCame, Memory, RiderSaid
from replanner.dialogue.kept import Common, kept, taken_up
from replanner.dialogue.road_told import in_force
from replanner.dialogue.state import State
from replanner.trip.edits import Demands
from tests.dialogue.evening import BOOK, DAY
from tests.dialogue.phrasings import When, happen, under_way


def test_the_plan_of_the_road_outlasts_a_look_at_another_day() -> None:
    """Late on Friday; Saturday is looked at; the next word of Friday is by the plan made late."""
    road, sent = under_way(When.ROAD)
    late, _ = happen(road, RiderSaid(text="running 40 late", sent=sent))
    assert late.shown is not None
    assert late.shown.demands.underway is not None
    saturday = DAY + timedelta(days=1)
    friday = Common(
        memory=late.memory, accepted=late.accepted.briefing if late.accepted else None, last=None
    )
    friday = replace(friday, last=friday.accepted)  # as stored: the accepted plan before others
    other = Common(memory=Memory(), accepted=None, last=None)

    def turned(state: State, common: Common, day: date) -> State:
        return taken_up(kept(state), common, day, tour_key="coast", book=BOOK, leads=True)

    there = turned(late, other, saturday)
    assert there.shown is None
    still = turned(there, other, saturday)  # kept and taken up there again
    back = turned(still, friday, DAY)
    assert in_force(back) == late.shown
    assert back.parked is None
    # The group has moved on meanwhile: that plan is not the newest any more.
    moved = replace(
        friday, memory=replace(late.memory, demands=Demands(closed=frozenset({"hask"})))
    )
    stale = turned(still, moved, DAY)
    assert in_force(stale) != late.shown
    assert stale.accepted is not None
    # The same where the terminal goes on without a restart.
    asked, _ = happen(late, EveningCame(day=saturday, now=sent))
    assert asked.parked is not None
    assert in_force(turned(asked, friday, DAY)) == late.shown
