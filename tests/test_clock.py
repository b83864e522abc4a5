"""Instants of local days, by hand from the tz database (IANA): London changes on 28 March 2027."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from replanner.clock import day_over


@pytest.mark.parametrize(
    ("zone", "day", "over"),
    [
        ("Europe/London", date(2027, 3, 27), datetime(2027, 3, 28, 0, tzinfo=UTC)),
        ("Europe/London", date(2027, 3, 28), datetime(2027, 3, 28, 23, tzinfo=UTC)),  # 23 hours
        ("Pacific/Auckland", date(2027, 4, 3), datetime(2027, 4, 3, 11, tzinfo=UTC)),
        ("Pacific/Auckland", date(2027, 4, 4), datetime(2027, 4, 4, 12, tzinfo=UTC)),  # 25 hours
        ("America/Santiago", date(2027, 9, 4), datetime(2027, 9, 5, 4, tzinfo=UTC)),  # no midnight
    ],
)
def test_a_day_is_over_at_the_midnight_of_the_next(zone: str, day: date, over: datetime) -> None:
    assert day_over(day, ZoneInfo(zone)) == over
