"""Talking through the Telegram Bot API: what arrives is put on record, what is posted is sent."""

import os

# Spans of time as timedelta, as the library will give them from its next version on: it warns at
# each one until it is told so (python-telegram-bot 22.2, "deprecated").
os.environ.setdefault("PTB_TIMEDELTA", "true")
