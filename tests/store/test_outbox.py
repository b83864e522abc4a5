"""Letters: none lost, none twice without saying so, in order within a chat."""

from contextlib import suppress
from dataclasses import replace
from datetime import timedelta

import pytest

from replanner.dialogue.events import Button
from replanner.errors import ConflictError
from replanner.post import (
    ANSWERS,
    Claimed,
    Letter,
    PlanPicture,
    PlanRef,
    PlanTrack,
    PressAnswered,
    TextFile,
    Words,
)
from replanner.store.store import Store, open_store
from tests.dialogue.evening import DAY, SENT
from tests.store.conftest import Clock
from tests.store.things import PLAN, joined, letter, post, talk

LEASE = timedelta(minutes=2)
REF = PlanRef(tour_key="group 1", day=DAY, version=3)
BODIES = (
    Words(
        text="Tārn <b> & Förde 🏍", buttons=(Button(label="Ok", word="ok"),), serial=4, silent=True
    ),
    PlanPicture(plan=REF),
    PlanTrack(plan=REF),
    TextFile(name="tour.toml", text="name = 'coast'\n"),
    PressAnswered(press="5177"),
)


def claim(store: Store, clock: Clock, limit: int = 10) -> tuple[Claimed, ...]:
    return store.claim(clock.now, LEASE, limit)


def keys(claimed: tuple[Claimed, ...]) -> list[str]:
    return [one.letter.key for one in claimed]


def test_every_kind_of_letter_comes_out_as_it_went_in(store: Store, clock: Clock) -> None:
    letters = [
        Letter(
            key=f"a {number}",
            chat=number,
            body=body,
            not_before=SENT,
            useless_after=SENT + timedelta(hours=1) if number % 2 else None,
        )
        for number, body in enumerate(BODIES)
    ]
    post(store, *letters)
    claimed = claim(store, clock)
    assert sorted((one.letter for one in claimed), key=lambda one: one.key) == letters
    assert {(one.again, one.edits, one.tries) for one in claimed} == {(False, None, 0)}


def test_a_known_key_is_left_as_it_is(store: Store, clock: Clock) -> None:
    (member,) = joined(store, 7)
    post(store, letter("plan", member.chat))
    post(store, replace(letter("plan", member.chat), body=Words(text="another")))
    (one,) = claim(store, clock)
    assert one.letter.body == Words(text="plan")
    store.sent(one.row, 1, clock.now)
    post(store, letter("plan", member.chat))
    assert claim(store, clock) == ()
    assert store.counts()["letters sent"] == 1


def test_a_claimed_letter_is_nobody_elses_until_the_lease_runs_out(
    store: Store, address: str, clock: Clock
) -> None:
    post(store, letter("plan", 7))
    other = open_store(address, clock)
    assert keys(claim(store, clock)) == ["plan"]
    assert other.claim(clock.now, LEASE, 10) == ()
    clock.on(seconds=119)
    assert other.claim(clock.now, LEASE, 10) == ()
    clock.on(seconds=1)
    (again,) = other.claim(clock.now, LEASE, 10)
    assert again.again
    assert again.tries == 1
    other.close()


def test_a_chat_gets_its_letters_one_by_one_in_order(store: Store, clock: Clock) -> None:
    post(store, letter("1a", 1), letter("1b", 1), letter("2a", 2), letter("1c", 1))
    first = claim(store, clock)
    assert keys(first) == ["1a", "2a"]
    assert claim(store, clock) == ()
    store.sent(first[0].row, 11, clock.now)
    (second,) = claim(store, clock)
    assert second.letter.key == "1b"
    store.give_up(second.row, "refused", clock.now)
    assert keys(claim(store, clock)) == ["1c"]


def test_a_letter_put_back_holds_its_place(store: Store, clock: Clock) -> None:
    post(store, letter("1a", 1), letter("1b", 1))
    (first,) = claim(store, clock)
    store.put_back(first.row, clock.now + timedelta(seconds=30), doubtful=False, cause="429")
    assert claim(store, clock) == ()
    clock.on(seconds=30)
    (again,) = claim(store, clock)
    assert again.letter.key == "1a"
    assert not again.again  # it surely was not sent
    assert again.tries == 1


def test_a_letter_for_later_does_not_hold_up_one_for_now(store: Store, clock: Clock) -> None:
    post(store, letter("morning", 1, at=SENT + timedelta(hours=9)), letter("answer", 1))
    (first,) = claim(store, clock)
    assert first.letter.key == "answer"
    store.sent(first.row, 5, clock.now)
    assert claim(store, clock) == ()
    clock.on(hours=9)
    assert keys(claim(store, clock)) == ["morning"]


def test_nothing_overtakes_a_letter_that_is_being_sent(store: Store, clock: Clock) -> None:
    post(store, letter("b", 1))
    assert keys(claim(store, clock)) == ["b"]
    post(store, letter("a", 1, at=SENT - timedelta(minutes=1)))
    assert claim(store, clock) == ()


@pytest.mark.parametrize("doubtful", [True, False])
def test_doubt_is_never_forgotten(store: Store, clock: Clock, doubtful: bool) -> None:
    post(store, letter("plan", 1))
    (one,) = claim(store, clock)
    store.put_back(one.row, clock.now, doubtful=True, cause="cut off")
    (one,) = claim(store, clock)
    assert one.again
    store.put_back(one.row, clock.now, doubtful=doubtful, cause="refused")
    (one,) = claim(store, clock)
    assert one.again
    assert one.tries == 2


def test_a_lapsed_sender_takes_nothing_from_the_next_one(
    store: Store, address: str, clock: Clock
) -> None:
    post(store, letter("plan", 1))
    (slow,) = claim(store, clock)
    other = open_store(address, clock)
    clock.on(minutes=2)
    assert len(other.claim(clock.now, LEASE, 10)) == 1
    store.put_back(slow.row, clock.now, doubtful=True, cause="cut off")
    assert claim(store, clock) == ()  # the other one has it
    other.close()


def test_the_newest_message_of_a_slot_is_edited(store: Store, clock: Clock) -> None:
    joined(store, 1, 2)
    number = iter(range(100, 200))

    def send(key: str, chat: int, slot: str) -> int | None:
        post(store, letter(key, chat, slot=slot))
        (one,) = claim(store, clock)
        store.sent(one.row, one.edits or next(number), clock.on(seconds=1))
        return one.edits

    assert send("a", 1, "plan 2027-04-02") is None
    assert send("b", 1, "plan 2027-04-02") == 100
    assert send("c", 1, "plan 2027-04-03") is None
    assert send("d", 2, "plan 2027-04-02") is None
    assert send("e", 1, "") is None
    assert send("f", 1, "") is None
    assert send("g", 1, "plan 2027-04-02") == 100


def test_an_edit_that_became_a_new_message_is_edited_from_then_on(
    store: Store, clock: Clock
) -> None:
    joined(store, 1)
    for message in (5, 9):  # the second time the first message was gone
        post(store, letter(f"m {message}", 1, slot="plan"))
        (one,) = claim(store, clock)
        store.sent(one.row, message, clock.on(seconds=1))
    post(store, letter("last", 1, slot="plan"))
    (one,) = claim(store, clock)
    assert one.edits == 9


def test_a_letter_useless_by_now_is_dropped(store: Store, clock: Clock) -> None:
    until = SENT + timedelta(seconds=20)
    post(store, letter("a", 1, useless_after=until), letter("b", 1))
    clock.now = until + timedelta(microseconds=1)
    assert keys(claim(store, clock)) == ["b"]
    assert store.counts()["letters useless"] == 1


def test_a_letter_is_good_to_its_last_instant(store: Store, clock: Clock) -> None:
    until = SENT + timedelta(seconds=20)
    post(store, letter("a", 1, useless_after=until))
    clock.now = until
    assert keys(claim(store, clock)) == ["a"]


def test_what_waits_in_a_slot_can_be_dropped(store: Store, clock: Clock) -> None:
    post(
        store, letter("a", 1, slot="plan"), letter("b", 1, slot="plan"), letter("c", 2, slot="plan")
    )
    post(store, letter("d", 1, slot="check"))
    (sending,) = claim(store, clock, limit=1)
    assert sending.letter.key == "a"
    with store.work() as work:
        work.drop_waiting(1, "plan")
    store.sent(sending.row, 1, clock.now)
    assert keys(claim(store, clock)) == ["c", "d"]


def test_letters_and_what_they_tell_of_are_kept_together(store: Store, clock: Clock) -> None:
    def broken_off() -> None:
        with store.work() as work:
            ref = work.keep_plan("coast", PLAN, accepted=True)
            work.post([Letter(key="p", chat=1, body=PlanPicture(plan=ref), not_before=SENT)])
            raise RuntimeError

    with pytest.raises(RuntimeError):
        broken_off()
    assert claim(store, clock) == ()
    assert store.accepted_plan("coast", DAY) is None


def test_a_conflict_lets_nothing_be_stored_even_if_it_is_caught(store: Store, clock: Clock) -> None:
    store.keep_talk("coast", 1, talk(), 0)

    def goes_on_all_the_same() -> None:
        with store.work() as work:
            work.post([letter("a", 1)])
            with suppress(ConflictError):
                work.keep_talk("coast", 1, talk(serial=2), 0)
            work.post([letter("b", 1)])

    with pytest.raises(ConflictError):
        goes_on_all_the_same()
    assert claim(store, clock) == ()
    assert store.talk("coast", 1) == (talk(), 1)


def test_what_was_sent_is_not_kept(store: Store, clock: Clock) -> None:
    (member,) = joined(store, 1)
    post(store, letter("secret", 1))
    (one,) = claim(store, clock)
    store.sent(one.row, 1, clock.now)
    (row,) = store.export(member.id)["letters"]
    assert row["body"] is None
    assert row["message"] == 1
    assert row["state"] == "sent"


def test_words_of_all_chats_go_before_the_files_of_an_evening(store: Store, clock: Clock) -> None:
    def of_an_evening(chat: int) -> list[Letter]:
        files = (PlanPicture(plan=REF, unasked=True), PlanTrack(plan=REF, unasked=True))
        return [
            letter(f"plan:{chat}:text", chat),
            *(
                Letter(key=f"plan:{chat}:{n}", chat=chat, body=body, not_before=SENT)
                for n, body in enumerate(files)
            ),
        ]

    joined(store, 1, 2, 3)
    post(store, *of_an_evening(1), *of_an_evening(2))
    gone = []
    for step in range(8):
        (one,) = claim(store, clock, limit=1)
        gone.append(one.letter.key)
        store.sent(one.row, step, clock.now)
        if step == 2:  # while the files go out, a third one's plan falls due and the first asks
            post(store, letter("plan:3:text", 3, at=SENT), letter(f"{ANSWERS}7", 1, at=SENT))
    assert gone == ["plan:1:text", "plan:2:text", "plan:1:0", f"{ANSWERS}7",
                    "plan:3:text", "plan:1:1", "plan:2:0", "plan:2:1"]  # fmt: skip
    asked = Letter(key=f"{ANSWERS}8", chat=1, body=PlanPicture(plan=REF), not_before=SENT)
    post(store, asked, letter("plan:2:late", 2))
    assert keys(claim(store, clock, limit=1)) == [f"{ANSWERS}8"]  # a picture asked for waits not


def test_of_a_stranger_nothing_stays(store: Store, clock: Clock) -> None:
    post(store, letter("no", 99), letter("yes", 98))
    one, two = claim(store, clock)
    store.sent(one.row, 1, clock.now)
    store.give_up(two.row, "refused", clock.now)
    assert store.counts() == dict.fromkeys(store.counts(), 0)


def test_the_figures_are_those_of_the_letters(store: Store, clock: Clock) -> None:
    joined(store, 1, 2, 3, 4)
    post(
        store,
        letter("a", 1),
        letter("b", 2),
        letter("c", 3),
        letter("d", 4, useless_after=SENT - timedelta(seconds=1)),
    )
    one, two, _ = claim(store, clock)
    store.sent(one.row, 1, clock.now)
    store.give_up(two.row, "refused", clock.now)
    assert store.counts() == {
        "letters waiting": 1,
        "letters sent": 1,
        "letters given up": 1,
        "letters useless": 1,
        "arrivals waiting": 0,
        "due": 0,
        "groups": 1,
        "members": 4,
    }


def test_a_dropped_letter_is_known_still(store: Store, clock: Clock) -> None:
    post(store, letter("plan", 1, slot="plan"))
    with store.work() as work:
        work.drop_waiting(1, "plan")
    post(store, letter("plan", 1, slot="plan"))
    assert claim(store, clock) == ()


def test_who_has_asked_is_answered_before_others_are_told(store: Store, clock: Clock) -> None:
    joined(store, 1, 2, 3)
    post(
        store,
        letter("plan:1", 1),
        letter("plan:2", 2),
        letter("plan:3", 3),
        letter(f"{ANSWERS}7", 3, at=clock.on(seconds=5)),
    )
    (first,) = claim(store, clock, limit=1)  # in its way: the same chat's plan comes before it
    assert first.letter.key == "plan:3"
    store.sent(first.row, 1, clock.now)
    (second,) = claim(store, clock, limit=1)
    assert second.letter.key == f"{ANSWERS}7"
    assert keys(claim(store, clock)) == ["plan:1", "plan:2"]


def test_a_chat_rests_after_a_message_and_others_go_before_it(store: Store, clock: Clock) -> None:
    joined(store, 1, 2)
    post(store, letter("1a", 1), letter("1b", 1), letter("2a", 2), letter("2b", 2))
    (first,) = claim(store, clock, limit=1)
    store.sent(first.row, 1, clock.now, rest=timedelta(seconds=1))
    assert keys(claim(store, clock)) == ["2a"]
    clock.on(seconds=1)
    assert keys(claim(store, clock)) == ["1b"]
