"""The token is in no log: not in addresses, not in tracebacks, not in what the library shows.

The form of a token: core.telegram.org/bots/features#generating-an-authentication-token.
"""

import asyncio
import io
import logging

import pytest

from replanner.channels.telegram.redaction import RedactingFormatter, redacted
from tests.botapi.client import RIDER, bot_for
from tests.botapi.server import TOKEN, BotApiServer

PUBLISHED = "4839574812:AAFD39kkdpWt3ywyRZergyOLMaJhac60qcK"  # the documentation's example


@pytest.mark.parametrize("token", [PUBLISHED, TOKEN])
def test_a_token_is_taken_out_wherever_it_stands(token: str) -> None:
    for text in (f"/bot{token}/getMe", f"Bot[token={token}]", f"({token})", token):
        assert token not in redacted(text)
        assert token.split(":")[1] not in redacted(text)


@pytest.mark.parametrize("text", ["12:30 leave", "2027-04-01T19:30:00+13:00", "port 8377: taken"])
def test_what_is_none_stays(text: str) -> None:
    assert redacted(text) == text


def test_a_debug_log_of_the_real_library_holds_no_token(server: BotApiServer) -> None:
    heard = io.StringIO()
    handler = logging.StreamHandler(heard)
    handler.setFormatter(RedactingFormatter("%(levelname)s %(name)s %(message)s"))
    root = logging.getLogger()
    level = root.level
    root.addHandler(handler)
    root.setLevel(logging.DEBUG)
    try:

        async def act() -> None:
            async with bot_for(server) as bot:
                await bot.send_message(RIDER, "hello")
                log = logging.getLogger("test")
                log.debug("%r %s", bot, bot.base_url)
                try:
                    int(bot.base_file_url)
                except ValueError:
                    log.exception("failed at %s", bot.token)

        asyncio.run(act())
    finally:
        root.removeHandler(handler)
        root.setLevel(level)
    told = heard.getvalue()
    assert "[token]" in told
    assert "ValueError" in told
    assert "sendMessage" in told  # the library logs every call, with what it sends
    assert TOKEN not in told
    assert TOKEN.split(":")[1] not in told
