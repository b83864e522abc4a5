"""The rounds on a clock the test sets: a year, nights without power, riders who cross zones."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import pytest

from replanner.clock import local_instant
from replanner.dialogue.events import Replan
from replanner.post import DueKind
from replanner.service.rounds import AHEAD
from replanner.trip.edits import Demands
from tests.service.long_tour import EVENING, Watch, long_tour

# Clock changes of these zones in 2027: the tz database by zoneinfo. Lord Howe shifts by half an
# hour; Samoa skipped 30 December 2011 (tz database, file australasia).
ZONES = ["America/St_Johns", "Australia/Lord_Howe"]
YEAR = 2027
_DAY = timedelta(days=1)


@pytest.mark.parametrize("zone", ZONES)
def test_every_day_of_a_year_has_one_evening_in_time(zone: str, tmp_path: Path) -> None:
    """Days that cannot be planned are told too; so a whole year takes seconds."""
    tour = long_tour(zone, date(YEAR, 1, 2), 364)
    watch = Watch(tmp_path, tour, datetime(YEAR, 1, 1, tzinfo=UTC))
    watch.no_road = True
    done = watch.run_until(datetime(YEAR + 1, 1, 2, tzinfo=UTC))
    assert watch.evenings() == [day.date.isoformat() for day in tour.days]
    letters = watch.store.posted("plan:")
    assert len({key.rpartition(":")[0] for key in letters}) == len(letters)
    hours = sorted(due.at for due in done if due.kind is DueKind.EVENING)[1:]
    due = [local_instant(day.date - _DAY, EVENING, tour.zone) for day in tour.days]
    assert hours == [at - AHEAD for at in due]


@pytest.mark.parametrize(
    ("zone", "change"),
    [
        ("Europe/London", date(2027, 3, 28)),
        ("America/Santiago", date(2027, 4, 4)),
        ("Australia/Lord_Howe", date(2027, 10, 3)),
    ],
)
def test_plans_and_checks_go_on_across_a_clock_change(
    zone: str, change: date, tmp_path: Path
) -> None:
    tour = long_tour(zone, change - 2 * _DAY, 5)
    watch = Watch(tmp_path, tour, local_instant(change - 3 * _DAY, time(12), tour.zone))
    done = watch.run_until(local_instant(change + 4 * _DAY, time(12), tour.zone))
    assert watch.evenings() == [day.date.isoformat() for day in tour.days]
    mornings = [due.at for due in done if due.kind is DueKind.MORNING]
    assert mornings == [local_instant(day.date, time(7, 45), tour.zone) for day in tour.days]


def test_an_outage_over_midnight_is_caught_up_before_leaving(tmp_path: Path) -> None:
    tour = long_tour("Europe/Dublin", date(2027, 6, 1), 3)
    watch = Watch(tmp_path, tour, datetime(2027, 5, 31, 12, tzinfo=UTC))
    watch.look()
    watch.now = local_instant(date(2027, 6, 1), time(1, 10), tour.zone)
    watch.look()
    assert watch.evenings() == ["2027-06-01"]


def test_after_days_without_power_only_what_is_of_use_is_made(tmp_path: Path) -> None:
    tour = long_tour("Europe/Dublin", date(2027, 6, 1), 6)
    watch = Watch(tmp_path, tour, datetime(2027, 5, 31, 12, tzinfo=UTC))
    watch.look()
    watch.now = local_instant(date(2027, 6, 4), time(20, 0), tour.zone)
    watch.look()
    assert watch.evenings() == ["2027-06-05"]
    (letter,) = [one for one in _told(watch) if "Not sent in time" in one]
    assert "4 evening plans" in letter  # of the first to the fourth of June


def test_a_plan_that_comes_late_says_so(tmp_path: Path) -> None:
    tour = long_tour("Europe/Dublin", date(2027, 6, 1), 1)
    watch = Watch(tmp_path, tour, datetime(2027, 5, 31, 12, tzinfo=UTC))
    watch.look()
    watch.now = local_instant(date(2027, 5, 31), time(22, 45), tour.zone)
    watch.look()
    assert any("late" in one for one in _told(watch)[:1])


@pytest.mark.parametrize(
    ("from_zone", "to_zone"),
    [
        ("Europe/London", "America/New_York"),
        ("America/New_York", "Europe/London"),
        ("Pacific/Auckland", "Pacific/Honolulu"),
        ("Pacific/Honolulu", "Pacific/Auckland"),
    ],
)
def test_a_rider_who_crosses_zones_misses_no_plan_and_gets_none_twice(
    from_zone: str, to_zone: str, tmp_path: Path
) -> None:
    tour = long_tour(from_zone, date(2027, 6, 1), 6)
    watch = Watch(tmp_path, tour, datetime(2027, 5, 30, 12, tzinfo=UTC))
    watch.run_until(datetime(2027, 6, 2, 23, tzinfo=UTC))
    with watch.store.work() as work:
        work.change_member(replace(watch.rider, zone=to_zone))
        work.set_due(DueKind.EVENING, watch.rider.id, watch.now)
    watch.run_until(datetime(2027, 6, 9, tzinfo=UTC))
    assert watch.evenings() == [day.date.isoformat() for day in tour.days]
    keys = watch.store.posted("plan:")
    assert len(keys) == len(set(keys))


def test_without_a_forecast_the_rider_is_told_and_the_rest_goes_on(tmp_path: Path) -> None:
    tour = long_tour("Europe/Dublin", date(2027, 6, 1), 2)
    watch = Watch(tmp_path, tour, datetime(2027, 5, 31, 12, tzinfo=UTC))
    watch.offline = True
    watch.run_until(datetime(2027, 6, 1, 3, tzinfo=UTC))
    assert any("no network" in one for one in _told(watch))


def planned_already(folder: Path, days: int = 1) -> Watch:
    """Return a watch at noon before a tour's first day, which somebody has asked a plan of."""
    tour = long_tour("Europe/Dublin", date(2027, 6, 1), days)
    watch = Watch(folder, tour, datetime(2027, 5, 31, 11, tzinfo=UTC))
    request = Replan(day=tour.days[0].date, demands=Demands())
    early = watch.make(watch.ridden(watch.group), request)
    watch.store.keep_plan(watch.group.tour_key, early, accepted=False, demands=request.demands)
    watch.planned.clear()
    return watch


def test_the_last_plan_is_sent_as_old_once_and_the_next_that_can_be_made_replaces_it(
    tmp_path: Path,
) -> None:
    watch = planned_already(tmp_path)
    watch.offline = True
    evening = local_instant(date(2027, 5, 31), EVENING, watch.tour.zone)
    watch.run_until(evening + timedelta(minutes=15))
    (old,) = words_told(watch)
    assert old.startswith("OLD PLAN of Mon 12:00")
    assert "no network" in old
    assert watch.evenings() == []  # an old plan is not the evening's
    watch.offline = False
    watch.run_until(evening + timedelta(hours=2))
    assert watch.evenings() == ["2027-06-01"]
    assert len(watch.planned) == 1
    new = words_told(watch)
    late, plan = new[0].splitlines()[:2]
    assert late.endswith("min late.")
    assert plan.startswith("Tue 1 Jun")
    assert not any("OLD PLAN" in one for one in new)


def test_a_service_silent_only_before_the_hour_makes_no_plan_old(tmp_path: Path) -> None:
    watch = planned_already(tmp_path)
    watch.offline = True
    evening = local_instant(date(2027, 5, 31), EVENING, watch.tour.zone)
    watch.run_until(evening - timedelta(minutes=15))
    watch.offline = False
    watch.run_until(evening + timedelta(hours=1))
    told = words_told(watch)
    assert told[0].startswith("Tue 1 Jun")
    assert not any("OLD PLAN" in one for one in told)


def test_an_evening_told_with_an_old_plan_is_not_missed_the_next_day(tmp_path: Path) -> None:
    watch = planned_already(tmp_path, days=2)
    watch.offline = True
    watch.run_until(datetime(2027, 6, 1, 6, tzinfo=UTC))
    assert words_told(watch)[0].startswith("OLD PLAN")
    watch.run_until(datetime(2027, 6, 1, 12, tzinfo=UTC))  # left, whatever was known
    watch.offline = False
    watch.run_until(datetime(2027, 6, 1, 21, tzinfo=UTC))
    assert watch.evenings() == ["2027-06-02"]
    told = words_told(watch)
    assert any(one.startswith("Wed 2 Jun") for one in told)
    assert not any("Not sent in time" in one for one in told)


def test_the_morning_is_looked_at_once_before_leaving(tmp_path: Path) -> None:
    tour = long_tour("Europe/Dublin", date(2027, 6, 1), 1)
    watch = Watch(tmp_path, tour, datetime(2027, 5, 31, 12, tzinfo=UTC))
    done = watch.run_until(datetime(2027, 6, 1, 20, tzinfo=UTC))
    mornings = [due for due in done if due.kind is DueKind.MORNING]
    leaving = local_instant(date(2027, 6, 1), time(8, 30), tour.zone)
    assert [due.at for due in mornings] == [leaving - timedelta(minutes=45)]


def words_told(watch: Watch) -> list[str]:
    """Return what may be sent now, in order, but for the files and the standing cautions."""
    found = [one for one in _told(watch, timedelta(minutes=1)) if one]
    return [one for one in found if not one.startswith("Cautions")]


def _told(watch: Watch, after: timedelta = timedelta(hours=12)) -> list[str]:
    """Return what waits to be sent by then, in order."""
    watch.now += after
    found = []
    while claimed := watch.store.claim(watch.now, timedelta(minutes=1), 10):
        for one in claimed:
            found.append(getattr(one.letter.body, "text", ""))
            watch.store.sent(one.row, one.row, watch.now)
    return found
