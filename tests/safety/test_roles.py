"""Who may do what: made-up presses, other people's groups, riders who would decide.

That only the leader decides, and that anybody adds a caution, are the project's own rules. The
data of a press is whatever a client sends, up to 64 bytes (core.telegram.org/bots/api, object
CallbackQuery: "a bad client can send arbitrary data in this field").
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import timedelta

import pytest

from replanner.advice.briefing import Briefing
from replanner.channels.telegram.incoming import button_data
from replanner.dialogue.events import (
    Accept,
    ExportData,
    LogLeg,
    Memory,
    Remember,
    Replan,
    RiderSaid,
    Say,
    SendTrack,
    Share,
    ShowPicture,
    StrikeLog,
    TakeTour,
    Withdraw,
)
from replanner.dialogue.phrases import PHRASES
from replanner.dialogue.state import State
from replanner.dialogue.topics import CHANGING, Topic
from replanner.people import Role
from replanner.post import PressAnswered, Words
from replanner.service.dealing import state_of
from replanner.service.desk import KeepPlan, Upshot, attend
from replanner.trip.edits import Demands
from replanner.trip.underway import ReportKind
from tests.dialogue.evening import DAY, plan
from tests.safety.desk import FOREIGN, LEADER, RIDER, Desk, document, edited, press, text

SLOTS = {
    "leg": "hask saddle",
    "other": "quern point loop",
    "legs": "brindle loop",
    "time": "7:15",
    "day": "saturday",
    "minutes": "40",
    "remark": "fog",
}


def lines(*, but: tuple[Topic, ...] = (), some: int = 0) -> Iterator[str]:
    """Return lines from the table of phrases: all, or some of each topic, twice if it changes."""
    for topic, phrases in PHRASES.items():
        few = phrases[: 2 * some if topic in CHANGING else some]
        for phrase in (few if some else phrases) if topic not in but else ():
            words = re.sub(r"\[[^\]]*\]", "", phrase)
            words = re.sub(r"<(\w+)>", lambda slot: SLOTS.get(slot[1], "10"), words)
            yield " ".join(word.partition("|")[0] for word in words.split())


@pytest.fixture
def group(desk: Desk) -> Desk:
    """A leader and a rider who have seen the evening's plan; the leader has accepted it."""
    desk.joined(LEADER, Role.LEADER)
    desk.joined(RIDER, Role.RIDER)
    desk.evening()
    desk.letters()
    desk.says(LEADER, "ok")
    desk.says(LEADER, "what if i skip hask")  # something a rider could say yes to
    return desk


def wishes(memory: Memory) -> Demands:
    """Return what was wished, without what anybody may add: reports, closures, strictness."""
    return replace(memory.demands, reports=frozenset(), closed=frozenset(), stricter=0)


def no_less_careful(before: Demands, after: Demands) -> bool:
    """Tell whether nothing that was reported is taken back; told anew it may be."""
    return (
        after.closed >= before.closed
        and after.stricter >= before.stricter
        and not any(one.kind is ReportKind.DRY for one in after.reports)
        and {(one.leg, one.kind) for one in after.reports}
        >= {(one.leg, one.kind) for one in before.reports}
    )


# What decides for the group, or keeps its log.
DECIDING = (Accept, Withdraw, LogLeg, StrikeLog, TakeTour)


def decides_nothing(before: State, after: State, upshots: Sequence[Upshot]) -> bool:
    """Tell whether what a line came to leaves what the group has agreed on as it was."""
    if any(isinstance(one, DECIDING) for one in upshots):
        return False
    if after.day != before.day:  # another day is spoken about: that one's talk begins afresh
        return not any(isinstance(one, Remember) and one.day == before.day for one in upshots)
    remembered = [one.memory.demands for one in upshots if isinstance(one, Remember)]
    kept = [one.demands for one in upshots if isinstance(one, KeepPlan | Share)]
    return after.accepted == before.accepted and all(
        wishes(replace(before.memory, demands=each)) == wishes(before.memory)
        and no_less_careful(before.demands, each)
        for each in (after.demands, *remembered, *kept)
    )


def test_no_line_of_a_rider_decides_anything(group: Desk) -> None:
    """Every line there is, said by the rider, and a yes to whatever it makes the bot ask.

    What an event comes to is all that is ever kept of it (`service/desk`).
    """
    rider = group.store.member_of(RIDER)
    assert rider is not None
    first = state_of(group.store, group.ridden(group.group), rider, DAY).state
    assert first.accepted is not None
    assert not first.leads
    said = sorted(set(lines()))
    assert len(said) > 600
    state, now = first, group.now
    for line in said:
        now += timedelta(seconds=7)
        for before in (first, state) if state != first else (first,):
            after, upshots = attend(before, RiderSaid(text=line, sent=now), made)
            assert any(isinstance(one, Say | ShowPicture | SendTrack | ExportData)
                       for one in upshots), line  # fmt: skip
            assert decides_nothing(before, after, upshots), line
            if after.question is not None:
                agreed, more = attend(after, RiderSaid(text="yes", sent=now), made)
                assert decides_nothing(before, agreed, more), line
        state = after if after.day == first.day else state


def made(request: Replan) -> tuple[Briefing, bool]:
    return plan(request), True


def test_no_line_of_a_rider_decides_anything_in_the_office(group: Desk) -> None:
    """One line a topic, two where it would change something, by the whole office and its store."""
    rider = group.store.member_of(RIDER)
    assert rider is not None
    memory, accepted, log, tour = group.in_force()
    assert accepted is not None
    for line in sorted(set(lines(but=(Topic.ERASE,), some=1))):
        group.now += timedelta(seconds=7)
        group.gets(text(RIDER, line, group.now))
        assert group.letters(RIDER), line
        found = group.store.talk(group.group.tour_key, rider.id)
        if found is not None and found[0].question is not None:
            group.says(RIDER, "yes")
        after = group.in_force()
        assert wishes(after[0]) == wishes(memory), line
        assert no_less_careful(memory.demands, after[0].demands), line
        assert after[1:] == (accepted, log, tour), line
        memory = after[0]


def buttons(desk: Desk, chat: int) -> list[str]:
    """Return the data of every button a chat is shown."""
    return [
        button_data(button.word, body.serial)
        for body in desk.letters(chat)
        if isinstance(body, Words)
        for button in body.buttons
    ]


def test_no_press_of_a_rider_decides_anything(group: Desk) -> None:
    before, rider = group.in_force(), group.store.member_of(RIDER)
    assert rider is not None
    shown = set()
    for line in ("what if i skip hask", "plan", "plan b"):
        group.gets(text(RIDER, line, group.now))
        shown |= {data.partition(" ")[2] for data in buttons(group, RIDER)}
    found = group.store.talk(group.group.tour_key, rider.id)
    assert found is not None
    newest = found[0].serial
    words = {"ok", "accept", "plan b", "keep my order", "yes", "undo", "skip hask", "start over"}
    for serial in (0, newest - 1, newest, newest + 1, newest + 2):
        for word in sorted(words | shown):
            group.now += timedelta(seconds=4)
            group.gets(press(RIDER, button_data(word, serial)))
    assert group.in_force() == before


MADE_UP = [
    "",
    " ",
    "ok",
    "1",
    "1 ",
    " ok",
    "-1 ok",
    "+1 ok",
    "1.0 ok",
    "\u0661 ok",  # an Arabic one: a digit to Python, none to us
    "999999999999999999999999 ok",
    "0 ok",
    "1\tok",
    "1 " + "x" * 62,  # 64 bytes
    "1 " + "x" * 63,
    "1 \x00\x1b[31mok",
    "1 \ud83d ok",
    '{"serial": 1, "word": "ok"}',
    "1 ok; DROP TABLE plans",
    "1 " + "\U0001f3cd" * 16,
]


def test_a_press_made_up_changes_nothing(group: Desk) -> None:
    before = group.in_force()
    for data in MADE_UP:
        group.now += timedelta(seconds=4)
        group.gets(press(LEADER, data))
        assert group.in_force() == before, data
        assert group.store.waiting(9) == (), data
    assert group.says(LEADER, "why")  # and he is heard as before


def test_a_press_without_data_or_message_changes_nothing(group: Desk) -> None:
    before = group.in_force()
    whole = press(LEADER, "1 ok")["callback_query"]
    for less in ("data", "message", "from", "id"):
        group.gets({"callback_query": {name: one for name, one in whole.items() if name != less}})
    group.gets({"callback_query": whole | {"message": {"chat": {"id": LEADER}}}})
    assert group.in_force() == before
    assert group.store.waiting(9) == ()


def test_a_press_in_anothers_name_is_nobodys(group: Desk) -> None:
    """In a private chat only its one person can press: the service tells who did."""
    group.gets(text(LEADER, "plan b", group.now))
    data = next(data for data in buttons(group, LEADER))
    before, serial = group.in_force(), data.partition(" ")[0]
    group.gets(press(LEADER, f"{serial} ok", by=RIDER))
    group.gets(press(RIDER, f"{serial} ok", by=LEADER))
    assert group.in_force() == before
    assert group.letters() == []


def test_the_leaders_own_press_counts_once_and_is_answered(group: Desk) -> None:
    """The counter-check: what the tests above try in vain does work for who may."""
    before = group.in_force()
    group.gets(text(LEADER, "plan b", group.now))
    data = next(data for data in buttons(group, LEADER) if data.endswith((" ok", " take it")))
    group.gets(press(LEADER, data))
    told = group.letters(LEADER)
    assert any(isinstance(body, PressAnswered) for body in told)
    after = group.in_force()
    assert after != before
    group.gets(press(LEADER, data))
    assert group.in_force() == after


def test_an_edited_message_is_not_heard_again(group: Desk) -> None:
    before = group.in_force()
    group.gets(edited(LEADER, "skip hask"))
    assert group.in_force() == before
    assert group.letters() == []


def test_nothing_of_one_group_is_shown_to_another(desk: Desk) -> None:
    """Same tour, same legs, other riders: what the one says is never told in the other."""
    other = desk.store.new_group("the same tour, other riders")
    desk.joined(LEADER, Role.LEADER)
    desk.joined(FOREIGN, Role.LEADER, other)
    desk.evening()
    desk.letters()
    before = desk.in_force(other)
    for said in ("skip hask", "closed brindle loop", "ok", "deep gravel on quern point"):
        desk.gets(text(LEADER, said, desk.now))
    assert desk.letters(FOREIGN) == []
    assert desk.in_force(other) == before
    assert desk.in_force()[0].demands.left_out == {"hask"}
    told = "\n".join(desk.says(FOREIGN, "plan") + desk.says(FOREIGN, "why"))
    assert "Hask Saddle" in told  # theirs still rides it
    assert "gravel" not in told.casefold()
    assert desk.in_force(other)[0].demands.left_out == frozenset()


def test_a_rider_cannot_put_another_tour_in_the_leaders_way(group: Desk) -> None:
    group.gets(document(RIDER, "mine.toml", 900))
    assert group.fetched == []
    (said,) = group.told(RIDER)
    assert said == "mine.toml: the leader sends the tour file"
    assert group.rows()["asides"] == []
