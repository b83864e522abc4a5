"""The evening plan of every tour day comes once: over a year, over downtime, over the date line.

Tours and journeys are INVENTED; zones and their clock changes are the tz database's.
"""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.clock import local_instant
from replanner.post import DueKind
from replanner.service.after_downtime import Act, Waiting, catch_up
from replanner.service.coming_evening import due_evening, evening_key, plan_due
from replanner.service.due import day_before, day_exists

EVENING = time(19, 30)
LEAVING = time(8)
AUCKLAND, HONOLULU = ZoneInfo("Pacific/Auckland"), ZoneInfo("Pacific/Honolulu")


def tour(first: date, days: int, zone: ZoneInfo, leaving: time = LEAVING) -> dict[date, datetime]:
    dates = (first + timedelta(days=n) for n in range(days))
    return {day: local_instant(day, leaving, zone) for day in dates if day_exists(day, zone)}


def wall(moment: datetime, zone: ZoneInfo) -> str:
    return f"{moment.astimezone(zone):%Y-%m-%d %H:%M}"


@pytest.mark.parametrize(
    ("name", "year", "dates"),
    [
        ("Europe/London", 2027, 365),
        ("Australia/Lord_Howe", 2027, 365),
        ("Africa/Casablanca", 2027, 365),
        ("Pacific/Apia", 2011, 364),  # 30 December 2011 was skipped
    ],
)
@pytest.mark.parametrize("send_at", [time(0, 15), time(12), EVENING, time(23, 45)])
def test_a_year_of_evenings(name: str, year: int, dates: int, send_at: time) -> None:
    zone = ZoneInfo(name)
    departures = tour(date(year, 1, 1), 365, zone)
    now, planned = local_instant(date(year - 1, 12, 30), time(12), zone), set[date]()
    while (coming := due_evening(zone, send_at, now, planned, departures)) is not None:
        assert coming.missed == ()
        assert coming.due >= now
        assert coming.due < departures[coming.day]
        told_on = coming.day if send_at < time(12) else day_before(coming.day, zone)
        assert wall(coming.due, zone) == f"{told_on} {send_at:%H:%M}"
        now = coming.due
        planned.add(coming.day)
    assert len(planned) == dates


def test_an_outage_over_midnight_is_made_good_in_the_morning() -> None:
    zone = ZoneInfo("Europe/London")
    departures = tour(date(2027, 5, 1), 4, zone)
    now = datetime(2027, 5, 2, 4, 0, tzinfo=UTC)
    coming = due_evening(zone, EVENING, now, {date(2027, 5, 1)}, departures)
    assert coming is not None
    assert coming.day == date(2027, 5, 2)
    assert wall(coming.due, zone) == "2027-05-01 19:30"
    waiting = Waiting(kind=DueKind.EVENING, due=coming.due, departure=departures[coming.day])
    assert catch_up(waiting, now).act is Act.DO_LATE


def test_after_days_down_only_the_day_still_ahead_is_planned() -> None:
    zone = ZoneInfo("Europe/London")
    departures = tour(date(2027, 5, 1), 5, zone)
    now = datetime(2027, 5, 4, 12, 0, tzinfo=UTC)
    coming = due_evening(zone, EVENING, now, {date(2027, 5, 1)}, departures)
    assert coming is not None
    assert coming.day == date(2027, 5, 5)
    assert coming.missed == (date(2027, 5, 2), date(2027, 5, 3), date(2027, 5, 4))
    assert wall(coming.due, zone) == "2027-05-04 19:30"


def test_a_day_asked_for_early_leaves_no_hole() -> None:
    zone = ZoneInfo("Europe/London")
    departures = tour(date(2027, 5, 1), 4, zone)
    coming = due_evening(
        zone, EVENING, datetime(2027, 4, 30, tzinfo=UTC), {date(2027, 5, 3)}, departures
    )
    assert coming is not None
    assert coming.day == date(2027, 5, 1)


def test_nothing_is_left_to_plan() -> None:
    zone = ZoneInfo("Europe/London")
    departures = tour(date(2027, 5, 1), 2, zone)
    assert due_evening(zone, EVENING, datetime(2027, 5, 3, tzinfo=UTC), (), departures) is None
    assert due_evening(zone, EVENING, departures[date(2027, 5, 1)], departures, departures) is None
    assert due_evening(zone, EVENING, datetime(2027, 5, 3, tzinfo=UTC), (), {}) is None


def test_at_the_minute_of_leaving_the_plan_is_no_longer_made() -> None:
    zone = ZoneInfo("Europe/London")
    departures = tour(date(2027, 5, 1), 2, zone)
    leaving = departures[date(2027, 5, 1)]
    before = due_evening(zone, EVENING, leaving - timedelta(seconds=1), (), departures)
    after = due_evening(zone, EVENING, leaving, (), departures)
    assert before is not None
    assert after is not None
    assert (before.day, after.day) == (date(2027, 5, 1), date(2027, 5, 2))
    assert (before.missed, after.missed) == ((), (date(2027, 5, 1),))


def test_westward_over_the_date_line_a_skipped_evening_is_made_good() -> None:
    """From Honolulu on 30 March one lands in Auckland on 1 April: no 31st was seen."""
    departures = tour(date(2027, 4, 1), 3, AUCKLAND, time(14))
    asleep = datetime(2027, 3, 31, 3, 0, tzinfo=UTC)  # 30 March, 17:00 in Honolulu
    at_home = due_evening(HONOLULU, EVENING, asleep, (), departures)
    assert at_home is not None
    # 1 April 14:00 in Auckland is 31 March 15:00 in Honolulu: the evening before is the 30th.
    assert wall(at_home.due, HONOLULU) == "2027-03-30 19:30"
    landed = datetime(2027, 3, 31, 20, 0, tzinfo=UTC)  # 1 April, 9:00 in Auckland
    there = due_evening(AUCKLAND, EVENING, landed, (), departures)
    assert there is not None
    assert there.day == date(2027, 4, 1)
    assert wall(there.due, AUCKLAND) == "2027-03-31 19:30"
    assert there.due < landed


def test_eastward_over_the_date_line_the_evening_that_comes_again_plans_the_next_day() -> None:
    departures = tour(date(2027, 4, 1), 4, HONOLULU)
    evening = local_instant(date(2027, 4, 1), EVENING, AUCKLAND)
    before = due_evening(AUCKLAND, EVENING, evening, (), departures)
    assert before is not None
    assert before.day == date(2027, 4, 1)
    assert before.due <= evening
    again = local_instant(date(2027, 4, 1), EVENING, HONOLULU)  # 1 April, 19:30, once more
    after = due_evening(HONOLULU, EVENING, again, {before.day}, departures)
    assert after is not None
    assert (after.day, after.due) == (date(2027, 4, 2), again)


@pytest.mark.parametrize(
    ("send_at", "leaving", "due"),
    [
        (time(0, 30), time(8), "2027-05-02 00:30"),
        (time(6), time(8), "2027-05-02 06:00"),
        (time(11), time(8), "2027-05-01 11:00"),
        (time(19, 30), time(22), "2027-05-01 19:30"),
        (time(12), time(14), "2027-05-01 12:00"),
    ],
)
def test_an_hour_of_the_morning_is_of_the_day_itself_unless_after_leaving(
    send_at: time, leaving: time, due: str
) -> None:
    zone = ZoneInfo("Europe/London")
    departure = local_instant(date(2027, 5, 2), leaving, zone)
    assert wall(plan_due(send_at, zone, departure), zone) == due


def test_the_key_is_one_for_a_rider_and_a_date() -> None:
    assert evening_key(7, date(2027, 4, 1)) == "plan:7:2027-04-01"
    assert len({evening_key(r, date(2027, 4, d)) for r in (1, 11) for d in (1, 2, 11)}) == 6


PLACES = tuple(
    ZoneInfo(name)
    for name in (
        "Pacific/Auckland",
        "Pacific/Honolulu",
        "Pacific/Kiritimati",
        "America/Los_Angeles",
        "Europe/London",
        "Asia/Kathmandu",
    )
)
TICK = timedelta(minutes=20)
TICKS = 12 * 72


@settings(max_examples=40, deadline=None)
@given(
    home=st.sampled_from(PLACES),
    moves=st.lists(st.tuples(st.integers(0, TICKS), st.sampled_from(PLACES)), max_size=6),
    outages=st.lists(st.tuples(st.integers(0, TICKS), st.integers(1, 220)), max_size=4),
    send_at=st.sampled_from((EVENING, time(0, 10), time(23, 50), time(12))),
)
def test_any_journey_any_outage(
    home: ZoneInfo,
    moves: list[tuple[int, ZoneInfo]],
    outages: list[tuple[int, int]],
    send_at: time,
) -> None:
    """A tick every twenty minutes for twelve days: no plan twice, none lost while we ran."""
    first_tick = datetime(2027, 3, 25, tzinfo=UTC)  # clocks change in Europe and New Zealand
    departures = tour(date(2027, 3, 26), 9, home)
    down = {tick for start, length in outages for tick in range(start, start + length)}
    zones = dict(sorted(moves, key=lambda move: move[0]))
    zone, planned, dropped, ran = home, dict[date, datetime](), set[date](), list[datetime]()
    for tick in range(TICKS):
        zone = zones.get(tick, zone)
        now = first_tick + tick * TICK
        if tick in down:
            continue
        ran.append(now)
        while (
            coming := due_evening(zone, send_at, now, planned.keys() | dropped, departures)
        ) is not None and coming.due <= now:
            assert coming.day not in planned
            planned[coming.day] = now
            dropped |= set(coming.missed)
        dropped |= set(coming.missed) if coming is not None else set()
    assert not planned.keys() & dropped
    for day, leaving in departures.items():
        made = planned.get(day)
        if made is not None:
            assert leaving - timedelta(hours=48) < made < leaving
        else:
            due_by = leaving - in_hand(send_at, moved=bool(moves))
            assert not any(due_by <= now < leaving for now in ran), day


def in_hand(send_at: time, *, moved: bool) -> timedelta:
    """Return how long before leaving a plan is due at the latest, wherever the rider is then.

    An hour of the evening before lies before midnight, leaving after it. One of the small hours
    is of the day itself: at home leaving is at eight, an hour of the night may be skipped.
    """
    since_midnight = timedelta(hours=send_at.hour, minutes=send_at.minute)
    if send_at >= time(12):
        return timedelta(days=1) - since_midnight
    return timedelta() if moved else timedelta(hours=7) - since_midnight
