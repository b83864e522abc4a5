"""When an hour of a rider's clock is due: once a date, in every zone, right through clock changes.

Dates of clock changes: the tz database (tzdata.zi, read in its version 2025b), rule or zone line
beside each. Everything else is compared with a scan of the wall clock (`wall_clock.py`).
"""

from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.service.due import day_after, day_before, day_exists, morning_due, next_due
from tests.service.wall_clock import firings, wall_minutes

ZONES = (
    "Europe/London",
    "Europe/Dublin",  # winter time is the one that differs from standard time
    "America/St_Johns",
    "America/Santiago",  # changes at midnight
    "Australia/Lord_Howe",  # by half an hour
    "Pacific/Apia",
    "Pacific/Auckland",
    "Africa/Casablanca",  # changes with Ramadan
    "Asia/Kathmandu",
)
MINUTE = timedelta(minutes=1)


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def all_due(name: str, at: time, first: datetime, last: datetime) -> list[datetime]:
    zone, found, after = ZoneInfo(name), [], first - MINUTE
    while (after := next_due(at, zone, after)) <= last:
        found.append(after)
    return found


def assert_as_the_scan(name: str, year: int, at: time) -> None:
    by_date = list(firings(name, year, at).values())
    assert len(by_date) >= 364
    assert by_date == sorted(set(by_date)), "the scan itself: one instant a date, in order"
    assert all_due(name, at, by_date[0], by_date[-1]) == by_date, (name, year, at)


@pytest.mark.parametrize("name", ZONES)
def test_a_whole_year_fires_once_on_every_date(name: str) -> None:
    for at in (time(0, 0), time(0, 30), time(1, 59), time(2, 15), time(19, 30), time(23, 59)):
        assert_as_the_scan(name, 2027, at)


@settings(max_examples=40, deadline=None)
@given(
    name=st.sampled_from(ZONES),
    year=st.integers(1973, 2037),
    minute=st.integers(0, 1439),
)
def test_any_minute_of_any_year(name: str, year: int, minute: int) -> None:
    assert_as_the_scan(name, year, time(*divmod(minute, 60)))


@cache
def different_zones() -> tuple[str, ...]:
    """One name of each set of zones that show the same all through 2027."""
    seen: dict[tuple[int, ...], str] = {}
    for name in sorted(available_timezones()):
        wall = wall_minutes(name, 2027)[1]
        jumps = np.flatnonzero(np.diff(wall) != 1)
        seen.setdefault((int(wall[0]), *jumps.tolist(), *wall[jumps + 1].tolist()), name)
    return tuple(seen.values())


def test_every_zone_there_is() -> None:
    names = different_zones()
    assert len(available_timezones()) > 400
    assert len(names) > 50
    for number, name in enumerate(names):
        for at in (time(0, number % 60), time(*divmod(number * 397 % 1440, 60))):
            assert_as_the_scan(name, 2027, at)


@settings(max_examples=100, deadline=None)
@given(
    name=st.sampled_from((*ZONES, "Pacific/Kwajalein", "Pacific/Kiritimati", "Pacific/Fakaofo")),
    year=st.sampled_from((1993, 1994, 2011, 2026, 2027)),
    minute=st.integers(0, 1439),
    second=st.integers(30 * 3600 * 24, 330 * 3600 * 24),
)
def test_from_any_instant_the_next_one_is_strictly_after(
    name: str, year: int, minute: int, second: int
) -> None:
    at = time(*divmod(minute, 60))
    after = datetime(year, 1, 1, tzinfo=UTC) + timedelta(seconds=second)
    expected = min(due for due in firings(name, year, at).values() if due > after)
    assert next_due(at, ZoneInfo(name), after) == expected


@pytest.mark.parametrize(
    ("name", "at", "after", "due", "then"),
    [
        # GB-Eire 1996 on: last Sunday of March 1:00u, last Sunday of October 1:00u.
        ("Europe/London", "01:30", "2027-03-27T12:00", "2027-03-28T01:00", "2027-03-29T00:30"),
        ("Europe/London", "01:30", "2027-10-30T12:00", "2027-10-31T00:30", "2027-11-01T01:30"),
        # LH 2008 on: first Sunday of October 2:00 by half an hour, first Sunday of April 2:00.
        (
            "Australia/Lord_Howe",
            "02:10",
            "2027-10-02T12:00",
            "2027-10-02T15:30",
            "2027-10-03T15:10",
        ),
        (
            "Australia/Lord_Howe",
            "01:45",
            "2027-04-03T12:00",
            "2027-04-03T14:45",
            "2027-04-04T15:15",
        ),
        # Chile 2023 on: first Sunday on or after 2 September 4:00u, i.e. midnight to 1:00.
        ("America/Santiago", "00:30", "2027-09-04T12:00", "2027-09-05T04:00", "2027-09-06T03:30"),
        # Canada/Newfoundland until 2011: changes at 0:01; 6 November 2011 0:00:30 showed twice.
        ("America/St_Johns", "00:00", "2010-11-06T12:00", "2010-11-07T02:30", "2010-11-08T03:30"),
    ],
)
def test_clock_changes_of_the_tz_database(
    name: str, at: str, after: str, due: str, then: str
) -> None:
    zone, wall = ZoneInfo(name), time.fromisoformat(at)
    first = next_due(wall, zone, utc(after))
    assert first == utc(due)
    assert next_due(wall, zone, first) == utc(then)


def test_between_the_two_showings_the_second_is_not_due() -> None:
    # Europe/London, 31 October 2027: 01:30 shows at 00:30 and at 01:30 UTC.
    between = utc("2027-10-31T01:00")
    assert next_due(time(1, 30), ZoneInfo("Europe/London"), between) == utc("2027-11-01T01:30")


@pytest.mark.parametrize(
    ("name", "skipped"),
    [
        ("Pacific/Apia", date(2011, 12, 30)),  # Zone line: until 2011 D 29 24
        ("Pacific/Fakaofo", date(2011, 12, 30)),  # until 2011 D 30
        ("Pacific/Kwajalein", date(1993, 8, 21)),  # until 1993 Au 20 24
        ("Pacific/Kiritimati", date(1994, 12, 31)),  # until 1994 D 31
    ],
)
def test_a_date_that_does_not_exist_fires_neither_early_nor_late(name: str, skipped: date) -> None:
    zone = ZoneInfo(name)
    before, following = skipped - timedelta(days=1), skipped + timedelta(days=1)
    assert not day_exists(skipped, zone)
    assert day_exists(before, zone)
    assert day_exists(following, zone)
    assert day_before(following, zone) == before
    assert day_after(before, zone) == following
    for at in (time(0, 0), time(0, 1), time(12, 0), time(19, 30), time(23, 59)):
        first, then = (
            datetime.combine(day, at).replace(tzinfo=zone).astimezone(UTC)
            for day in (before, following)
        )
        assert then - first == timedelta(days=1)
        assert next_due(at, zone, first - MINUTE) == first
        assert next_due(at, zone, first) == then
        assert_as_the_scan(name, skipped.year, at)


def test_a_date_shown_twice_fires_at_its_first_showing() -> None:
    # Pacific/Kwajalein: +11 until 1969 O, then -12, so most of 30 September came again.
    zone = ZoneInfo("Pacific/Kwajalein")
    first = next_due(time(19, 30), zone, utc("1969-09-30T00:00"))
    assert first == utc("1969-09-30T08:30")
    second_showing = utc("1969-10-01T07:30")
    assert f"{second_showing.astimezone(zone):%d %B %H:%M}" == "30 September 19:30"
    assert next_due(time(19, 30), zone, first) == second_showing + timedelta(days=1)


def test_seconds_of_the_wall_clock_count() -> None:
    zone = ZoneInfo("Europe/London")
    after = utc("2027-01-05T07:00:29.5")
    assert next_due(time(7, 0, 30), zone, after) == utc("2027-01-05T07:00:30")
    assert next_due(time(7, 0, 30), zone, utc("2027-01-05T07:00:30")) == utc("2027-01-06T07:00:30")


def test_an_instant_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="after must carry a time zone"):
        next_due(time(7), ZoneInfo("UTC"), datetime(2027, 1, 1))  # noqa: DTZ001 - the mistake


def test_the_morning_check_comes_a_set_time_before_leaving() -> None:
    # Across the change of Europe/London, 28 March 2027: elapsed minutes, not wall minutes.
    leaving = datetime(2027, 3, 28, 2, 15, tzinfo=ZoneInfo("Europe/London"))
    due = morning_due(leaving)
    assert due == utc("2027-03-28T00:30")
    assert due.astimezone(ZoneInfo("Europe/London")).time() == time(0, 30)
    assert morning_due(leaving, timedelta(hours=1)) == utc("2027-03-28T00:15")
