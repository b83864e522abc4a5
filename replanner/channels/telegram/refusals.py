"""What the service says no with."""

from datetime import timedelta

from telegram.error import RetryAfter


def span(error: RetryAfter) -> timedelta:
    """Return how long the service wants nothing from us."""
    wait = error.retry_after
    return wait if isinstance(wait, timedelta) else timedelta(seconds=wait)
