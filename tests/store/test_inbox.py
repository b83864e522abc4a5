"""What arrives is dealt with once; what is due is done once."""

from datetime import timedelta

import pytest

from replanner.errors import ConflictError
from replanner.post import Arrived, Due, DueKind
from replanner.store.store import Store, open_store
from tests.dialogue.evening import SENT
from tests.store.conftest import Clock
from tests.store.things import joined, letter

LEASE = timedelta(minutes=2)


def arrived(number: int, chat: int = 1) -> Arrived:
    return Arrived(number=number, chat=chat, raw=f'{{"update_id": {number}, "text": "Tārn 🏍"}}')


def test_what_arrives_twice_is_kept_once(store: Store) -> None:
    assert store.last_number() is None
    store.receive([arrived(5), arrived(6)], SENT)
    store.receive([Arrived(number=6, chat=2, raw="another"), arrived(7)], SENT)
    with store.work() as work:
        work.close_arrival(5)
    store.receive([arrived(5)], SENT)
    store.receive([], SENT)
    assert store.last_number() == 7
    assert store.waiting(10) == (arrived(6),)
    assert store.counts()["arrivals waiting"] == 2


def test_of_each_chat_the_oldest_waits(store: Store) -> None:
    store.receive([arrived(9, 1), arrived(4, 2), arrived(3, 1), arrived(5, 3)], SENT)
    assert store.waiting(10) == (arrived(3, 1), arrived(4, 2), arrived(5, 3))
    assert store.waiting(2) == (arrived(3, 1), arrived(4, 2))
    with store.work() as work:
        work.close_arrival(3)
    assert store.waiting(10) == (arrived(4, 2), arrived(5, 3), arrived(9, 1))


def test_numbers_and_chats_are_as_large_as_the_service_makes_them(store: Store) -> None:
    # Telegram Bot API, "Chat": id has at most 52 significant bits; groups' are negative.
    big = Arrived(number=2**40, chat=-(2**51), raw="{}")
    store.receive([big], SENT)
    assert store.waiting(1) == (big,)
    assert store.last_number() == 2**40


@pytest.mark.parametrize("number", [5, 6])
def test_what_is_dealt_with_already_lets_nothing_be_stored(store: Store, number: int) -> None:
    store.receive([arrived(5)], SENT)
    with store.work() as work:
        work.close_arrival(5)

    def again() -> None:
        with store.work() as work:
            work.post([letter("answer", 1)])
            work.close_arrival(number)

    with pytest.raises(ConflictError, match="dealt with by another run"):
        again()
    assert store.counts()["letters waiting"] == 0


def test_of_what_was_dealt_with_the_number_alone_stays(store: Store) -> None:
    store.receive([arrived(5)], SENT)
    with store.work() as work:
        work.close_arrival(5)
    with store._database.reading() as look:
        row = look.exec_driver_sql("SELECT number, chat, raw FROM arrivals").one()
    assert tuple(row) == (5, None, None)


def evening(owner: int, minutes: float = 0.0) -> Due:
    return Due(kind=DueKind.EVENING, owner=owner, at=SENT + timedelta(minutes=minutes))


def set_due(store: Store, *dues: Due) -> None:
    with store.work() as work:
        for due in dues:
            work.set_due(due.kind, due.owner, due.at)


def test_what_is_due_is_claimed_once_earliest_first(
    store: Store, address: str, clock: Clock
) -> None:
    overdue = Due(kind=DueKind.OVERDUE, owner=1, at=SENT - timedelta(days=3))
    set_due(store, evening(1), evening(2, -5), evening(3, 0.001), overdue)
    other = open_store(address, clock)
    assert store.claim_due(clock.now, LEASE, 2) == (overdue, evening(2, -5))
    assert other.claim_due(clock.now, LEASE, 9) == (evening(1),)
    assert store.claim_due(clock.now, LEASE, 9) == ()
    clock.on(minutes=2)
    assert len(other.claim_due(clock.now, LEASE, 9)) == 4
    other.close()


def test_what_is_done_is_due_when_it_is_due_next(store: Store, clock: Clock) -> None:
    set_due(store, evening(1), evening(2))
    first, second = store.claim_due(clock.now, LEASE, 9)
    with store.work() as work:
        work.settle(first, evening(1, 60).at)
        work.settle(second, None)
    clock.on(minutes=59)
    assert store.claim_due(clock.now, LEASE, 9) == ()
    clock.on(minutes=1)
    assert store.claim_due(clock.now, LEASE, 9) == (evening(1, 60),)
    assert store.counts()["due"] == 1


@pytest.mark.parametrize("then", [None, SENT + timedelta(days=1)])
def test_what_is_done_already_lets_nothing_be_stored(store: Store, then: object) -> None:
    set_due(store, evening(1))

    def settle() -> None:
        with store.work() as work:
            work.post([letter("plan", 1)])
            work.settle(evening(1), then)  # type: ignore[arg-type]

    settle()
    with store.work() as work:
        work.drop_waiting(1, "")
    with pytest.raises(ConflictError, match="done by another run"):
        settle()
    assert store.counts()["letters waiting"] == 0


def test_a_changed_hour_is_a_new_one_and_the_same_hour_is_not(store: Store, clock: Clock) -> None:
    set_due(store, evening(1), evening(2))
    assert len(store.claim_due(clock.now, LEASE, 9)) == 2
    set_due(store, evening(1), evening(2, -1))
    assert store.claim_due(clock.now, LEASE, 9) == (evening(2, -1),)  # the other is being done
    with store.work() as work:
        work.set_due(DueKind.EVENING, 1, None)
        work.set_due(DueKind.EVENING, 7, None)
    assert store.counts()["due"] == 1


def test_kinds_and_owners_do_not_meet(store: Store, clock: Clock) -> None:
    dues = [Due(kind=kind, owner=owner, at=SENT) for kind in DueKind for owner in (0, 1)]
    set_due(store, *dues)
    assert set(store.claim_due(clock.now, LEASE, 99)) == set(dues)


def test_more_is_due_than_one_statement_can_name(store: Store, clock: Clock) -> None:
    set_due(store, *(evening(owner) for owner in range(6_000)))
    assert len(store.claim_due(clock.now, LEASE, 10_000)) == 6_000
    assert store.claim_due(clock.now, LEASE, 10_000) == ()


def test_instants_before_and_after_a_whole_second_are_in_order(store: Store) -> None:
    """Text without microseconds would sort after text with them."""
    just = timedelta(microseconds=1)
    joined(store, 1)
    set_due(store, evening(1))
    assert store.claim_due(SENT - just, LEASE, 9) == ()
    assert len(store.claim_due(SENT, just, 9)) == 1
    assert len(store.claim_due(SENT + just, LEASE, 9)) == 1
