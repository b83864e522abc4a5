"""What comes late is done and says so, or is dropped with its reason. Hours are INVENTED."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.advice.figures import Figures
from replanner.advice.words import words_for
from replanner.post import DueKind
from replanner.service.after_downtime import (
    Act,
    Verdict,
    Waiting,
    Why,
    catch_up,
    dropped_line,
    late_line,
    newest_useful,
    useful_until,
)
from replanner.units import UnitSystem

ENGLISH = words_for("en")
FIGURES = Figures(ENGLISH, UnitSystem.METRIC, ZoneInfo("Europe/London"), date(2027, 5, 2))


def may(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2027, 5, day, hour, minute, tzinfo=UTC)


EVENING = Waiting(kind=DueKind.EVENING, due=may(1, 18, 30), departure=may(2, 7))
MORNING = Waiting(kind=DueKind.MORNING, due=may(2, 6, 15), departure=may(2, 7))
ON_THE_ROAD = Waiting(kind=DueKind.ROAD_CHECK, due=may(2, 11), arrival=may(2, 16))
OVERDUE = Waiting(kind=DueKind.OVERDUE, due=may(2, 18))
HOUSE = Waiting(kind=DueKind.HOUSEKEEPING, due=may(1, 2))


@pytest.mark.parametrize(
    ("waiting", "now", "act", "why"),
    [
        (EVENING, may(1, 18, 30), Act.DO, None),
        (EVENING, may(1, 18, 35), Act.DO, None),
        (EVENING, may(1, 18, 36), Act.DO_LATE, None),
        (EVENING, may(2, 6, 59), Act.DO_LATE, None),
        (EVENING, may(2, 7), Act.DROP, Why.LEFT),
        (EVENING, may(2, 7, 1), Act.DROP, Why.LEFT),
        (EVENING, may(9, 7), Act.DROP, Why.LEFT),
        (MORNING, may(2, 6, 59), Act.DO_LATE, None),
        (MORNING, may(2, 7), Act.DROP, Why.LEFT),
        (ON_THE_ROAD, may(2, 15, 59), Act.DO_LATE, None),
        (ON_THE_ROAD, may(2, 16), Act.DROP, Why.ARRIVED),
        (OVERDUE, may(3, 5, 59), Act.DO_LATE, None),
        (OVERDUE, may(3, 6), Act.DROP, Why.TOO_OLD),
        (HOUSE, may(30, 2), Act.DO_LATE, None),
    ],
)
def test_useful_until_its_own_end(
    waiting: Waiting, now: datetime, act: Act, why: Why | None
) -> None:
    verdict = catch_up(waiting, now)
    assert (verdict.act, verdict.why) == (act, why)
    assert verdict.late == now - waiting.due


def test_where_the_end_is_not_known_it_ends_by_itself() -> None:
    nobody_knows = Waiting(kind=DueKind.EVENING, due=may(1, 18, 30))
    assert catch_up(nobody_knows, may(2, 6, 29)).act is Act.DO_LATE
    assert catch_up(nobody_knows, may(2, 6, 30)).why is Why.TOO_OLD
    for kind in (DueKind.MORNING, DueKind.ROAD_CHECK):
        assert useful_until(Waiting(kind=kind, due=may(2, 6))) == may(2, 6, 45)
    assert useful_until(HOUSE) is None


def test_what_is_not_due_is_not_asked_about() -> None:
    with pytest.raises(ValueError, match="evening is due at 2027-05-01T18:30"):
        catch_up(EVENING, may(1, 18, 29))


def test_after_days_down_the_newest_of_each_kind_is_done_and_the_rest_told_in_one_line() -> None:
    evenings = [
        Waiting(kind=DueKind.EVENING, due=may(day, 18, 30), departure=may(day + 1, 7))
        for day in (1, 2, 3, 4)
    ]
    mornings = [
        Waiting(kind=DueKind.MORNING, due=may(day, 6, 15), departure=may(day, 7))
        for day in (2, 3, 4)
    ]
    nights = [Waiting(kind=DueKind.HOUSEKEEPING, due=may(day, 2)) for day in (1, 2, 3, 4)]
    found = newest_useful([*mornings, *evenings, *nights], may(5, 5))
    assert [(one.kind, one.due, verdict.act) for one, verdict in found.do] == [
        (DueKind.HOUSEKEEPING, may(4, 2), Act.DO_LATE),
        (DueKind.EVENING, may(4, 18, 30), Act.DO_LATE),
    ]
    assert len(found.dropped) == 9
    line = dropped_line(found.dropped, ENGLISH)
    assert line == "Not sent in time: 3 evening plans and 3 morning checks."


def test_a_newer_one_stands_for_the_older_and_nobody_is_told() -> None:
    checks = [
        Waiting(kind=DueKind.ROAD_CHECK, due=may(2, hour), arrival=may(2, 16))
        for hour in (9, 11, 13)
    ]
    found = newest_useful(checks, may(2, 13, 2))
    assert [(one.due, verdict.act) for one, verdict in found.do] == [(may(2, 13), Act.DO)]
    assert [verdict.why for _, verdict in found.dropped] == [Why.NEWER, Why.NEWER]
    assert dropped_line(found.dropped, ENGLISH) == ""


WAITING = st.builds(
    Waiting,
    kind=st.sampled_from(DueKind),
    due=st.integers(0, 96).map(lambda n: may(1, 0) + timedelta(hours=n)),
    departure=st.none() | st.integers(0, 96).map(lambda n: may(1, 0) + timedelta(hours=n)),
    arrival=st.none() | st.integers(0, 96).map(lambda n: may(1, 0) + timedelta(hours=n)),
)


@given(waiting=st.lists(WAITING, max_size=12), late=st.integers(0, 200))
def test_everything_comes_back_once_and_the_newest_useful_is_done(
    waiting: list[Waiting], late: int
) -> None:
    now = may(5, 0) + timedelta(hours=late)
    found = newest_useful(waiting, now)
    both = [one for one, _ in (*found.do, *found.dropped)]
    assert sorted(map(repr, both)) == sorted(map(repr, waiting))
    done = {one.kind: one.due for one, _ in found.do}
    assert len(done) == len(found.do)
    for one in waiting:
        until = useful_until(one)
        if until is None or now < until:
            assert done[one.kind] >= one.due
    for one, verdict in found.dropped:
        assert verdict.act is Act.DROP
        assert verdict.why is not None
        assert (verdict.why is Why.NEWER) == (catch_up(one, now).act is not Act.DROP)


def test_late_says_how_late() -> None:
    assert late_line(catch_up(EVENING, may(1, 19, 5)), FIGURES) == "This comes 35 min late."
    assert late_line(catch_up(EVENING, may(2, 5)), FIGURES) == "This comes 11 h late."
    assert late_line(catch_up(EVENING, may(1, 18, 31)), FIGURES) == ""
    assert late_line(catch_up(EVENING, may(2, 8)), FIGURES) == ""


def test_one_of_each_is_told_as_one() -> None:
    now = may(9, 0)
    missed = [(one, catch_up(one, now)) for one in (EVENING, MORNING, ON_THE_ROAD, OVERDUE)]
    assert dropped_line(missed, ENGLISH) == (
        "Not sent in time: 1 evening plan, 1 morning check, 1 check on the road and "
        "1 overdue nudge."
    )
    house = Verdict(act=Act.DROP, due=HOUSE.due, now=now, why=Why.TOO_OLD)
    assert dropped_line([(HOUSE, house)], ENGLISH) == ""
