"""What the loopback server refuses, against the documentation (`facts.py` names the sources)."""

import asyncio
from html import escape
from typing import Any

import pytest
import requests
from hypothesis import given
from hypothesis import strategies as st
from telegram import Bot, Message
from telegram.error import (
    BadRequest,
    Forbidden,
    InvalidToken,
)

from tests.botapi.client import PNG_2_BY_1, RIDER, ask, bot_for, keyboard, talk
from tests.botapi.markup import parse_text
from tests.botapi.server import TOKEN, BotApiServer


@pytest.mark.parametrize(
    ("text", "refusal"),
    [
        # The sentences: OPEN (facts.py), the part of the client library that reads HTML there.
        ("leg <x>", 'Unsupported start tag "x" at byte offset 4'),
        ("ä <q>", 'Unsupported start tag "q" at byte offset 3'),
        ("5 < 6 > 4", 'Unsupported start tag "" at byte offset 2'),
        ("gust <35", "Unclosed start tag at byte offset 5"),
        ("<b>bold", "Can't find end tag corresponding to start tag"),  # its name follows
        ("<b><i>x</b></i>", 'Unmatched end tag at byte offset 7, expected "</i>", found "</b>"'),
        ("late</b>", "Unexpected end tag at byte offset 4"),
        ("<b>x</b", "Unclosed end tag at byte offset 4"),
        ("<span>x</span>", 'Tag "span" must have class "tg-spoiler" at byte offset 0'),
        ("<b loud>x</b>", 'Expected equal sign in declaration of an attribute of the tag "b"'),
        # PAGE, HTML style: every & that is no reference must be replaced; only four are named.
        ("wet & windy", "Character '&' must be escaped at byte offset 4"),
        ("a&nbsp;b", "Character '&' must be escaped at byte offset 1"),
    ],
)
def test_wrong_markup_is_refused_and_nothing_is_sent(server, text, refusal):
    answer = ask(server, "sendMessage", chat_id=RIDER, text=text, parse_mode="HTML")
    assert answer["description"].startswith(f"Bad Request: can't parse entities: {refusal}")
    with pytest.raises(BadRequest, match=r"(?i)can't parse entities"):
        talk(server, lambda bot: bot.send_message(RIDER, text, parse_mode="HTML"))
    assert server.sent == []


@pytest.mark.parametrize(
    ("html", "text", "kinds"),
    [
        # PAGE, HTML style: its tags, numeric references, nesting.
        ("<b>a</b><strong>b</strong>", "ab", ["bold", "bold"]),
        ("<i>a</i><em>b</em><u>c</u><ins>d</ins>", "abcd", ["italic"] * 2 + ["underline"] * 2),
        ("<s>a</s><strike>b</strike><del>c</del>", "abc", ["strikethrough"] * 3),
        ('<span class="tg-spoiler">a</span><tg-spoiler>b</tg-spoiler>', "ab", ["spoiler"] * 2),
        ('<a href="https://example.org/?a=1&amp;b=2">map</a>', "map", ["text_link"]),
        ("<pre>a</pre><code>b</code>", "ab", ["pre", "code"]),
        ("<blockquote expandable>a</blockquote>", "a", ["expandable_blockquote"]),
        ("&lt;&gt;&amp;&quot;&#65;&#x42;", '<>&"AB', []),
        ("<b>a<i>b</i></b>", "ab", ["bold", "italic"]),
        ("a > b", "a > b", []),
    ],
)
def test_right_markup_passes(server, html, text, kinds):
    async def say(bot: Bot) -> Message:
        return await bot.send_message(RIDER, html, parse_mode="HTML")

    told = talk(server, say)
    assert told.text == text
    assert [entity.type for entity in told.entities] == kinds


@pytest.mark.parametrize(
    ("text", "parse_mode", "fits"),
    [
        # PAGE, sendMessage: 1-4096 characters after entities parsing; in UTF-16 units: ours.
        ("x" * 4096, None, True),
        ("x" * 4097, None, False),
        ("🏍" * 2048, None, True),
        ("🏍" * 2049, None, False),
        ("&amp;" * 4096, "HTML", True),
        ("<b>" + "x" * 4096 + "</b>", "HTML", True),
        ("   \n ", None, False),
        ("<b></b>", "HTML", False),
        ("&amp;" * 6600, "HTML", False),
    ],
)
def test_the_length_that_counts_is_that_after_parsing(server, text, parse_mode, fits):
    async def say(bot: Bot) -> None:
        await bot.send_message(RIDER, text, parse_mode=parse_mode)

    if fits:
        talk(server, say)
        assert len(server.sent) == 1
    else:
        with pytest.raises(BadRequest, match=r"(too long|is empty)"):
            talk(server, say)
        assert server.sent == []


@pytest.mark.parametrize(
    ("data", "fits"),
    # PAGE, InlineKeyboardButton: callback_data of 1-64 bytes.
    [("x", True), ("x" * 64, True), ("x" * 65, False), ("ä" * 32, True), ("ä" * 33, False)],
)
def test_what_a_button_carries_is_counted_in_bytes(server, data, fits):
    async def say(bot: Bot) -> None:
        await bot.send_message(RIDER, "choose", reply_markup=keyboard(data))

    if fits:
        talk(server, say)
        assert server.sent[0].buttons[0]["callback_data"] == data
    else:
        with pytest.raises(BadRequest, match=r"(?i)BUTTON_DATA_INVALID"):
            talk(server, say)


@pytest.mark.parametrize(
    "markup",
    [
        {"inline_keyboard": [[{"text": "no data"}]]},
        {"inline_keyboard": [[{"text": "empty", "callback_data": ""}]]},
        {"inline_keyboard": [[{"text": " ", "callback_data": "x"}]]},
        {"inline_keyboard": [{"text": "not a row", "callback_data": "x"}]},
        {"inline_keyboard": [[{"text": "n", "callback_data": "n"}] * 101]},
        {"buttons": []},
        "{",
        "[]",
    ],
)
def test_a_wrong_keyboard_is_refused(server, markup):
    answer = ask(server, "sendMessage", chat_id=RIDER, text="x", reply_markup=markup)
    assert (answer["ok"], answer["error_code"]) == (False, 400)
    assert server.sent == []


@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_what_python_escapes_always_passes_and_reads_the_same(text):
    """Outside check: `html.escape` of the standard library makes any text harmless."""
    parsed = parse_text(
        {"text": escape(text), "parse_mode": "HTML"}, field="text", entities_field="entities"
    )
    assert parsed.text == text.strip()
    assert parsed.entities == []


@pytest.mark.parametrize("name", ["reply_parameters", "reply_markup", "entities"])
def test_arguments_that_are_no_json(server, name):
    answer = ask(server, "sendMessage", chat_id=RIDER, text="x", **{name: "{"})
    assert answer["error_code"] == 400
    assert server.sent == []


class TestEditing:
    def edit(self, server: BotApiServer, message_id: int, text: str, **more: Any) -> None:
        talk(
            server,
            lambda bot: bot.edit_message_text(text, chat_id=RIDER, message_id=message_id, **more),
        )

    def said(self, server: BotApiServer) -> int:
        return talk(
            server, lambda bot: bot.send_message(RIDER, "plan", reply_markup=keyboard("ok"))
        ).message_id

    def test_the_history_is_kept(self, server):
        number = self.said(server)
        self.edit(server, number, "new plan")
        (got,) = server.sent
        assert (got.text, got.shown.text, got.buttons) == ("plan", "new plan", [])
        assert got.edits[0].at >= got.at

    def test_what_changes_nothing_is_refused(self, server):
        number = self.said(server)
        with pytest.raises(BadRequest, match=r"(?i)message is not modified"):
            self.edit(server, number, "plan", reply_markup=keyboard("ok"))
        with pytest.raises(BadRequest, match=r"(?i)message is not modified"):
            talk(
                server,
                lambda bot: bot.edit_message_reply_markup(
                    chat_id=RIDER, message_id=number, reply_markup=keyboard("ok")
                ),
            )
        assert server.sent[0].edits == []

    def test_buttons_alone_can_go(self, server):
        number = self.said(server)
        talk(server, lambda bot: bot.edit_message_reply_markup(chat_id=RIDER, message_id=number))
        assert server.sent[0].buttons == []
        assert server.sent[0].shown.text == "plan"

    def test_what_is_not_there_or_not_ours(self, server):
        with pytest.raises(BadRequest, match=r"(?i)message to edit not found"):
            self.edit(server, 1, "x")
        theirs = server.user_says(RIDER, "mine")
        with pytest.raises(BadRequest, match="can't be edited"):
            self.edit(server, theirs, "x")

    def test_a_deleted_message_is_gone(self, server):
        number = self.said(server)
        talk(server, lambda bot: bot.delete_message(RIDER, number))
        assert server.sent[0].deleted_at is not None
        with pytest.raises(BadRequest, match=r"(?i)message to edit not found"):
            self.edit(server, number, "x")
        with pytest.raises(BadRequest, match=r"(?i)message to delete not found"):
            talk(server, lambda bot: bot.delete_message(RIDER, number))
        server.user_presses(RIDER, number, "ok", spoofed=True)
        (update,) = talk(server, Bot.get_updates)
        assert not update.callback_query.message.is_accessible


def test_a_reply_to_what_is_not_there_is_refused(server):
    with pytest.raises(BadRequest, match=r"(?i)message to be replied not found"):
        talk(server, lambda bot: bot.send_message(RIDER, "x", reply_to_message_id=1))


def test_chats_that_never_spoke_and_chats_that_shut_the_bot_out(server):
    with pytest.raises(BadRequest, match=r"(?i)chat not found"):
        talk(server, lambda bot: bot.send_message(9, "x"))
    server.user_blocks(RIDER)
    with pytest.raises(Forbidden, match="bot was blocked by the user"):
        talk(server, lambda bot: bot.send_message(RIDER, "x"))
    (told,) = talk(server, Bot.get_updates)
    assert told.my_chat_member.new_chat_member.status == "kicked"
    server.user_unblocks(RIDER)
    talk(server, lambda bot: bot.send_message(RIDER, "x"))
    assert len(server.sent) == 1


class TestPressing:
    def pressed(self, server: BotApiServer) -> str:
        said = talk(server, lambda bot: bot.send_message(RIDER, "?", reply_markup=keyboard("y")))
        return server.user_presses(RIDER, said.message_id, "y")

    def test_only_buttons_that_are_there(self, server):
        self.pressed(server)
        number = server.sent[0].message_id
        with pytest.raises(AssertionError, match="no such button"):
            server.user_presses(RIDER, number, "n")
        server.user_presses(RIDER, number, "n", spoofed=True)
        assert len(server.pending) == 2

    def test_unknown_and_old_presses_cannot_be_answered(self, server):
        query = self.pressed(server)
        talk(server, lambda bot: bot.answer_callback_query(query))
        for asked, lifetime in (("1", None), (query, 0.0)):
            server.world.callback_lifetime = lifetime
            with pytest.raises(BadRequest, match=r"(?i)query is too old"):
                talk(server, lambda bot, asked=asked: bot.answer_callback_query(asked))

    def test_a_long_answer(self, server):
        query = self.pressed(server)  # PAGE, answerCallbackQuery: 0-200 characters
        with pytest.raises(BadRequest):
            talk(server, lambda bot: bot.answer_callback_query(query, "x" * 201))
        talk(server, lambda bot: bot.answer_callback_query(query, "x" * 200))


class TestSendingFiles:
    def test_a_picture_with_its_caption(self, server):
        said = talk(
            server,
            lambda bot: bot.send_photo(RIDER, PNG_2_BY_1, "<b>day</b>", parse_mode="HTML"),
        )
        (got,) = server.sent
        assert (said.photo[0].width, said.photo[0].height) == (2, 1)
        assert (got.kind, got.text, said.caption) == ("photo", "day", "day")
        assert server.content_of(got) == PNG_2_BY_1

    def test_a_document_keeps_every_byte(self, server):
        content = b"\r\n--\r\n\x00\xff\r\n"
        said = talk(server, lambda bot: bot.send_document(RIDER, content, filename="Tag ä.gpx"))
        assert said.document.file_name == "Tag ä.gpx"
        assert server.content_of(server.sent[0]) == content

    @pytest.mark.parametrize(("length", "fits"), [(1024, True), (1025, False)])
    def test_captions(self, server, length, fits):  # PAGE: 0-1024 characters after parsing
        def send(bot: Bot) -> Any:
            return bot.send_document(RIDER, b"x", caption="c" * length, filename="a.gpx")

        if fits:
            talk(server, send)
        else:
            with pytest.raises(BadRequest, match="caption is too long"):
                talk(server, send)
        assert len(server.sent) == fits

    def test_pictures_that_are_none_or_too_long(self, server):
        ribbon = PNG_2_BY_1[:16] + bytes([0, 0, 0, 21, 0, 0, 0, 1])
        for picture in (b"not a picture", ribbon):  # PAGE, sendPhoto: ratio at most 20
            with pytest.raises(BadRequest):
                talk(server, lambda bot, picture=picture: bot.send_photo(RIDER, picture))
        assert server.sent == []

    def test_the_text_of_a_picture_cannot_be_edited_as_text(self, server):
        said = talk(server, lambda bot: bot.send_photo(RIDER, PNG_2_BY_1, "day"))
        with pytest.raises(BadRequest, match="no text in the message to edit"):
            talk(
                server,
                lambda bot: bot.edit_message_text("x", chat_id=RIDER, message_id=said.message_id),
            )


class TestTokens:
    def test_a_wrong_token_and_a_malformed_one(self, server):
        # The library's own comment on what the service does: 404 malformed, 401 not valid.
        for token, status in (("1:" + "x" * 35, 401), ("nonsense", 404), ("1:short", 404)):
            answer = requests.get(f"{server.base_url}{token}/getMe", timeout=10)
            assert (answer.status_code, answer.json()["error_code"]) == (status, status)

    def test_the_library_takes_it_for_an_invalid_token(self, server):
        async def start() -> None:
            async with bot_for(server, token="1:" + "x" * 35):
                pass

        with pytest.raises(InvalidToken):
            asyncio.run(start())

    def test_files_need_the_token_too(self, server):
        server.user_sends_file(RIDER, "a.gpx", b"x")
        path = next(iter(server.world.files.values())).path
        good = requests.get(f"{server.base_file_url}{TOKEN}/{path}", timeout=10)
        bad = requests.get(f"{server.base_file_url}1:{'x' * 35}/{path}", timeout=10)
        away = requests.get(f"{server.base_file_url}{TOKEN}/../server.py", timeout=10)
        assert (good.content, bad.status_code, away.status_code) == (b"x", 401, 404)

    def test_an_unknown_method(self, server):
        answer = ask(server, "sendLove")
        assert answer == {
            "ok": False,
            "error_code": 404,
            "description": "Not Found: method not found",
        }

    def test_methods_in_any_case_and_by_get(self, server):
        asked = {"chat_id": RIDER, "text": "hi"}
        url = f"{server.base_url}{TOKEN}/SENDMESSAGE"  # PAGE: method names are case-insensitive
        assert requests.get(url, params=asked, timeout=10).json()["ok"]
