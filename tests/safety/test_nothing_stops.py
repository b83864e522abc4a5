"""What one rider sends holds up nobody else, and a call for help is answered whatever fails.

Updates are made by hypothesis in the shape of the Bot API's, with anything whatever as values.
"""

import asyncio
import sqlite3
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import timedelta
from typing import Any, NoReturn

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from replanner.advice.briefing import Briefing
from replanner.channels.telegram.incoming import WANTED, arrived, read
from replanner.dialogue.events import Replan
from replanner.errors import ForecastError, StoreError
from replanner.geodesy import Point
from replanner.people import Role
from replanner.post import Arrived, Incoming, PositionIn, TextIn
from replanner.service.pressure import Pressure
from replanner.service.running import Running
from replanner.trip.model import LegId
from tests.dialogue.evening import DAY
from tests.safety.desk import LEADER, RIDER, Desk, edited, text

SCALARS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(st.characters(), max_size=20),  # half surrogate pairs too
    st.sampled_from([LEADER, 2**63, -(2**70), "ok", "1 ok", "private", "\ud83d", "\x00"]),
)
_KEYS = """
message chat id type from text date edit_date data location latitude longitude live_period
document file_id file_name file_size caption new_chat_member status
"""
KEYS = st.sampled_from(_KEYS.split())
ANYTHING = st.recursive(
    SCALARS, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=6)
)
CHAT = st.just({"id": LEADER, "type": "private"}) | ANYTHING
BODY = st.dictionaries(KEYS, ANYTHING, max_size=6).flatmap(
    lambda body: CHAT.map(lambda chat: body | {"chat": chat})
)
UPDATES = st.dictionaries(st.sampled_from([*WANTED, "channel_post"]), BODY | ANYTHING, max_size=2)


@settings(max_examples=150, deadline=None)
@given(UPDATES, st.integers(1, 10**6))
def test_any_update_is_put_on_record_and_read(update: dict[str, Any], number: int) -> None:
    record = arrived({**update, "update_id": number})
    assert record.number == number
    assert abs(record.chat) < 2**63
    record.raw.encode("ascii")
    found = read(record)
    assert found is None or found.chat == record.chat
    if found is not None and isinstance(found.what, TextIn):
        found.what.text.encode("utf-8")


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(UPDATES)
def test_any_update_is_dealt_with_and_the_next_word_heard(
    desk: Desk, update: dict[str, Any]
) -> None:
    if desk.store.member_of(LEADER) is None:
        desk.joined(LEADER, Role.LEADER)
        desk.evening()
    desk.now += timedelta(seconds=7)
    update.pop("my_chat_member", None)
    desk.gets(update)
    assert desk.store.waiting(9) == ()
    desk.letters()


def running(desk: Desk, threads: ThreadPoolExecutor) -> Running:
    return Running(
        desk.store,
        desk.office,
        desk.rounds,
        threads,
        lambda: desk.now,
        lease=timedelta(minutes=1),
        hands=2,
    )


def run(desk: Desk, chat: int) -> None:
    """Let arrivals be dealt with until none of a chat waits, or ten seconds."""

    async def go() -> None:
        with ThreadPoolExecutor(4) as threads:
            stop = asyncio.Event()
            task = asyncio.create_task(running(desk, threads).arrivals(stop))
            for _ in range(200):
                await asyncio.sleep(0.05)
                if chat not in {one.chat for one in desk.store.waiting(9)}:
                    break
            stop.set()
            await task

    asyncio.run(go())


def test_what_fails_again_and_again_is_given_up_and_told(desk: Desk) -> None:
    desk.joined(LEADER, Role.LEADER)
    desk.joined(RIDER, Role.RIDER)
    tried = []

    def poisoned(request: object) -> NoReturn:
        tried.append(request)
        raise RuntimeError("not foreseen")

    desk.make = poisoned
    desk.arrive(text(LEADER, "plan"))
    desk.arrive(text(RIDER, "commands"))
    run(desk, LEADER)
    assert len(tried) == 3
    assert desk.told(LEADER) == [
        "I could not deal with your last message. The plan stands; say it again."
    ]
    assert desk.store.waiting(9) == ()


def test_a_thousand_messages_of_one_rider_keep_no_other_waiting(desk: Desk) -> None:
    desk.joined(LEADER, Role.LEADER)
    desk.joined(RIDER, Role.RIDER)
    for _ in range(1000):
        desk.arrive(text(LEADER, "commands"))
    desk.arrive(text(RIDER, "commands"))
    run(desk, RIDER)
    assert desk.told(RIDER)
    (first,) = desk.store.waiting(1)
    assert first.chat == LEADER  # there is still plenty of it


def test_who_says_too_much_is_told_once_and_heard_again(desk: Desk) -> None:
    desk.joined(LEADER, Role.LEADER)
    answers = [said for _ in range(100) for said in desk.says(LEADER, "commands")]
    assert len(answers) == 21
    assert "more than I can follow" in answers[-1]
    (cried,) = desk.says(LEADER, "mayday")
    assert "112" in cried
    desk.now += timedelta(minutes=2)
    assert desk.says(LEADER, "commands")


def incoming(chat: int, what: TextIn | PositionIn, desk: Desk) -> Incoming:
    return Incoming(number=1, chat=chat, sent=desk.now, private=True, what=what)


def test_pressure_forgets_chats_rather_than_growing(desk: Desk) -> None:
    pressure = Pressure()
    for chat in range(1, 12_001):
        pressure.refused(incoming(chat, TextIn(text="hello"), desk), desk.now)
        pressure.refused(
            incoming(chat, PositionIn(point=Point(1.0, 2.0, 0.0), live=True), desk), desk.now
        )
    assert len(pressure) <= 5_000


def test_live_positions_are_looked_at_once_in_a_while(desk: Desk) -> None:
    pressure, looked_at = Pressure(), 0
    for _ in range(600):
        desk.now += timedelta(seconds=1)
        moved = incoming(LEADER, PositionIn(point=Point(1.0, 2.0, 0.0), live=True), desk)
        looked_at += pressure.refused(moved, desk.now) is None
    assert looked_at == 14  # 600 s by 45 s


CRIES = ("help, crash", "SOS", "call an ambulance", "mayday mayday", "accident on the pass")


@contextmanager
def broken(desk: Desk, how: str) -> Iterator[None]:
    """Let something every answer needs fail."""

    def fail(*_: object, **__: object) -> NoReturn:
        raise {"forecast": ForecastError("no forecast"), "planner": RuntimeError("bug")}.get(
            how, StoreError("disk full")
        )

    with pytest.MonkeyPatch.context() as patch:
        if how in ("forecast", "planner"):
            desk.make = fail
        elif how == "talks":
            patch.setattr(desk.store, "talk", fail)
        elif how == "members":
            patch.setattr(desk.store, "member_of", fail)
        else:
            patch.setattr(desk.store, "work", fail)
        yield


@pytest.mark.parametrize("how", ["forecast", "planner", "talks", "members", "store"])
def test_a_call_for_help_is_answered_whatever_fails(desk: Desk, how: str) -> None:
    desk.joined(LEADER, Role.LEADER)
    for cry in CRIES:
        desk.at_once.clear()
        waiting = desk.arrive(text(LEADER, cry, desk.now))
        with broken(desk, how):
            for _ in range(2):  # tried again, said once
                try:
                    desk.office.handle(waiting)
                except StoreError:
                    continue
                break
        said = [line for chat, line in desk.at_once if chat == LEADER]
        told = "\n".join([*desk.told(LEADER), *said])
        assert "112" in told, cry
        assert len(said) <= 1


def test_a_store_that_cannot_be_written_does_not_keep_the_number_back(desk: Desk) -> None:
    """By the database itself: a table its answers go to is not there."""
    desk.joined(LEADER, Role.LEADER)
    waiting = desk.arrive(text(LEADER, "mayday", desk.now))
    with sqlite3.connect(desk.folder / "state.sqlite") as other:
        other.execute("ALTER TABLE letters RENAME TO gone")
        other.commit()
        with pytest.raises(StoreError):
            desk.office.handle(waiting)
    assert [chat for chat, line in desk.at_once if "112" in line] == [LEADER]


def test_a_message_changed_into_a_call_for_help_is_one(desk: Desk) -> None:
    desk.joined(LEADER, Role.LEADER)
    desk.gets(edited(LEADER, "commands"))
    assert desk.told(LEADER) == []
    desk.gets(edited(LEADER, "mayday"))
    assert "112" in desk.told(LEADER)[0]


def test_a_call_for_help_does_not_wait_for_a_plan_of_the_same_chat(desk: Desk) -> None:
    """The plan asked for before is made all the same, once, from how things stand after it."""
    desk.joined(LEADER, Role.LEADER)
    desk.evening()
    desk.letters()
    begun, may_end, made, made_while_held = threading.Event(), threading.Event(), desk.make, []

    def slow(request: Replan) -> Briefing:
        begun.set()
        assert may_end.wait(20.0)
        made_while_held.append(request)
        return made(request)

    desk.make = slow

    async def go() -> list[str]:
        with ThreadPoolExecutor(2) as threads:  # both are taken by the two plans below
            stop, wheels = asyncio.Event(), running(desk, threads)
            desk.arrive(text(LEADER, "skip quern point", desk.now))
            turning = asyncio.create_task(wheels.arrivals(stop))
            try:
                await asyncio.to_thread(begun.wait, 20.0)
                wheels.cried([desk.arrive(text(LEADER, "why", desk.now))])  # no call for help
                wheels.cried([desk.arrive(text(LEADER, "help, crash", desk.now))])
                told = await soon(desk, LEADER)
                assert not made_while_held
            finally:
                may_end.set()
            while desk.store.waiting(9):
                await asyncio.sleep(0.02)
            stop.set()
            await turning
        return told

    (cried,) = asyncio.run(go())
    assert "112" in cried
    told = desk.told(LEADER)
    assert ["112" in one for one in told] == [False, False]
    assert "Quern Point" in told[0]
    assert LegId("quern") in desk.in_force()[0].demands.left_out


async def soon(desk: Desk, chat: int) -> list[str]:
    for _ in range(500):
        if told := desk.told(chat):
            return told
        await asyncio.sleep(0.01)
    raise AssertionError("nothing was said within 5 s")


def test_a_call_for_help_that_fails_out_of_its_turn_is_answered_in_it(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk.joined(LEADER, Role.LEADER)
    real, fails = desk.office._deal_with, [StoreError("locked"), RuntimeError("bug")]

    def first_fails(arrived: Arrived, incoming: Incoming) -> None:
        if fails:
            raise fails.pop()
        real(arrived, incoming)

    monkeypatch.setattr(desk.office, "_deal_with", first_fails)

    async def go() -> None:
        with ThreadPoolExecutor(2) as threads:
            stop, wheels = asyncio.Event(), running(desk, threads)
            cry = desk.arrive(text(LEADER, "SOS", desk.now))
            wheels.cried([cry, cry])
            turning = asyncio.create_task(wheels.arrivals(stop))
            async with asyncio.timeout(10.0):
                while desk.store.waiting(9):
                    await asyncio.sleep(0.02)
            stop.set()
            await turning

    asyncio.run(go())
    assert not fails
    assert [chat for chat, line in desk.at_once if "112" in line] == [LEADER]
    assert ["112" in told for told in desk.told(LEADER)] == [True]


def test_what_answers_a_call_for_help_goes_before_all_its_chat_waits_for(desk: Desk) -> None:
    """A letter put back keeps the chat's later ones waiting (`outbox`): not this one."""
    desk.joined(LEADER, Role.LEADER)
    desk.says(LEADER, "commands")
    desk.gets(text(LEADER, "commands", desk.now))
    (stuck,) = desk.store.claim(desk.now, timedelta(minutes=1), 9)
    later = desk.now + timedelta(minutes=5)
    desk.store.put_back(stuck.row, later, doubtful=True, cause="the service is busy")
    desk.gets(text(LEADER, "commands", desk.now))
    assert desk.told(LEADER) == []
    (cried,) = desk.says(LEADER, "mayday")
    assert "112" in cried


def test_a_word_said_while_the_evening_is_made_delays_it_by_no_lease(desk: Desk) -> None:
    desk.joined(LEADER, Role.LEADER)
    made, said = desk.make, ["commands"]

    def interrupted(request: Replan) -> Briefing:
        if said:
            desk.gets(text(LEADER, said.pop(), desk.now))
        return made(request)

    desk.make = interrupted

    async def go() -> None:
        with ThreadPoolExecutor(2) as threads:
            wheels = running(desk, threads)
            await wheels.round()
            await asyncio.gather(*wheels._doing)

    asyncio.run(go())
    assert not said
    told = desk.told(LEADER)
    assert "You can say" in told[0]
    assert sum("Leave " in one for one in told) == 1


def test_after_a_call_for_help_the_talk_goes_on_where_it_was(desk: Desk) -> None:
    """It is about today; an ok said after it is about the plan shown, tomorrow's."""
    leader = desk.joined(LEADER, Role.LEADER)
    desk.evening()
    desk.letters()
    key = desk.group_of(leader).tour_key
    before = desk.store.talk(key, leader.id)
    (cried,) = desk.says(LEADER, "help, crash")
    assert "112" in cried
    assert desk.store.talk(key, leader.id) == before
    desk.says(LEADER, "ok")
    assert desk.store.accepted_plan(key, DAY) is not None
