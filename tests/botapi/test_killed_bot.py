"""The bot is killed, the service lives on: what a crash test needs of the server."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.botapi.client import RIDER
from tests.botapi.control import ROOT, ApiProcess, read_journal
from tests.botapi.state import Json

START = 30.0  # how long a process may take to start on a busy machine [s]

# A bot that says the number of each update it gets; then it sits still, or confirms and waits.
ECHO = """
import asyncio, sys
from tests.botapi.client import bot_for

class Address:
    token, base_url, base_file_url = sys.argv[1:4]

async def main():
    async with bot_for(Address) as bot:
        offset = None
        while True:
            for update in await bot.get_updates(offset=offset, timeout=50):
                await bot.send_message(update.effective_chat.id, f"got {update.update_id}")
                offset = update.update_id + 1
            if sys.argv[4] == "sits":
                await asyncio.sleep(600)

asyncio.run(main())
"""


@contextmanager
def doomed_bot(server: ApiProcess, then: str) -> Iterator[None]:
    """A bot in a process of its own that is killed at the end."""
    address = [server.token, server.base_url, server.base_file_url]
    bot = subprocess.Popen(  # noqa: S603 - our own lines
        [sys.executable, "-W", "error", "-c", ECHO, *address, then], cwd=ROOT
    )
    try:
        yield
    finally:
        bot.kill()
        bot.wait()


def test_updates_outlive_a_killed_bot_and_its_successor_is_let_in(tmp_path: Path):
    journal = tmp_path / "journal.jsonl"
    with ApiProcess(journal) as server:
        server.user_says(RIDER, "one")
        with doomed_bot(server, "sits"):  # killed before it confirmed
            (first,) = server.wait_for_sent(RIDER, 1, START)
        with doomed_bot(server, "waits"):  # gets the same again; killed while its poll waits
            server.wait_for_sent(RIDER, 2, START)
            server.wait_until_confirmed()
        with doomed_bot(server, "waits"):
            server.user_says(RIDER, "two")
            last = server.wait_for_sent(RIDER, 3, START)[-1]
    texts = [event["versions"][0]["text"] for event in read_journal(journal) if is_sent(event)]
    assert texts == [first.text, first.text, last.text]
    assert first.text != last.text


def is_sent(event: Json) -> bool:
    return event["event"] == "sent"
