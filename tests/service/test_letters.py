"""Until when a letter is of use: a rider who is left in peace gets no news of what is over."""

from collections.abc import Iterator
from datetime import datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from replanner.dialogue.events import Audience, Say
from replanner.people import Member, Role
from replanner.post import Letter
from replanner.service.letters import Address, letters_of
from replanner.store.store import Store, open_store
from tests.dialogue.evening import DAY, ZONE, at

NOW = at("08:00")
ARRIVAL = at("18:45")


def member(number: int, hushed_until: datetime | None = None) -> Member:
    return Member(
        id=number,
        group=1,
        chat=number,
        role=Role.RIDER,
        zone=ZONE,
        evening_at=time(19, 30),
        quiet_from=time(22),
        quiet_to=time(6),
        hushed_until=hushed_until,
        reachable=True,
    )


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    found = open_store(str(tmp_path / "state.sqlite"), lambda: NOW)
    yield found
    found.close()


def letters(store: Store, said: Say, now: datetime = NOW) -> dict[int, Letter]:
    """Return what two riders get, the second in peace until the evening."""
    riders = (member(1), member(2, at("19:30")))
    address = Address(
        asker=riders[0], riders=riders, key="key", tour_key="tour", day=DAY, asked=False
    )
    return {one.chat: one for one in letters_of([said], address, now, store)}


def test_what_is_over_before_the_quiet_ends_is_of_no_use_then(store: Store) -> None:
    found = letters(store, Say(text="CHANGE", to=Audience.EVERYONE, useless_after=ARRIVAL))
    assert {one.useless_after for one in found.values()} == {ARRIVAL}
    assert found[1].not_before == NOW
    assert found[2].not_before == at("19:30") > ARRIVAL


def test_what_is_over_already_is_told_as_ever(store: Store) -> None:
    """Who comes in late is told all the same."""
    late = ARRIVAL + timedelta(minutes=20)
    for over in (None, ARRIVAL):
        (one, other) = letters(
            store, Say(text="CHANGE", to=Audience.EVERYONE, useless_after=over), late
        ).values()
        ends = at("00:00", DAY + timedelta(days=1)) + timedelta(hours=6)
        assert one.useless_after == other.useless_after == ends
        assert one.not_before == late


def test_what_is_urgent_is_told_in_quiet_hours(store: Store) -> None:
    night = at("23:00")
    assert night.astimezone(ZoneInfo(ZONE)).hour == 23
    urgent = letters(store, Say(text="NO-GO", to=Audience.EVERYONE, urgent=True), night)
    assert {one.not_before for one in urgent.values()} == {night}
    other = letters(store, Say(text="CHANGE", to=Audience.EVERYONE), night)
    morning = at("06:00", DAY + timedelta(days=1))
    assert {one.not_before for one in other.values()} == {morning}
