"""Plans and what is in force: one accepted plan a day, whole or not at all."""

from dataclasses import replace
from datetime import timedelta

import pytest
import sqlalchemy as sa

from replanner.dialogue.events import Memory
from replanner.errors import StoreError
from replanner.post import PlanRef
from replanner.store.plan_rows import PlanRows
from replanner.store.store import Store, open_store
from replanner.store.tables import plans
from replanner.trip.edits import Demands
from replanner.trip.underway import Report, ReportKind
from tests.dialogue.evening import DAY, SENT, at
from tests.store.conftest import Clock
from tests.store.things import OTHER, PLAN

NEXT = DAY + timedelta(days=1)


def test_nothing_kept_is_nothing_found(store: Store) -> None:
    assert store.last_plan("coast", DAY) is None
    assert store.accepted_plan("coast", DAY) is None
    assert store.recall("coast", DAY) == Memory()


def test_the_accepted_plan_comes_before_newer_ones(store: Store) -> None:
    store.keep_plan("coast", PLAN, accepted=True)
    store.keep_plan("coast", OTHER, accepted=False)
    assert store.last_plan("coast", DAY) == PLAN
    assert store.accepted_plan("coast", DAY) == PLAN


def test_without_an_accepted_plan_the_newest_is_the_last(store: Store) -> None:
    store.keep_plan("coast", PLAN, accepted=False)
    store.keep_plan("coast", OTHER, accepted=False)
    assert store.last_plan("coast", DAY) == OTHER
    assert store.accepted_plan("coast", DAY) is None


def test_one_plan_a_day_is_accepted(store: Store) -> None:
    store.keep_plan("coast", PLAN, accepted=True)
    store.keep_plan("coast", OTHER, accepted=True)
    assert store.accepted_plan("coast", DAY) == OTHER
    with store._database.engine.connect() as look:
        accepted = sa.select(sa.func.count()).where(plans.c.accepted)
        assert look.scalar(accepted) == 1
        with pytest.raises(sa.exc.IntegrityError):
            look.execute(sa.update(plans).values(accepted=True))


def test_tours_and_days_are_kept_apart(store: Store) -> None:
    store.keep_plan("coast", PLAN, accepted=True)
    store.keep_plan("hills", OTHER, accepted=True)
    store.keep_plan("coast", replace(PLAN, date=NEXT), accepted=True)
    assert store.accepted_plan("coast", DAY) == PLAN
    assert store.accepted_plan("hills", DAY) == OTHER


def test_an_ok_taken_back_leaves_the_plan_but_not_accepted(store: Store) -> None:
    store.keep_plan("coast", PLAN, accepted=True)
    store.withdraw("coast", DAY)
    assert store.accepted_plan("coast", DAY) is None
    assert store.last_plan("coast", DAY) == PLAN


def test_an_ok_keeps_the_demands_with_the_plan(store: Store) -> None:
    store.remember("coast", DAY, Memory(cautions_shown=True))
    demands = Demands(left_out=frozenset({"hask"}), departure=at("07:00"))
    store.keep_plan("coast", OTHER, accepted=True, demands=demands)
    assert store.recall("coast", DAY) == Memory(demands=demands, cautions_shown=True)


def test_demands_are_not_kept_when_the_plan_is_not(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise StoreError("broken off")

    store.keep_plan("coast", PLAN, accepted=True)
    monkeypatch.setattr(PlanRows, "remember", broken)
    with pytest.raises(StoreError, match="broken off"):
        store.keep_plan("coast", OTHER, accepted=True, demands=Demands())
    assert store.accepted_plan("coast", DAY) == PLAN
    assert store.last_plan("coast", DAY) == PLAN


def test_a_leg_moved_is_known_on_the_day_it_moves_to(store: Store) -> None:
    moved = frozenset({("quern", NEXT)})
    store.remember("coast", DAY, Memory(demands=Demands(moved=moved), cautions_shown=True))
    there = store.recall("coast", NEXT)
    assert there.demands.moved == moved
    assert there.cautions_shown
    assert not there.own_caution_shown
    assert store.recall("hills", NEXT) == Memory()


def test_the_later_word_on_a_moved_leg_counts(store: Store, clock: Clock) -> None:
    third = NEXT + timedelta(days=1)
    store.remember("coast", DAY, Memory(demands=Demands(moved=frozenset({("quern", NEXT)}))))
    clock.on(microseconds=1)
    store.remember("coast", NEXT, Memory(demands=Demands(moved=frozenset({("quern", third)}))))
    for day in (DAY, NEXT, third):
        assert store.recall("coast", day).demands.moved == {("quern", third)}


def test_what_was_kept_is_there_in_the_next_run(store: Store, address: str) -> None:
    store.keep_plan("coast", PLAN, accepted=True)
    store.close()
    second = open_store(address, lambda: SENT)
    assert second.accepted_plan("coast", DAY) == PLAN
    second.close()


def test_a_plan_of_another_version_is_one_clear_line(store: Store) -> None:
    store.keep_plan("coast", PLAN, accepted=True)
    with store._database.writing() as other:
        other.execute(sa.update(plans).values(briefing='{"tour": 1}'))
    with pytest.raises(StoreError, match="another version may have written it") as caught:
        store.accepted_plan("coast", DAY)
    assert "\n" not in str(caught.value)


def test_a_night_elsewhere_is_known_on_every_day(store: Store) -> None:
    nights = frozenset({(DAY, "base-2")})
    store.remember("coast", DAY, Memory(demands=Demands(nights=nights)))
    assert store.recall("coast", NEXT).demands.nights == nights


def report(kind: ReportKind, hours: float, level: int = 2) -> Report:
    """Return a report that expires so many hours after the next day began in UTC."""
    midnight = SENT.replace(year=NEXT.year, month=NEXT.month, day=NEXT.day, hour=0, minute=0)
    return Report(
        leg="hask", kind=kind, level=level, since=SENT, until=midnight + timedelta(hours=hours)
    )


def test_a_report_is_known_on_every_day_it_may_still_count_on(store: Store) -> None:
    # A day begins first where the clocks are 14 hours ahead, at 10:00 UTC the day before.
    over, still, long = (
        report(ReportKind.FOG, -14),
        report(ReportKind.MUD, -13.9),
        report(ReportKind.CLOSED, 400),
    )
    reports = frozenset({over, still, long})
    store.remember("coast", DAY, Memory(demands=Demands(reports=reports)))
    assert store.recall("coast", NEXT).demands.reports == {still, long}
    assert store.recall("coast", DAY).demands.reports == reports


def test_the_later_word_on_a_leg_met_counts(store: Store, clock: Clock) -> None:
    first, later = report(ReportKind.MUD, 5, level=4), report(ReportKind.MUD, 9, level=2)
    store.remember("coast", DAY, Memory(demands=Demands(reports=frozenset({first}))))
    clock.on(seconds=1)
    store.remember("coast", NEXT, Memory(demands=Demands(reports=frozenset({later}))))
    for day in (DAY, NEXT):
        assert store.recall("coast", day).demands.reports == {later}


def test_a_plan_is_found_by_its_version(store: Store) -> None:
    first = store.keep_plan("coast", PLAN, accepted=True)
    second = store.keep_plan("coast", OTHER, accepted=False)
    assert (first.version, second.version) == (1, 2)
    assert store.plan(first) == PLAN
    assert store.plan(second) == OTHER
    assert store.plan(PlanRef(tour_key="coast", day=DAY, version=3)) is None
    assert store.newest_plan("coast", DAY) == OTHER
    assert store.last_plan("coast", DAY) == PLAN


def test_a_plan_kept_already_keeps_its_version(store: Store) -> None:
    store.keep_plan("coast", OTHER, accepted=False)
    first = store.keep_plan("coast", PLAN, accepted=True)
    assert store.keep_plan("coast", PLAN, accepted=False) == first
    assert store.accepted_plan("coast", DAY) == PLAN
    assert store.keep_plan("hills", PLAN, accepted=False).version == 1


def test_a_plan_kept_only_to_be_shown_is_nobodys(store: Store) -> None:
    what_if = store.keep_to_show("coast", OTHER)
    assert store.newest_plan("coast", DAY) is store.last_plan("coast", DAY) is None
    assert store.keep_plan("coast", PLAN, accepted=False).version == 1
    again = store.keep_to_show("coast", replace(OTHER, value_minutes=77.0))
    assert len({what_if, again, store.keep_to_show("coast", PLAN)}) == 3
    assert store.plan(what_if) == OTHER
    assert store.plan(again) == replace(OTHER, value_minutes=77.0)
    assert store.newest_plan("coast", DAY) == store.last_plan("coast", DAY) == PLAN
    # Taken after all it counts, and is drawn as what it is now.
    taken = store.keep_plan("coast", OTHER, accepted=False)
    assert taken.version == 2
    assert store.newest_plan("coast", DAY) == OTHER
    assert store.keep_to_show("coast", OTHER) == taken
