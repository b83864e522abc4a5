"""The bot as a process of its own, on a clock set by the test: `python -m tests.serve.bot_process`.

Everything else is as `replanner serve` runs it, unless `TEST_PLANS` names a folder: plans are then
made once and taken from there (`recorded`); and with `TEST_HASTE` it waits a tenth as long before
it tries again and between two messages to a chat, so that hundreds of lives fit into minutes.

Workers import this module again, as they do the `replanner` command: it imports little by itself.
"""
# ruff: noqa: PLC0415 - said above

import asyncio
import importlib
import logging
import os
import sys
import traceback
from datetime import UTC, datetime

HASTE_VARIABLE = "TEST_HASTE"


def import_all() -> None:
    """Import what plans need, too: for those who are forked. Nothing is read yet."""
    from replanner import making

    for name in ("replanner.serving", *making.IMPORTS, "tests.serve.recorded"):
        importlib.import_module(name)


def live(begun_at: datetime, begun: datetime | None = None) -> None:
    """Run until SIGTERM; it was `begun_at` when the clock on the wall said `begun`, else now."""
    from replanner import making, serving
    from replanner.files.settings import load_settings, read_token
    from tests.serve import recorded

    begun = begun or datetime.now(UTC)
    kept = recorded.PLANS_VARIABLE in os.environ
    making.plan = recorded.plan if kept else recorded.fresh
    if HASTE_VARIABLE in os.environ:
        _hasten()
    settings = load_settings()
    serving.start_logging(getattr(logging, os.environ.get("TEST_LOG_LEVEL", "INFO")))

    def now() -> datetime:
        return begun_at + (datetime.now(UTC) - begun)

    try:
        asyncio.run(serving.serve(settings, read_token(settings.service), now))
    except BaseException:
        traceback.print_exc()
        raise


def _hasten() -> None:
    from replanner import serving
    from replanner.channels.telegram import poller, sender

    serving._FIRST_PAUSE /= 10
    poller._FIRST_PAUSE /= 10
    sender._FIRST_BACKOFF /= 10
    sender._CHAT_RESTS /= 10


if __name__ == "__main__":
    live(*(datetime.fromisoformat(told) for told in sys.argv[1:3]))
