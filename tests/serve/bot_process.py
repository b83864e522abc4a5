"""The bot as a process of its own, on a clock set by the test: `python -m tests.serve.bot_process`.

Everything else is as `replanner serve` runs it, unless `TEST_PLANS` names a folder: plans are then
made once and taken from there (`recorded`).
"""

import asyncio
import logging
import os
import sys
import traceback
from datetime import UTC, datetime

from replanner import making
from replanner.files.settings import load_settings, read_token
from replanner.serving import serve, start_logging
from tests.serve.recorded import PLANS_VARIABLE, recorded


def import_all() -> None:
    """Import and read what plans need, too: for those who are forked."""
    making._limits()


def live(begun_at: datetime) -> None:
    """Run until SIGTERM; it is `begun_at` now."""
    begun = datetime.now(UTC)
    if PLANS_VARIABLE in os.environ:
        making.plan = recorded(making.plan)
    settings = load_settings()
    start_logging(getattr(logging, os.environ.get("TEST_LOG_LEVEL", "INFO")))

    def now() -> datetime:
        return begun_at + (datetime.now(UTC) - begun)

    try:
        asyncio.run(serve(settings, read_token(settings.service), now))
    except BaseException:
        traceback.print_exc()
        raise


if __name__ == "__main__":
    live(datetime.fromisoformat(sys.argv[1]))
