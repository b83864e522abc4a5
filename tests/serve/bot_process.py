"""The bot as a process of its own, on a clock set by the test: `python -m tests.serve.bot_process`.

Everything else is as `replanner serve` runs it.
"""

import asyncio
import logging
import os
import sys
from datetime import UTC, datetime

os.environ["PTB_TIMEDELTA"] = "true"  # the library warns of it otherwise

from replanner.files.settings import load_settings, read_token
from replanner.serving import serve, start_logging


def main() -> None:
    """Run until SIGTERM; the first argument is the instant it is now."""
    begun_at, begun = datetime.fromisoformat(sys.argv[1]), datetime.now(UTC)
    settings = load_settings()
    start_logging(getattr(logging, os.environ.get("TEST_LOG_LEVEL", "INFO")))
    asyncio.run(
        serve(
            settings, read_token(settings.service), lambda: begun_at + (datetime.now(UTC) - begun)
        )
    )


if __name__ == "__main__":
    main()
