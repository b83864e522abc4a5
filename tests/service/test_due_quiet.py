"""Quiet hours by the rider's clock, through clock changes. Dates: the tz database."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replanner.service.quiet import Until, hushed, mute_until, quiet_until

LONDON = ZoneInfo("Europe/London")
TEN, SEVEN = time(22), time(7)


def local(text: str, zone: ZoneInfo = LONDON, fold: int = 0) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone, fold=fold).astimezone(UTC)


@pytest.mark.parametrize(
    ("now", "until"),
    [
        ("2027-05-02T21:59", None),
        ("2027-05-02T22:00", "2027-05-03T07:00"),
        ("2027-05-03T00:00", "2027-05-03T07:00"),
        ("2027-05-03T06:59", "2027-05-03T07:00"),
        ("2027-05-03T07:00", None),
        ("2027-03-27T23:00", "2027-03-28T07:00"),  # the short night: last Sunday of March
        ("2027-10-31T00:30", "2027-10-31T07:00"),  # the long one: last Sunday of October
    ],
)
def test_over_midnight(now: str, until: str | None) -> None:
    expected = None if until is None else local(until)
    assert quiet_until(local(now), TEN, SEVEN, LONDON) == expected
    assert hushed(local(now), TEN, SEVEN, LONDON) == (until is not None)


def test_within_one_day_and_not_at_all() -> None:
    assert hushed(local("2027-05-02T13:30"), time(13), time(14), LONDON)
    assert not hushed(local("2027-05-02T14:00"), time(13), time(14), LONDON)
    assert not hushed(local("2027-05-02T12:59"), time(13), time(14), LONDON)
    for hour in range(24):
        assert not hushed(local(f"2027-05-02T{hour:02}:00"), SEVEN, SEVEN, LONDON)


def test_the_repeated_hour_does_not_make_it_quiet_again() -> None:
    # 31 October 2027: 01:00 to 02:00 shows twice; quiet ends at the first 01:30.
    first, second = local("2027-10-31T01:40"), local("2027-10-31T01:10", fold=1)
    assert first < second
    assert hushed(local("2027-10-31T01:10"), TEN, time(1, 30), LONDON)
    assert not hushed(first, TEN, time(1, 30), LONDON)
    assert not hushed(second, TEN, time(1, 30), LONDON)


def test_quiet_hours_that_are_skipped_are_no_quiet_hours() -> None:
    # 28 March 2027: 01:00 jumps to 02:00.
    for minute in range(0, 26 * 60, 5):
        now = local("2027-03-27T23:00") + timedelta(minutes=minute)
        assert not hushed(now, time(1, 15), time(1, 45), LONDON) or now > local("2027-03-29T00:00")


def test_a_night_over_a_date_that_does_not_exist_is_one_night() -> None:
    apia = ZoneInfo("Pacific/Apia")  # 29 December 2011 was followed by the 31st
    morning = local("2011-12-31T07:00", apia)
    for now in ("2011-12-29T22:00", "2011-12-29T23:59", "2011-12-31T00:00", "2011-12-31T06:59"):
        assert quiet_until(local(now, apia), TEN, SEVEN, apia) == morning
    assert quiet_until(morning, TEN, SEVEN, apia) is None


ZONES = ("Europe/London", "Australia/Lord_Howe", "America/Santiago", "Asia/Kathmandu")
WALLS = st.builds(time, st.integers(0, 23), st.sampled_from((0, 15, 30, 45)))


@given(
    name=st.sampled_from(ZONES),
    minute=st.integers(0, 365 * 1440),
    quiet_from=WALLS,
    quiet_to=WALLS,
)
def test_what_the_wall_clock_says_away_from_clock_changes(
    name: str, minute: int, quiet_from: time, quiet_to: time
) -> None:
    """On days without a change, quiet is a comparison of wall times, and ends within a day."""
    zone = ZoneInfo(name)
    now = datetime(2027, 1, 1, tzinfo=UTC) + timedelta(minutes=minute)
    until = quiet_until(now, quiet_from, quiet_to, zone)
    around = {(now + timedelta(days=n)).astimezone(zone).utcoffset() for n in (-2, -1, 0, 1, 2)}
    wall = now.astimezone(zone).time()
    if len(around) == 1:
        if quiet_from <= quiet_to:
            assert (until is not None) == (quiet_from <= wall < quiet_to)
        else:
            assert (until is not None) == (wall >= quiet_from or wall < quiet_to)
    if until is not None:
        assert now < until <= now + timedelta(hours=25)
        assert quiet_until(until, quiet_from, quiet_to, zone) is None


@pytest.mark.parametrize(
    ("until", "now", "expected"),
    [
        (Until.MORNING, "2027-05-02T21:00", "2027-05-03T07:00"),
        (Until.MORNING, "2027-05-03T06:30", "2027-05-03T07:00"),
        (Until.MORNING, "2027-05-03T07:00", "2027-05-04T07:00"),
        (Until.EVENING, "2027-05-03T09:00", "2027-05-03T18:00"),
        (Until.EVENING, "2027-05-03T20:00", "2027-05-04T18:00"),
    ],
)
def test_mute_until(until: Until, now: str, expected: str) -> None:
    found = mute_until(until, local(now), LONDON, morning=SEVEN, evening=time(18))
    assert found == local(expected)
