"""The server's figures against those the client library took from the documentation."""

import pytest
from telegram import constants

from tests.botapi import facts
from tests.botapi.limits import Limits


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (facts.TEXT_UNITS, constants.MessageLimit.MAX_TEXT_LENGTH),
        (facts.CAPTION_UNITS, constants.MessageLimit.CAPTION_LENGTH),
        (facts.CALLBACK_DATA_BYTES, constants.InlineKeyboardButtonLimit.MAX_CALLBACK_DATA),
        (facts.INLINE_BUTTONS, constants.InlineKeyboardMarkupLimit.TOTAL_BUTTON_NUMBER),
        (
            facts.CALLBACK_ANSWER_UNITS,
            constants.CallbackQueryLimit.ANSWER_CALLBACK_QUERY_TEXT_LENGTH,
        ),
        (facts.UPDATES_AT_ONCE, constants.PollingLimit.MAX_LIMIT),
        (facts.DOWNLOAD_BYTES >> 20, constants.FileSizeLimit.FILESIZE_DOWNLOAD // 1_000_000),
        (facts.UPLOAD_BYTES, constants.FileSizeLimit.FILESIZE_UPLOAD),
        (facts.PHOTO_BYTES, constants.FileSizeLimit.PHOTOSIZE_UPLOAD),
        (facts.COMMANDS, constants.BotCommandLimit.MAX_COMMAND_NUMBER),
        (facts.COMMAND_UNITS, constants.BotCommandLimit.MAX_COMMAND),
        (facts.COMMAND_DESCRIPTION_UNITS, constants.BotCommandLimit.MAX_DESCRIPTION),
        (Limits().overall_per_second, constants.FloodLimit.MESSAGES_PER_SECOND),
        (Limits().chat_per_second, constants.FloodLimit.MESSAGES_PER_SECOND_PER_CHAT),
        (Limits().group_per_minute, constants.FloodLimit.MESSAGES_PER_MINUTE_PER_GROUP),
    ],
)
def test_figures(ours, theirs):
    assert ours == int(theirs)


def test_chat_actions():
    assert {str(action.value) for action in constants.ChatAction} == facts.CHAT_ACTIONS
