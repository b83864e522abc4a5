"""The terminal on real streams, with the invented day and a store in a file."""

import io
import os
import pty
import sys
import termios
import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from replanner.advice.briefing import Briefing
from replanner.channels.terminal import LONGEST_LINE, Hands, converse, read_lines
from replanner.dialogue.events import Event, Replan, RiderSaid, Say
from replanner.dialogue.state import State
from replanner.errors import ForecastError, InputError, StoreError
from replanner.service.one_rider import Heard, OneRider
from replanner.store.store import open_store
from replanner.store.work import StoreWork
from tests.dialogue.evening import BOOK, DAY, SENT, plan


class Evening:
    """A terminal, its store and what was said on it."""

    def __init__(self, path: Path) -> None:
        self.store = open_store(str(path), lambda: SENT)
        self.said: list[str] = []
        self.asked: list[Replan] = []
        self.offline = False

    def replan(self, request: Replan) -> tuple[Briefing, bool]:
        self.asked.append(request)
        if self.offline:
            raise ForecastError("no network", mend="try again later")
        return plan(request), True

    def rider(self) -> OneRider:
        """Begin another run."""
        return OneRider(self.store, "coast", BOOK, DAY, self.replan, lambda: SENT)

    def hands(self, rider: OneRider) -> Hands:
        return Hands(
            hear=rider.hear,
            say=self.said.append,
            picture=lambda briefing: f"{briefing.date}.png",
            track=lambda briefing: f"{briefing.date}.gpx",
            own_data="in the state file",
            now=lambda: SENT,
        )

    def hear(self, *lines: str) -> State:
        rider = self.rider()
        converse(lines, DAY, self.hands(rider))
        return rider.state


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
    state = evening.rider().state
    assert state.accepted is not None
    assert [leg.id for leg in state.accepted.briefing.legs] == ["quern"]
    evening.said.clear()
    evening.hear()
    assert "without Hask Saddle" in evening.said[0].splitlines()[0]
    assert "The same as you accepted" in evening.said[0]


def test_undo_reaches_back_over_runs(evening: Evening) -> None:
    evening.hear("skip hask saddle\n", "ok\n")
    state = evening.hear("undo\n")
    assert state.accepted is None
    assert state.demands.left_out == {"hask"}
    assert evening.store.accepted_plan("coast", DAY) is None
    state = evening.hear("undo\n")
    assert not state.demands.left_out
    assert not evening.rider().state.demands.left_out


def test_a_what_if_leaves_nothing_behind(evening: Evening) -> None:
    evening.hear("what if we skip hask saddle\n")
    state = evening.rider().state
    assert state.accepted is None
    assert not state.demands.left_out


def test_a_closure_stays_without_an_ok(evening: Evening) -> None:
    evening.hear("closed hask saddle\n")
    assert evening.rider().state.demands.closed == {"hask"}


def test_no_network_is_one_line_and_the_conversation_goes_on(evening: Evening) -> None:
    evening.offline = True
    evening.hear("why\n", "cautions\n")
    assert "no network -- try again later" in evening.said[0]
    assert "that is not good weather" in evening.said[0]
    assert len(evening.said[0].splitlines()) == 1
    assert evening.said[1] == "There is no plan shown yet."


def test_an_ok_that_cannot_be_stored_is_not_said_to_be_accepted(
    evening: Evening, monkeypatch: pytest.MonkeyPatch
) -> None:
    rider = evening.rider()
    converse([], DAY, evening.hands(rider))
    with monkeypatch.context() as patched:
        patched.setattr(StoreWork, "keep_plan", _full)
        converse(["ok\n"], DAY, evening.hands(rider))
    assert rider.state.accepted is None
    assert evening.said[-1] == "the disk is full"
    assert not any("Accepted" in said for said in evening.said)
    assert evening.store.accepted_plan("coast", DAY) is None
    rider.hear(RiderSaid(text="ok", sent=SENT))
    assert evening.store.accepted_plan("coast", DAY) is not None


def _full(*_: object, **__: object) -> None:
    raise StoreError("the disk is full")


def test_a_wish_that_cannot_be_kept_for_the_next_run_is_told_and_the_talk_goes_on(
    evening: Evening, monkeypatch: pytest.MonkeyPatch
) -> None:
    rider = evening.rider()
    converse([], DAY, evening.hands(rider))
    with monkeypatch.context() as patched:
        patched.setattr(StoreWork, "remember", _full)
        heard = rider.hear(RiderSaid(text="skip hask saddle", sent=SENT))
        told = [effect.text for effect in heard.effects if isinstance(effect, Say)]
        assert told[0] == "the disk is full"
        assert told[1].startswith("Left out: Hask Saddle.")
    rider.hear(RiderSaid(text="ok", sent=SENT))
    assert rider.state.accepted is not None
    assert evening.store.accepted_plan("coast", DAY) == rider.state.accepted.briefing
    assert evening.rider().state.demands.left_out == {"hask"}


def test_nothing_of_an_event_is_stored_if_a_part_of_it_cannot_be(
    evening: Evening, monkeypatch: pytest.MonkeyPatch
) -> None:
    rider = evening.rider()
    converse([], DAY, evening.hands(rider))
    with monkeypatch.context() as patched:
        patched.setattr(StoreWork, "keep_talk", _full)
        rider.hear(RiderSaid(text="ok", sent=SENT))
    assert evening.store.accepted_plan("coast", DAY) is None


def test_two_runs_at_once_do_nothing_twice(evening: Evening) -> None:
    one, other = evening.rider(), evening.rider()
    converse(["skip hask saddle\n"], DAY, evening.hands(one))
    heard = other.hear(RiderSaid(text="closed salt causeway", sent=SENT))
    (told,) = heard.effects
    assert isinstance(told, Say)
    assert told.text.startswith("This was carried on elsewhere")
    assert other.state.demands.left_out == {"hask"}
    other.hear(RiderSaid(text="closed salt causeway", sent=SENT))
    assert evening.rider().state.demands.closed == {"causeway"}


def test_pictures_tracks_and_what_is_kept_are_told_by_the_files_they_are_in(
    evening: Evening,
) -> None:
    evening.hear("picture\n", "gpx\n", "export my data\n")
    assert evening.said[-3:] == [
        "Written: 2027-04-02.png",
        "Written: 2027-04-02.gpx",
        "in the state file",
    ]


def test_a_picture_that_cannot_be_written_is_one_line(evening: Evening) -> None:
    def full(_: Briefing) -> str:
        raise InputError("the file cannot be written", mend="free some space")

    hands = replace(evening.hands(evening.rider()), picture=full)
    converse(["picture\n", "why\n"], DAY, hands)
    assert "the file cannot be written" in evening.said[-2]
    assert "gust" in evening.said[-1]


def test_another_day_can_be_planned_and_left_again(evening: Evening) -> None:
    evening.hear("skip hask saddle\n", "plan saturday\n", "ok\n", "plan friday\n")
    assert evening.store.accepted_plan("coast", date(2027, 4, 3)) is not None
    assert evening.store.accepted_plan("coast", DAY) is None
    assert evening.rider().state.demands.left_out == {"hask"}


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

    rider = evening.rider()
    converse(typed(), DAY, evening.hands(rider))
    assert rider.state.accepted is not None


def test_ctrl_c_while_the_first_plan_is_made_ends_it_too(evening: Evening) -> None:
    def interrupted(_: Event) -> Heard:
        raise KeyboardInterrupt

    rider = evening.rider()
    converse(["ok\n"], DAY, replace(evening.hands(rider), hear=interrupted))
    assert rider.state.shown is None


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
