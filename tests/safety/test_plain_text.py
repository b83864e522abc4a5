"""Names and words of strangers' making reach a chat as plain text that fits and can be kept.

A message holds 4,096 UTF-16 units (core.telegram.org/bots/api#sendmessage); text without a
parse mode is shown as it is (same page, "Formatting options").
"""

import inspect

from hypothesis import given, settings
from hypothesis import strategies as st

from replanner.channels.telegram import sender
from replanner.channels.telegram.outgoing import MOST_UNITS, pieces, units
from replanner.people import Role
from tests.safety.desk import LEADER, Desk

NASTY = (
    "skip <b>hask</b> & *quern* [x](tg://user?id=1)",
    "\x1b[31mskip hask\x1b[0m\x07",
    "skip \u202eksah\u202c \u2066hask\u2069",
    "skip \ud83d hask \udc00",
    "skip\x00hask",
    "\u0000\ud800",
    "closed " + "\U0001f3cd" * 2_000,
    "x" * 4_096,
)


def test_riders_words_come_back_plain_and_can_be_kept(desk: Desk) -> None:
    desk.joined(LEADER, Role.LEADER)
    desk.evening()
    desk.letters()
    for said in NASTY:
        told = desk.says(LEADER, said)
        assert told, said
        for line in told:
            assert all(sign.isprintable() or sign == "\n" for sign in line), line
            line.encode("utf-8")
    assert desk.store.waiting(9) == ()


def test_nothing_is_sent_as_markup() -> None:
    assert "parse_mode" not in inspect.getsource(sender)


@settings(deadline=None)
@given(st.text(st.sampled_from("a\n \U0001f3cd\u00e4\ud83d"), min_size=1, max_size=9000))
def test_pieces_fit_and_lose_nothing(said: str) -> None:
    cut = pieces(said)
    assert all(0 < units(piece) <= MOST_UNITS for piece in cut) or not said.strip("\n")
    assert "".join(cut).replace("\n", "") == said.replace("\n", "")


def test_no_sign_of_two_units_is_cut_in_two() -> None:
    cut = pieces("\U0001f3cd" * 2_049)
    assert [units(piece) for piece in cut] == [4096, 2]
