"""Texts cut to what the service takes, buttons it does not refuse.

Limits: core.telegram.org/bots/api, sendMessage (4,096 characters, counted in UTF-16 code units as
entities are) and InlineKeyboardButton (callback_data: 1 to 64 bytes). They are tried on the
loopback service too, which refuses what is over them.
"""

from hypothesis import given
from hypothesis import strategies as st
from telegram import Bot

from replanner.channels.telegram.outgoing import keyboard, pieces, units
from replanner.dialogue.events import Button
from replanner.post import Words
from tests.botapi.client import RIDER, talk
from tests.botapi.server import BotApiServer

MOST = 4096
BIKE = "🏍"  # outside the basic plane: two units


def test_what_just_fits_stays_whole_and_one_unit_more_does_not() -> None:
    assert pieces("a" * MOST) == ["a" * MOST]
    assert pieces("a" * (MOST + 1)) == ["a" * MOST, "a"]


def test_an_emoji_is_two_units_and_never_cut() -> None:
    assert units(BIKE * 2049) == 4098
    assert pieces(BIKE * 2048) == [BIKE * 2048]
    assert pieces(BIKE * 2049) == [BIKE * 2048, BIKE]
    assert pieces("a" + BIKE * 2048) == ["a" + BIKE * 2047, BIKE]


def test_cut_at_the_end_of_a_line() -> None:
    first, second = "a" * 4000, "b" * 200
    assert pieces(f"{first}\n{second}") == [first, second]


def test_nothing_to_say_is_one_piece() -> None:
    assert pieces("") == [""]


@given(st.text(alphabet=st.sampled_from(f"ab\n {BIKE}é"), max_size=60), st.integers(2, 9))
def test_pieces_fit_and_hold_everything_but_ends_of_lines(text: str, most: int) -> None:
    found = pieces(text, most)
    assert all(units(piece) <= most for piece in found)
    assert "".join(found).replace("\n", "") == text.replace("\n", "")


def test_the_service_takes_every_piece_and_marks_up_nothing(server: BotApiServer) -> None:
    text = "Tārn <b>Gate</b> & Co " + BIKE * 2049

    async def act(bot: Bot) -> None:
        for piece in pieces(text):
            await bot.send_message(RIDER, piece)

    talk(server, act)
    told = server.sent_to(RIDER)
    assert "".join(one.text for one in told) == text
    assert [one.shown.entities for one in told] == [[], []]


def test_a_button_of_64_bytes_is_there_one_of_65_is_not(server: BotApiServer) -> None:
    fits, too_long = "x" * 62, "x" * 63  # "7 " before them
    words = Words(
        text="ok?",
        buttons=(Button(label="fits", word=fits), Button(label="too long", word=too_long)),
        serial=7,
    )

    async def act(bot: Bot) -> None:
        await bot.send_message(RIDER, words.text, reply_markup=keyboard(words))

    talk(server, act)
    (told,) = server.sent_to(RIDER)
    assert [button["callback_data"] for button in told.buttons] == [f"7 {fits}"]


def test_bytes_count_not_letters() -> None:
    words = Words(text="ok?", buttons=(Button(label="ok", word="é" * 32),), serial=7)
    assert keyboard(words) is None


def test_three_buttons_a_row() -> None:
    buttons = tuple(Button(label=str(number), word=str(number)) for number in range(7))
    made = keyboard(Words(text="which?", buttons=buttons, serial=1))
    assert made is not None
    assert [len(row) for row in made.inline_keyboard] == [3, 3, 1]
