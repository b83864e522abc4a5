"""Keeping the token out of every log: libraries write addresses and objects that hold it."""

import logging
import re

# <bot number>:<secret>, as the Bot API documentation shows one.
_TOKEN = re.compile(r"(?<!\d)\d{3,12}:[\w-]{20,}")
_HIDDEN = "[token]"


def redacted(text: str) -> str:
    """Return a text without any token.

    Examples
    --------
    >>> redacted("GET /bot12345:AAbbCCddEEffGGhhIIjj-k/getMe")
    'GET /bot[token]/getMe'
    """
    return _TOKEN.sub(_HIDDEN, text)


class RedactingFormatter(logging.Formatter):
    """Formats as usual, then takes tokens out: of the message and of a traceback alike."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the line, or lines, without a token."""
        return redacted(super().format(record))
