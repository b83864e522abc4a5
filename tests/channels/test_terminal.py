"""The terminal on real streams, with the invented day and a store in a file."""

import io
import os
import pty
import sys
import termios
import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from replanner.advice.briefing import Briefing
from replanner.channels.terminal import LONGEST_LINE, Hands, converse, read_lines
from replanner.dialogue.events import Replan
from replanner.dialogue.state import State, begin
from replanner.errors import ForecastError, StoreError
from replanner.store.store import open_store
from tests.dialogue.evening import BOOK, DAY, SENT, fresh, plan


class Evening:
    """A terminal, its store and what was said on it."""

    def __init__(self, path: Path) -> None:
        self.store = open_store(str(path), lambda: SENT)
        self.said: list[str] = []
        self.asked: list[Replan] = []
        self.offline = False

    def replan(self, request: Replan) -> Briefing:
        self.asked.append(request)
        if self.offline:
            raise ForecastError("no network", mend="try again later")
        return plan(request)

    def state(self) -> State:
        accepted = self.store.accepted_plan("coast", DAY)
        memory = self.store.recall("coast", DAY)
        return begin("coast", BOOK, DAY, memory=memory, accepted=accepted)

    def hands(self) -> Hands:
        return Hands(replan=self.replan, store=self.store, say=self.said.append, now=lambda: SENT)

    def hear(self, *lines: str) -> State:
        return converse(lines, self.state(), self.hands())


@pytest.fixture
def evening(tmp_path: Path) -> Iterator[Evening]:
    evening = Evening(tmp_path / "plans.db")
    yield evening
    evening.store.close()


def test_without_input_the_plan_is_told_and_that_is_all(evening: Evening) -> None:
    evening.hear()
    assert evening.said[0].startswith("Fri 2 Apr: SWAP")
    assert evening.store.accepted_plan("coast", DAY) is None


def test_an_accepted_plan_stays_accepted_in_the_next_run(evening: Evening) -> None:
    evening.hear("skip hask saddle\n", "ok\n")
    state = evening.state()
    assert state.accepted is not None
    assert [leg.id for leg in state.accepted.briefing.legs] == ["quern"]
    evening.said.clear()
    evening.hear()
    assert "without Hask Saddle" in evening.said[0].splitlines()[0]
    assert "The same as you accepted" in evening.said[0]


def test_a_what_if_leaves_nothing_behind(evening: Evening) -> None:
    evening.hear("what if we skip hask saddle\n")
    state = evening.state()
    assert state.accepted is None
    assert not state.demands.left_out


def test_a_closure_stays_without_an_ok(evening: Evening) -> None:
    evening.hear("closed hask saddle\n")
    assert evening.state().demands.closed == {"hask"}


def test_no_network_is_one_line_and_the_conversation_goes_on(evening: Evening) -> None:
    evening.offline = True
    evening.hear("why\n", "cautions\n")
    assert evening.said[0] == "no network -- try again later"
    assert evening.said[1] == "There is no plan shown yet."


def test_an_ok_that_cannot_be_stored_is_not_said_to_be_accepted(
    evening: Evening, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise StoreError("the disk is full")

    monkeypatch.setattr(evening.store, "keep_plan", full)
    state = evening.hear("ok\n")
    assert state.accepted is None
    assert evening.said[-1] == "the disk is full"
    assert not any("Accepted" in said for said in evening.said)


def test_a_wish_that_cannot_be_kept_for_the_next_run_is_told_and_the_talk_goes_on(
    evening: Evening, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise StoreError("the disk is full")

    monkeypatch.setattr(evening.store, "remember", full)
    state = evening.hear("skip hask saddle\n", "ok\n")
    assert "the disk is full" in evening.said
    assert state.accepted is not None
    assert evening.store.accepted_plan("coast", DAY) == state.accepted.briefing


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("x" * (LONGEST_LINE + 1), "too long"),
        ("ok\x1b[2J", "no text"),
        ("ok\x00", "no text"),
        ("skip \ufffd", "no text"),
    ],
)
def test_long_lines_and_control_signs_are_refused(evening: Evening, line: str, why: str) -> None:
    evening.hear(line)
    assert why in evening.said[-1]
    assert evening.store.accepted_plan("coast", DAY) is None


def test_taking_leave_ends_it_and_empty_lines_are_nothing(evening: Evening) -> None:
    evening.hear("\n", "  \n", "bye\n", "ok\n")
    assert evening.said[-1] == "Good night. No plan is accepted."
    assert evening.store.accepted_plan("coast", DAY) is None


def test_ctrl_c_ends_it_cleanly(evening: Evening) -> None:
    def typed() -> Iterator[str]:
        yield "ok\n"
        raise KeyboardInterrupt

    state = converse(typed(), fresh(), evening.hands())
    assert state.accepted is not None


def test_ctrl_c_while_the_first_plan_is_made_ends_it_too(evening: Evening) -> None:
    def interrupted(_: Replan) -> Briefing:
        raise KeyboardInterrupt

    hands = evening.hands()
    state = converse(["ok\n"], fresh(), replace(hands, replan=interrupted))
    assert state.shown is None


def test_a_name_cannot_steer_the_terminal(evening: Evening) -> None:
    evening.hear("skip \N{RIGHT-TO-LEFT OVERRIDE}abc\n")
    assert "\N{RIGHT-TO-LEFT OVERRIDE}" not in "".join(evening.said)


def test_piped_lines_are_read_without_a_prompt() -> None:
    out = io.StringIO()
    stream = io.TextIOWrapper(io.BytesIO(b"why\nok\r\nlast without an end"), encoding="utf-8")
    assert [line.strip() for line in read_lines(stream, out)] == [
        "why",
        "ok",
        "last without an end",
    ]
    assert out.getvalue() == ""


def test_bytes_that_are_no_text_do_not_stop_the_reading() -> None:
    stream = io.TextIOWrapper(io.BytesIO(b"\xff\xfe\nok\n"), encoding="utf-8")
    first, second = read_lines(stream, io.StringIO())
    assert "\ufffd" in first
    assert second.strip() == "ok"


def test_of_an_endless_line_the_tail_is_not_read_as_words() -> None:
    stream = io.TextIOWrapper(io.BytesIO(b"x " * 50_000 + b"\nok\n"), encoding="utf-8")
    lines = list(read_lines(stream, io.StringIO()))
    assert [len(line) > LONGEST_LINE for line in lines] == [True, False]
    assert lines[1].strip() == "ok"


def test_a_stream_that_is_not_there_gives_no_lines() -> None:
    assert list(read_lines(None, io.StringIO())) == []
    closed = io.StringIO()
    closed.close()
    assert list(read_lines(closed, io.StringIO())) == []


@pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are a POSIX thing")
def test_a_typed_conversation_has_a_prompt_and_ends_with_ctrl_d() -> None:
    master, slave = pty.openpty()
    settings = termios.tcgetattr(slave)
    settings[3] &= ~termios.ECHO
    termios.tcsetattr(slave, termios.TCSANOW, settings)
    out = io.StringIO()
    with os.fdopen(slave, "r", encoding="utf-8") as typed:
        typing = threading.Thread(target=os.write, args=(master, b"ok\n\x04"))
        typing.start()
        assert [line.strip() for line in read_lines(typed, out)] == ["ok"]
        typing.join()
    os.close(master)
    assert out.getvalue() == "> > \n"
