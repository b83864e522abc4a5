"""What other days' conversations say of a day: the later word counts, also where it takes back."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from replanner.dialogue.events import Memory
from replanner.store.recalling import recalled
from replanner.trip.edits import Demands
from replanner.trip.underway import Report, ReportKind

FRIDAY, SATURDAY, SUNDAY = (date(2027, 4, day) for day in (2, 3, 4))
NOON = datetime(2027, 4, 2, 0, tzinfo=UTC)
WEEK = Report(
    leg="quern", kind=ReportKind.GRAVEL, level=3, since=NOON, until=NOON + timedelta(days=7)
)
TONIGHT = replace(WEEK, kind=ReportKind.CLOSED, until=NOON + timedelta(hours=11))
MET = Memory(
    demands=Demands(
        reports=frozenset({WEEK, TONIGHT}),
        moved=frozenset({("quern", SUNDAY)}),
        nights=frozenset({(FRIDAY, "orrowick")}),
    )
)


def test_what_was_met_one_day_is_known_on_the_next_until_it_expires() -> None:
    found = recalled({FRIDAY: MET}, SUNDAY).demands
    assert found.reports == {WEEK}
    assert (found.moved, found.nights) == (MET.demands.moved, MET.demands.nights)


def test_what_is_taken_back_on_one_day_does_not_come_back_by_another() -> None:
    copied = recalled({FRIDAY: MET}, SATURDAY)
    found = recalled({FRIDAY: MET, SATURDAY: replace(copied, demands=Demands())}, FRIDAY).demands
    assert not found.moved
    assert not found.nights
    assert WEEK not in found.reports


def test_what_a_later_day_could_not_know_is_not_taken_back_by_it() -> None:
    copied = recalled({FRIDAY: MET}, SUNDAY)
    assert recalled({FRIDAY: MET, SUNDAY: copied}, FRIDAY).demands == MET.demands
